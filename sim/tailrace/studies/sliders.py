"""Sliders with stops: every position travelled beforehand, and curves as few knots."""

import math
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np

from tailrace.errors import BudgetError, TailraceError
from tailrace.journey import Result
from tailrace.journey.evaluation import column_alone_errors
from tailrace.journey.propagation import spread
from tailrace.quantities.arrays import AnyArray, FloatArray, IntArray
from tailrace.quantities.parse import parse
from tailrace.scenario.problems import unknown
from tailrace.scenario.scenario import Scenario
from tailrace.signals.band import Band
from tailrace.signals.cubic import sample
from tailrace.studies.axes import Axis, axes_of, choices
from tailrace.studies.batch import Batch, Block, Metrics
from tailrace.studies.cases import joined
from tailrace.studies.lanes import band_of
from tailrace.studies.runner import Runner
from tailrace.studies.sweeping import Sweep, answer, plan

TOLERANCE = 8e-4
"""Of the height: so far the straight lines may be from the curve."""
FLOOR = 2.5e-4
"""Of the height: below it both ends of the curve are left out."""
MOST_REFINED = 16
"""Points for one sample, at most."""
CURVES, OWN_ERROR = "curves/", "own_error/"
"""What names of metrics begin with that only a page has."""


@dataclass(frozen=True, kw_only=True)
class Knots:
    """Points that straight lines join.

    Parameters
    ----------
    start, step : float, s
        Of the even grid on which the points stand.
    places : (points,) array of int, steps from the start
        The first is 0.
    heights : (points,) array, 1/s
        Zero at both ends, as the curve is taken to be beyond.
    """

    start: float
    step: float
    places: IntArray
    heights: FloatArray

    @property
    def times(self) -> FloatArray:
        """(points,) array, s."""
        return self.start + self.step * self.places.astype(float)


def knots(band: Band, lane: int, recorded: bool = False) -> Knots | None:
    """Few points of one lane that straight lines join within TOLERANCE.

    ``recorded``: true: the samples are what a recorder wrote down, and straight lines join them.
    False: the cubic through four neighbours joins them. None for a signal that is nowhere positive.

    Notes
    -----
    The farthest point of each stretch becomes a knot until none is too far: the method of Ramer
    (1972) and of Douglas and Peucker (1973), with distances upright (from memory).
    """
    one = band.lane(lane)
    start, step, heights = one.start[0], one.step[0], one.values[0]
    if not heights.max() > 0:
        return None
    if not recorded:
        start, step, heights = _refined(one)
    height = heights.max()
    seen = np.flatnonzero(heights > FLOOR * height)
    first, last = max(seen[0] - 1, 0), min(seen[-1] + 2, heights.size)
    heights = heights[first:last].copy()
    heights[0] = heights[-1] = 0.0
    places = _farthest(heights, TOLERANCE * height)
    return Knots(start=start + step * first, step=step, places=places, heights=heights[places])


def _refined(one: Band) -> tuple[float, float, FloatArray]:
    """Start, step and heights on a grid so fine that straight lines between its points will do."""
    padded = np.pad(one.values[0], 2)
    bend = np.abs(np.diff(padded, 2)).max() / 8 / padded.max()
    count = int(np.clip(np.ceil(np.sqrt(bend / (TOLERANCE / 8))), 1, MOST_REFINED))
    step = one.step[0] / count
    places = np.arange(-count, one.values.shape[1] * count + 1)
    start = one.start[0] + step * places[0]
    return start, step, sample(one, one.start[:, None] + step * places[None])[0]


def _farthest(heights: FloatArray, most: float) -> IntArray:
    """Which points to keep, (points,) array of int."""
    chosen, open_stretches = {0, heights.size - 1}, [(0, heights.size - 1)]
    while open_stretches:
        first, last = open_stretches.pop()
        inside = np.arange(first + 1, last)
        slope = (heights[last] - heights[first]) / (last - first)
        away = np.abs(heights[inside] - heights[first] - slope * (inside - first))
        if away.size and away.max() > most:
            knot = int(inside[np.argmax(away)])
            chosen.add(knot)
            open_stretches += [(first, knot), (knot, last)]
    return np.array(sorted(chosen))


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
        Metrics of every position; the last slider changes fastest.
    asked : tuple of str
        Each slider as it was asked for.
    shown : tuple of int
        The solutes that are shown, as lanes of a case.
    recorded, own : array of Knots or None, by position and solute
        The recorded peak and the column's own; None where there is none.
    own_errors : dict of str to (positions, lanes) array
        Of the metrics of the column's own peak, each in its unit.
    """

    sweep: Sweep
    asked: tuple[str, ...]
    shown: tuple[int, ...]
    recorded: AnyArray
    own: AnyArray
    own_errors: Metrics

    @property
    def batch(self) -> Batch:
        """All positions, to be travelled."""
        return self.sweep.plan.batch

    @property
    def metrics(self) -> Metrics:
        """Of all positions."""
        return self.sweep.metrics

    @property
    def positions(self) -> list[tuple[int, ...]]:
        """The place on each slider, tuple of int, by position."""
        return choices(self.sweep.plan.axes)

    @property
    def solutes(self) -> tuple[str, ...]:
        """Names of the solutes that are shown."""
        return tuple(self.sweep.solutes[lane] for lane in self.shown)

    def computed(self, position: int) -> bool:
        """Whether the position (int) could be computed."""
        return bool(self.sweep.metrics["computed"][position])

    def result(self, position: int) -> Result:
        """Metrics of one position (int), without bands."""
        return self.sweep.case(position)


def sliders(
    scenario: Scenario,
    slide: Sequence[str],
    solutes: Sequence[str] = (),
    runner: Runner | None = None,
) -> Sliders:
    """Travel every position of some sliders.

    ``slide``: one to MOST_SLIDERS texts such as ``"inlet tube.length = 50 mm .. 500 mm, 8
    points"``; see ``tailrace.studies.axes.axis``. ``solutes``: names of those to be shown; all of
    them where it is empty. ``runner``: one on the threads of this machine if it is left out. Raises
    SliderError, StudyError, ScenarioError or BudgetError for a wrong slider, solute or position, or
    for more than fit, before anything is computed. Raises AccuracyError where no position at all
    can be computed.
    """
    shown = _checked(scenario, slide, solutes)
    planned = plan(scenario, slide)
    batch = replace(planned.batch, more=partial(_curves, shown=shown))
    answered = answer(replace(planned, batch=batch), runner)
    named = [name for name in answered.metrics if name.startswith(OWN_ERROR)]
    return Sliders(
        sweep=answered,
        asked=tuple(slide),
        shown=shown,
        recorded=answered.metrics.pop(f"{CURVES}recorded"),
        own=answered.metrics.pop(f"{CURVES}own"),
        own_errors={name.removeprefix(OWN_ERROR): answered.metrics.pop(name) for name in named},
    )


def _checked(scenario: Scenario, slide: Sequence[str], solutes: Sequence[str]) -> tuple[int, ...]:
    """The solutes that are shown, as lanes, if everything asked for fits on a page."""
    if len(slide) > MOST_SLIDERS:
        raise SliderError(
            f"--slide: expected at most {MOST_SLIDERS} sliders where a page cannot compute, "
            f"found {len(slide)}; leave some out"
        )
    shown = shown_solutes(scenario, solutes)
    # To check every position of far too many takes long, and no longer matters.
    positions = math.prod(len(one) for one in axes_of(scenario, slide))
    parts = len(scenario.itinerary().passages)
    most = MOST_BYTES // (len(shown) * (BYTES + BYTES_OF_PART * parts))
    if positions > most:
        raise too_many(most, positions)
    return shown


def shown_solutes(scenario: Scenario, solutes: Sequence[str]) -> tuple[int, ...]:
    """The solutes that are shown, as lanes; all where none is named. Raises SliderError."""
    names = scenario.itinerary().lanes
    for name in solutes:
        if name not in names:
            raise SliderError(f"--solute: {unknown('solute', name, names)}")
    return tuple(lane for lane, name in enumerate(names) if not solutes or name in solutes)


def textbook(result: Result, lane: int) -> tuple[float, float]:
    """The peak by the usual sum of variances.

    Returns
    -------
    mean, variance : float, s and s^2
        Sums over all parts, a gradient's focusing taken off as in ``variance_recorded``; NaN where
        a part has no such variance.
    """
    mean, variance = 0.0, 0.0
    for part in result.parts:
        left = 1 - np.broadcast_to(part.gradient_focusing, np.shape(part.mean_simulated))[lane]
        gaussian = part.variance_gaussian_theory[lane]
        variance += float(gaussian if np.isnan(left) else gaussian * left)
        mean += float(part.mean_closed_form[lane])
    return mean, variance


def too_many(most: int, found: int) -> BudgetError:
    """The error for more positions than a page holds; ``most`` and ``found`` are numbers."""
    return BudgetError(
        f"--slide: expected at most {most} positions, which fill a page of "
        f"{MOST_BYTES / 1e6:g} MB, found {found}; use fewer points, or fewer solutes with --solute"
    )


def start(scenario: Scenario, one: Axis) -> int:
    """Where a slider stands at first: nearest to what the scenario says.

    Returns
    -------
    int
        0 where the scenario leaves the field out.
    """
    value: Any = tomllib.loads(scenario.text)
    try:
        for key in one.target.place:
            value = value[key]
    except KeyError:
        return 0
    if one.unit == "":
        return one.written.index(value) if value in one.written else 0
    endless = value == "straight"
    number = value if one.target.kind == "number" or endless else parse(value, one.target.kind)
    return int(np.argmax(one.values) if endless else np.argmin(np.abs(one.values - number)))


def _curves(result: Result, itineraries: Block, shown: tuple[int, ...]) -> Metrics:
    """Recorded and own peaks of each case, by shown solute, ``Knots`` or None; own errors."""
    last = itineraries[0].passages[-1][0]
    by_points = last.by_points
    each = len(itineraries[0].lanes)
    shape = len(itineraries), len(shown)
    curves = {f"{CURVES}{name}": np.full(shape, None, dtype=object) for name in ("recorded", "own")}
    for case, column in np.ndindex(shape):
        lane = case * each + shown[column]
        curves[f"{CURVES}recorded"][case, column] = knots(band_of(result), lane, by_points)
        if result.column_band is not None:
            curves[f"{CURVES}own"][case, column] = knots(result.column_band, lane)
    if result.column_band is None:
        return curves
    together = joined(itineraries)
    means = [part.mean_closed_form for part in result.parts]
    peak = result.column_alone, result.column_band
    errors = column_alone_errors(spread(together), means, together.resolution, peak)
    by_case = {f"{OWN_ERROR}{name}": one.reshape(-1, each) for name, one in errors.items()}
    return curves | by_case
