"""Which way the journeys of a batch are computed: as products where they are linear, or marched.

Of a batch that is multiplied some cases are marched, too: those with the least and the greatest of
some metrics, and some at random. Those of which any metric differs by more than the product's
error, AGREE times the march's and BESIDE are marched once more, twice as fine; where they differ
still, the whole batch is marched.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from tailrace.journey.foretelling import march_seconds
from tailrace.journey.migration import not_by_products
from tailrace.journey.product import LANES
from tailrace.journey.propagation import spread
from tailrace.measures.registry import APEX, METRICS, PLATES, TAILING, VARIANCE, WIDTH
from tailrace.parts.base import Passages
from tailrace.quantities.arrays import BoolArray, FloatArray, IntArray
from tailrace.quantities.described import described
from tailrace.studies.batch import PRODUCT, Batch, Metrics, reason_of
from tailrace.studies.cases import joined, kin

FEWEST, FEWEST_LONG = 64, 8
"""Cases of a batch; of fewer so many would be marched as a check that all are. The second where a
march is long."""
LONG, MARCHES_LONG = 2.0, 4
"""s of one processor from which a march is long; marches of the first batch on a path then."""
LOOKED_AT = 1000
"""Cases of a batch of which it is foretold how long their transfer functions take."""
AT_RANDOM, FURTHER = 6, 2
"""Of the first batch on a path, and of each further one, of whose extremes only those are marched
that lie beyond what was before. Where a march is long: 2, none; and the extremes of the width
alone."""
EXTREMES, FINER = (WIDTH, PLATES, TAILING), 2.0
AGREE, BESIDE = 4.0, 1e-4
"""The error is an estimate that falls short of now and then; the second is of the metric, or of the
width where an error is a share of that. Both are our own choice."""


@dataclass(frozen=True, kw_only=True)
class Engine:
    """How the journeys of a study were computed, and how products compare with marches."""

    multiplied: int = described("journeys computed as products of transfer functions", default=0)
    marched: int = described("journeys marched because they are no products", default=0)
    unresolved: int = described(
        "journeys marched because as products they are not known well enough", default=0
    )
    compared: int = described("products marched as well", default=0)
    metric: str = described("metric in which product and march differ most", "", default="")
    difference: float = described(
        "largest difference of product and march, over the metric", default=0.0
    )
    error: float = described(
        "discretisation error of the march there, over the metric", default=0.0
    )
    reason: str = described("why journeys were marched", "", default="")

    def beside(self, other: "Engine") -> "Engine":
        """Both together: the larger difference counts."""
        worse = self if self.difference >= other.difference else other
        return Engine(
            multiplied=self.multiplied + other.multiplied,
            marched=self.marched + other.marched,
            unresolved=self.unresolved + other.unresolved,
            compared=self.compared + other.compared,
            metric=worse.metric,
            difference=worse.difference,
            error=worse.error,
            reason=self.reason or other.reason,
        )


def against_products(batch: Batch) -> str:
    """Why a batch is marched, as far as it can be said beforehand: a clause; empty if it is not."""
    few = len(batch.itineraries)
    if batch.engine == PRODUCT or few < FEWEST_LONG or (few < FEWEST and not is_long(batch)):
        return "too few to check"
    passages = spread(batch.itineraries[0])
    return not_by_products(passages, many=True) or _dearer(passages, batch)


def _dearer(passages: Passages, batch: Batch) -> str:
    """Which part's transfer functions take longer to solve for than all marches: a clause."""
    solved = solving(batch)
    whole, resolution = sum(solved.values()), batch.itineraries[0].resolution
    if not whole or len(batch.itineraries) * march_seconds(passages, resolution, False) > whole:
        return ""
    name = max(solved, key=lambda one: solved[one])
    return f"to solve for the bends of {name} takes longer than {len(batch.itineraries)} marches"


def solving(batch: Batch) -> dict[str, float]:
    """s of one processor, about, to solve for the transfer functions of each part, where any are:
    many cases ask for hardly more than some of them."""
    found = dict[str, float]()
    if not any(part.solving_seconds(stream) for part, stream in spread(batch.itineraries[0])):
        return found
    count = len(batch.itineraries)
    some = batch.picked(np.unique(np.linspace(0, count - 1, LOOKED_AT).astype(int)).tolist())
    for cases in kin(some):
        for part, stream in spread(joined([some[case] for case in cases])):
            seconds = part.solving_seconds(stream)
            found[part.name] = found.get(part.name, 0.0) + seconds
    return found


def is_long(batch: Batch) -> bool:
    """Whether a march of one of its cases takes LONG, as those through bends do."""
    first = batch.itineraries[0]
    return march_seconds(spread(first), first.resolution) > LONG


def as_products(batch: Batch) -> Batch:
    """The same batch to be multiplied."""
    flat = batch.flat()
    return replace(flat, name=f"{batch.name}-products", lanes=LANES, engine=PRODUCT)


def sample_of(
    batch: Batch, metrics: Metrics, marched: dict[tuple[str, bool], float]
) -> tuple[Batch, IntArray]:
    """Some cases of a batch that was multiplied, to be marched; and which they are.

    ``marched``: extremes of batches before on such a path, which are known to agree; those of this
    one are put in.
    """
    long = is_long(batch)
    least, further = (MARCHES_LONG - 2, 0) if long else (AT_RANDOM, FURTHER)
    picked, count = set[int](), further if marched else least
    sound = np.flatnonzero(metrics["computed"])
    for name in EXTREMES[:1] if long else EXTREMES:
        values = np.asarray(metrics[f"recorded/{name}"], dtype=float)[sound]
        if not np.isfinite(values).any():
            continue
        for greatest, find in ((False, np.nanargmin), (True, np.nanargmax)):
            at = int(find(values))
            found = float(values.flat[at])
            before = marched.get((name, greatest), -np.inf if greatest else np.inf)
            if found > before if greatest else found < before:
                marched[name, greatest] = found
                picked.add(int(sound[at // values.shape[1]]))
    some = np.random.default_rng(len(batch.itineraries)).permutation(sound)
    picked |= set(some[:count].tolist())
    cases = np.array(sorted(picked), dtype=np.int64)
    lanes = -(-cases.size // 2) * len(batch.itineraries[0].lanes)  # two blocks
    return batch.some("sample", cases, lanes), cases


def once_more(sample: Batch, cases: IntArray) -> Batch:
    """Some cases of a sample to be marched on grids twice as fine: errors are estimates."""
    finer = sample.some("finer", cases, sample.lanes)
    grids = [
        replace(one.resolution, refinement=FINER * one.resolution.refinement)
        for one in finer.itineraries
    ]
    pairs = zip(finer.itineraries, grids, strict=True)
    itineraries = tuple(replace(one, resolution=grid) for one, grid in pairs)
    return replace(finer, itineraries=itineraries)


def check_of(metrics: Metrics, own: Metrics, marched: Metrics) -> Engine:
    """Compare products (``own``: of some cases) with marches of the same; of those and all others
    of a batch ``metrics`` say whether they could be computed."""
    count, sound = len(metrics["computed"]), int(np.sum(metrics["computed"]))
    if not sound:
        return Engine(marched=count, reason=reason_of(metrics, 0))
    worst = Engine(multiplied=sound, unresolved=count - sound)
    if not marched:
        return worst
    worst = replace(worst, compared=len(marched["computed"]))
    for name, relative, share, beyond in _compared(own, marched):
        if not np.isfinite(relative).any():
            continue
        at = np.unravel_index(int(np.nanargmax(relative)), relative.shape)
        if relative[at] > worst.difference:
            error = float(share[at])
            worst = replace(worst, metric=name, difference=float(relative[at]), error=error)
        if beyond.any():
            label = METRICS[name].label
            reason = f"products and marches differ in {label} by more than foreseen"
            return replace(worst, multiplied=0, unresolved=0, marched=count, reason=reason)
    return worst


def differing(own: Metrics, marched: Metrics) -> IntArray:
    """Places of those cases of which product and march differ by more than foreseen."""
    beyond = [beyond.any(axis=1) for *_, beyond in _compared(own, marched)]
    return np.flatnonzero(np.any(beyond, axis=0))


def _compared(
    own: Metrics, marched: Metrics
) -> Iterator[tuple[str, FloatArray, FloatArray, BoolArray]]:
    """Each metric; its differences and the march's errors, relative; where there is too much."""
    width = np.sqrt(np.maximum(marched[f"recorded/{VARIANCE}"], 0.0))
    for name, metric in METRICS.items():
        if f"numerical_error/{name}" not in marched or f"recorded/{name}" not in own:
            continue
        value = np.asarray(marched[f"recorded/{name}"], dtype=float)
        error = np.asarray(marched[f"numerical_error/{name}"], dtype=float)
        apart = np.abs(np.asarray(own[f"recorded/{name}"], dtype=float) - value)
        size = width if metric.relative_to == "width" else np.abs(value)
        if metric.relative_to == "one":  # of a skewness near zero a share says nothing
            size = np.maximum(size, 1.0)
        if metric.relative_to == "hold_up":
            size = width * (1 + value) / np.abs(marched[f"recorded/{APEX}"])
        with np.errstate(invalid="ignore", divide="ignore"):
            relative, share = (np.where(size > 0, one / size, 0.0) for one in (apart, error))
        known = np.asarray(own[f"numerical_error/{name}"], dtype=float)
        yield name, relative, share, apart > AGREE * error + known + BESIDE * size
