"""A scenario under sliders: every position travelled, with its figures and its curves."""

import math
import tomllib
from dataclasses import dataclass

import numpy as np

from tailrace.errors import BudgetError, TailraceError
from tailrace.journey import Result, travel
from tailrace.quantities.parse import parse
from tailrace.scenario.problems import unknown
from tailrace.studies.cases import axes_of, choices
from tailrace.studies.journeys import (
    UNCOMPUTED,
    figures_of_all,
    gathered,
    in_threads,
    not_computed,
)
from tailrace.studies.knots import Knots, knots
from tailrace.studies.lanes import figures_of, joined
from tailrace.studies.sweeping import Sweep, planned

MOST_SLIDERS = 3
"""More at once nobody keeps apart."""
MOST_BYTES = 3_000_000
"""Of a page; files of this size are still mailed and opened without a thought."""
BYTES, BYTES_OF_PART = 1200, 30
"""What one solute at one position takes on a page: two curves and figures, and more a part."""


class SliderError(TailraceError):
    """The sliders cannot be made so; the message says what to change."""


@dataclass(frozen=True, kw_only=True)
class Sliders:
    """All positions of some sliders.

    Parameters
    ----------
    sweep : Sweep
        Figures of every position; the last slider changes fastest.
    asked : tuple of str
        Each slider as it was asked for.
    shown : tuple of int
        The solutes that are shown, as lanes of a case.
    recorded, own : tuple of tuple of Knots
        By position and shown solute, the recorded peak and the column's own; None where there is
        none.
    """

    sweep: Sweep
    asked: tuple[str, ...]
    shown: tuple[int, ...]
    recorded: tuple[tuple[Knots | None, ...], ...]
    own: tuple[tuple[Knots | None, ...], ...]

    @property
    def positions(self) -> list:
        """The place on each slider, tuple of int, by position."""
        return choices(self.sweep.plan.axes)

    @property
    def solutes(self) -> tuple[str, ...]:
        """Names of the solutes that are shown."""
        return tuple(self.sweep.solutes[lane] for lane in self.shown)

    def computed(self, position) -> bool:
        """Whether the position (int) could be computed."""
        return bool(self.sweep.figures["computed"][position])

    def result(self, position) -> Result:
        """Figures of one position (int), without bands."""
        return self.sweep.case(position)


def sliders(scenario, slide, solutes=(), progress=None) -> Sliders:
    """Travel every position of some sliders.

    Parameters
    ----------
    scenario : Scenario
    slide : sequence of str
        One to MOST_SLIDERS texts such as ``"inlet tube.length = 50 mm .. 500 mm, 8 points"``; see
        ``tailrace.studies.axis.axis``.
    solutes : sequence of str
        Names of those to be shown; all of them where it is empty.
    progress : callable, optional
        Called as ``progress(done, total)`` with numbers of positions.

    Returns
    -------
    Sliders

    Raises
    ------
    SliderError, StudyError, ScenarioError, BudgetError
        For a wrong slider, solute or position, or for more than fit, before anything is computed.
    AccuracyError
        Where no position at all can be computed.
    """
    shown = _checked(scenario, slide, solutes)
    plan = planned(scenario, slide)
    curves = {}
    figures = figures_of_all(plan.journeys, plan.where, None, progress, _carrier(shown, curves))
    lines = [None] * len(plan.itineraries)
    for index, block in enumerate(plan.journeys.blocks):
        for case, line in zip(block, curves[index], strict=True):
            lines[case] = line
    return Sliders(
        sweep=Sweep(plan=plan, figures=figures),
        asked=tuple(slide),
        shown=shown,
        recorded=tuple(recorded for recorded, _ in lines),
        own=tuple(own for _, own in lines),
    )


def _checked(scenario, slide, solutes):
    """The solutes that are shown, as lanes, if everything asked for fits on a page."""
    if len(slide) > MOST_SLIDERS:
        raise SliderError(
            f"--slide: expected at most {MOST_SLIDERS} sliders, found {len(slide)}; leave some out"
        )
    itinerary = scenario.itinerary()
    names = itinerary.lanes
    for name in solutes:
        if name not in names:
            raise SliderError(f"--solute: {unknown('solute', name, names)}")
    shown = tuple(lane for lane, name in enumerate(names) if not solutes or name in solutes)
    # To check every position of far too many takes long, and no longer matters.
    positions = math.prod(len(one) for one in axes_of(scenario, slide))
    most = MOST_BYTES // (len(shown) * (BYTES + BYTES_OF_PART * len(itinerary.passages)))
    if positions > most:
        raise too_many(most, positions)
    return shown


def textbook(result, lane):
    """The peak by the usual sum of variances.

    Parameters
    ----------
    result : Result
    lane : int

    Returns
    -------
    mean, variance : float, s and s^2
        Sums over all parts, a gradient's focusing taken off as in ``variance_recorded``; NaN where
        a part has no such variance.
    """
    mean, variance = 0.0, 0.0
    for part in result.parts:
        left = 1 - np.broadcast_to(part.gradient_focusing, np.shape(part.mean_simulated))[lane]
        said = part.variance_gaussian_theory[lane]
        variance += float(said if np.isnan(left) else said * left)
        mean += float(part.mean_closed_form[lane])
    return mean, variance


def too_many(most, found) -> BudgetError:
    """The error for more positions than a page holds; ``most`` and ``found`` are numbers."""
    return BudgetError(
        f"--slide: expected at most {most} positions, which fill a page of "
        f"{MOST_BYTES / 1e6:g} MB, found {found}; use fewer points, or fewer solutes with --solute"
    )


def start(scenario, one) -> int:
    """Where a slider stands at first: nearest to what the scenario says.

    Parameters
    ----------
    scenario : Scenario
    one : Axis

    Returns
    -------
    int
        0 where the scenario leaves the field out.
    """
    value = tomllib.loads(scenario.text)
    try:
        for key in one.target.place:
            value = value[key]
    except KeyError:
        return 0
    if one.unit == "":
        return one.written.index(value) if value in one.written else 0
    number = value if one.target.kind == "number" else parse(value, one.target.kind)
    return int(np.argmin(np.abs(one.values - number)))


def _carrier(shown, curves):
    """A way to carry blocks that keeps curves by the way, in ``curves`` by number of the block."""

    def carry(blocks):
        for index, done in in_threads(blocks, lambda block: _travelled(block, shown)):
            figures, curves[index] = done
            yield index, figures

    return carry


def _travelled(itineraries, shown):
    """Figures of a block, and for each case its curves; alone where they cannot go together."""
    try:
        result = travel(joined(itineraries))
    except UNCOMPUTED as error:
        if len(itineraries) == 1:
            nothing = (None,) * len(shown)
            return not_computed(error), [(nothing, nothing)]
        alone = [_travelled([one], shown) for one in itineraries]
        figures = gathered([one for one, _ in alone], [(case,) for case in range(len(alone))])
        return figures, [line for _, lines in alone for line in lines]
    return figures_of(result, itineraries), _curves(result, itineraries, shown)


def _curves(result, itineraries, shown):
    """Recorded and own peaks of each case, by shown solute."""
    last = itineraries[0].passages[-1][0]
    by_points = last.by_points
    each, lines = len(itineraries[0].lanes), []
    for case in range(len(itineraries)):
        lanes = [case * each + lane for lane in shown]
        recorded = tuple(knots(result.recorded_band, lane, by_points) for lane in lanes)
        own = tuple(
            None if result.column_band is None else knots(result.column_band, lane)
            for lane in lanes
        )
        lines.append((recorded, own))
    return lines
