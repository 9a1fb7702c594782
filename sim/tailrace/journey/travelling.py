"""Making a journey: the bands, finely and coarsely, and what they say."""

from collections.abc import Callable
from dataclasses import replace
from itertools import count

from tailrace.journey.evaluation import evaluate
from tailrace.journey.itinerary import Itinerary
from tailrace.journey.propagation import propagate, spread
from tailrace.journey.regained import regained, steps
from tailrace.journey.result import Result
from tailrace.measures.registry import APEX


def travel(
    itinerary: Itinerary,
    progress: Callable[[int, int], object] | None = None,
    *,
    blame: bool = False,
) -> Result:
    """Send every lane through the whole path, twice, and say how far the metrics can be trusted.

    ``progress``: called as ``progress(done, total)`` after each part; ``blame``: whether to find
    what would come back if each part were ideal, too. Raises BudgetError if the journey would take
    more memory or time than the parts allow themselves. Raises AccuracyError if a part could not be
    computed to the end.
    """
    passages, done = spread(itinerary), count(1)

    def counted() -> None:
        if progress is not None:
            progress(next(done), 2 * len(passages) + blame * steps(passages))

    # the coarse journey first: what it takes foretells what the fine one will
    rough = itinerary.resolution.coarser()
    coarse = propagate(passages, rough, counted)
    fine = propagate(passages, itinerary.resolution, counted)
    result = evaluate(itinerary, fine, coarse)
    if not blame:
        return result
    own = None if result.column_alone is None else result.column_alone[APEX]
    journeys = ((coarse, rough), (fine, itinerary.resolution))
    back = regained(passages, result.recorded, journeys, own, counted)
    return replace(result, regained=back)
