"""What measurements should show after each step, and how surely one step brings what it brings."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise
from typing import TypeAlias

import numpy as np

from tailrace.measures.chromatogram import half_height_resolution, half_height_resolution_error
from tailrace.measures.registry import (
    APEX,
    CAPACITY,
    METRICS,
    PLATES,
    RESOLUTION,
    TAILING,
    WIDTH,
)
from tailrace.quantities.arrays import AnyArray, FloatArray
from tailrace.scenario.changed import changed, document_with, injected_share, on_columns
from tailrace.scenario.inputs import inputs_of
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.typical import with_typical
from tailrace.studies.batch import PRODUCT, Metrics
from tailrace.studies.engine import against_products
from tailrace.studies.improving.branches import Branches, interned
from tailrace.studies.improving.ledger import on_all, scored, side_by_side
from tailrace.studies.improving.ordering import swap
from tailrace.studies.improving.result import NAN, Expectation, Expected, Improvement, Step
from tailrace.studies.runner import Runner

SAMPLES, SEED = 64, 1
NO_RANGES, STATED, TYPICAL, QUICK = "none", "stated", "typical", "quick"
RANGES = (NO_RANGES, STATED, TYPICAL)
"""Of what intervals are sampled: nothing, what the file calls uncertain, or typical tolerances of
makers where it calls nothing so. ``QUICK``: these where that is a product, done in seconds."""
Told: TypeAlias = Callable[[Improvement, tuple[int, int]], object]
COVERED = (0.025, 0.975)
SHOWN = (APEX, WIDTH, PLATES, CAPACITY, TAILING)
"""Metrics of single peaks that a measurement is compared with."""
UNKNOWN = (APEX, "pressure")
"""What typical tolerances of makers leave open: retention and the packing decide it."""


def expected(
    improvement: Improvement,
    count: int = SAMPLES,
    seed: int = SEED,
    runner: Runner | None = None,
    ranges: str = STATED,
    report: Told | None = None,
) -> Expected:
    """Say what measurements should show after each step.

    Parameters
    ----------
    count : int
        Samples of what the file calls uncertain; each is laid upon all steps alike.
    ranges : str
        Of ``RANGES``. Where the file calls nothing uncertain typical tolerances of makers may take
        its place: they give intervals of the metrics, and say nothing of gains.
    report : callable, optional
        Called with the answer so far and the number of journeys and parts to be passed, before
        samples are marched, which takes long.

    Returns
    -------
    Expected
        With intervals of 95 % from the samples, and the discretisation error on either side; none
        where nothing is uncertain.
    """
    known = bool(inputs_of(improvement.scenario))
    sampled = _sampled(improvement, (count, seed), runner or Runner(), ranges, report)
    if sampled is None or not known:
        nothing = np.full(len(improvement.steps), NAN)
        return Expected(
            rows=tuple(_rows(improvement, sampled, UNKNOWN)),
            samples=count if sampled else 0,
            gain_low=nothing,
            gain_high=nothing,
            typical=sampled is not None,
        )
    low, high = sampled.gains()
    whole_low, whole_high = sampled.whole()
    return Expected(
        rows=tuple(_rows(improvement, sampled)),
        samples=count,
        gain_low=low,
        gain_high=high,
        swappable=sampled.swappable(),
        whole_low=whole_low,
        whole_high=whole_high,
    )


def _sampled(
    improvement: Improvement,
    drawn: tuple[int, int],
    runner: Runner,
    ranges: str,
    report: Told | None,
) -> _Sampled | None:
    """Samples (count and seed ``drawn``) that were sent through; None where none are asked for, or
    they are no products and it has to be quick."""
    known = bool(inputs_of(improvement.scenario))
    if ranges == NO_RANGES or (ranges == STATED and not known):
        return None
    spread = improvement.scenario if known else with_typical(improvement.scenario)
    sampled = _Sampled(improvement, spread, *drawn)
    marched = runner.engine != PRODUCT or bool(against_products(sampled.batch))
    if marched and not known and ranges == QUICK:
        return None
    return sampled.travel(runner, report if marched else None)


class _Sampled:
    """The metrics of all samples, after each step and with each two neighbouring steps swapped."""

    def __init__(self, improvement: Improvement, spread: Scenario, count: int, seed: int) -> None:
        from tailrace.studies.samples import sampled

        self._answer, self._count = improvement, count
        samples = sampled(spread, count, seed)
        sets = [frozenset(one.taken) for one in improvement.steps]
        self._swaps = self._allowed_swaps()
        sets += list(self._swaps.values())
        self._place = {one: at for at, one in enumerate(dict.fromkeys(sets))}
        columns = on_columns(improvement.scenario)
        self._columns, scenarios = tuple(columns), columns.values() or (improvement.scenario,)
        self._injected = {
            one: [
                injected_share(each.tables, document_with(each.tables, one)) for each in scenarios
            ]
            for one in self._place
        }
        journeys = interned(
            itinerary
            for scenario in scenarios
            for one in self._place
            for itinerary in samples.itineraries(changed(scenario, one))
        )
        places: dict[tuple[int, ...], int] = {}
        keys = [tuple(id(pair) for pair in one.passages) for one in journeys]
        self._numbers = [places.setdefault(key, len(places)) for key in keys]
        distinct = dict(zip(self._numbers, journeys, strict=True))
        self._lanes = journeys[0].lanes
        self.batch = Branches("samples", tuple(distinct.values()), "sample {}".format)
        self._metrics: Metrics = {}

    def travel(self, runner: Runner, report: Told | None) -> _Sampled:
        """Send all of them through; ``report`` as of ``expected``."""
        if report is not None:
            count = len(self.batch.itineraries)
            report(self._answer, (count, count + self.batch.shared(range(len(self.batch.blocks)))))
        metrics = runner.run(self.batch)
        self._metrics = {name: values[self._numbers] for name, values in metrics.items()}
        return self

    def of(self, taken: Sequence[str] | frozenset[str]) -> Metrics:
        """Metrics of all samples with these changes, (samples, …) arrays; columns side by side."""
        return side_by_side(self._each(taken), self._columns)

    def _each(self, taken: Sequence[str] | frozenset[str]) -> list[Metrics]:
        """The same on each column."""
        place = self._place[frozenset(taken)]
        firsts = [
            (place + column * len(self._place)) * self._count
            for column in range(max(len(self._columns), 1))
        ]
        return [
            {name: values[first : first + self._count] for name, values in self._metrics.items()}
            for first in firsts
        ]

    def gains(self) -> tuple[FloatArray, FloatArray]:
        """Interval of 95 % of each step's gain. Two (steps,) arrays, 1."""
        scores = [self._score(one.taken) for one in self._answer.steps]
        bands = [(NAN, NAN), *(_interval(after - before) for before, after in pairwise(scores))]
        low, high = np.array(bands).T
        return low, high

    def whole(self) -> tuple[float, float]:
        """The same of all steps together."""
        first, last = self._answer.steps[0], self._answer.steps[-1]
        return _interval(self._score(last.taken) - self._score(first.taken))

    def swappable(self) -> tuple[int, ...]:
        """Numbers of steps that could as well come after the next."""
        steps, found = self._answer.steps, set()
        key = {"money": "cost", "effort": "effort"}.get(self._answer.order)
        weights = [float(getattr(one, key)) if key else 1.0 for one in steps]
        for number, other in self._swaps.items():
            base, early, late = swap(weights[number], weights[number + 1])
            before, after = (self._score(steps[at].taken) for at in (number - 1, number))
            low, _ = _interval(before * base + after * early - self._score(other) * late)
            if not low > 0:
                found.add(number)
        return tuple(sorted(found))

    def _score(self, taken: Sequence[str] | frozenset[str]) -> FloatArray:
        aim = self._answer.aim
        own, starts = (
            [
                scored(metrics, first, self._lanes, aim, share)
                for metrics, first, share in zip(
                    self._each(one), self._each(()), self._injected[frozenset(one)], strict=True
                )
            ]
            for one in (taken, ())
        )
        return np.asarray(aim.sign * on_all(own, starts)["value"])

    def _allowed_swaps(self) -> dict[int, frozenset[str]]:
        """For each step whose place may be that of the next: the changes so far if it were."""
        answer, found = self._answer, {}
        names = [one.name for one in answer.changes]
        for step, after in pairwise(answer.steps[1:]):
            taken = frozenset((*step.taken[:-1], after.change))
            row = np.array([name in taken for name in names])
            if (answer.combinations.taken == row).all(axis=1).any():
                found[step.number] = taken
        return found


def _rows(
    improvement: Improvement, sampled: _Sampled | None, unknown: tuple[str, ...] = ()
) -> Iterator[Expectation]:
    """One row for each metric of each step; the interval of what is ``unknown`` is left open."""
    table = improvement.combinations
    solutes, alone = table.solutes, [one.name for one in improvement.scenario.document.solutes]
    columns = {"": 0}
    if table.by_column is not None:
        columns = {f", {name}": place for place, name in enumerate(table.by_column.names)}
    for step in improvement.steps:
        at = step.combination
        metrics: Metrics = {
            f"{group}/{name}": values[[at]]
            for group in ("recorded", "numerical_error")
            for name, values in getattr(table, group).items()
        }
        spread = None if sampled is None else sampled.of(step.taken)
        for lane, solute in enumerate(solutes):
            for name in dict.fromkeys((*SHOWN, improvement.aim.metric)):
                if f"recorded/{name}" not in metrics:
                    continue
                value = float(metrics[f"recorded/{name}"][0, lane])
                error = float(metrics[f"numerical_error/{name}"][0, lane])
                samples = None
                if spread is not None and name not in unknown:
                    samples = spread[f"recorded/{name}"][:, lane]
                if not np.isnan(value):
                    yield _row(step, solute, name, value, error, samples)
        for column, place in columns.items():
            lanes = range(place * len(alone), (place + 1) * len(alone))
            yield from _pairs(step, alone, column, lanes, metrics, spread)
        total = float(table.pressure[at])
        if not np.isnan(total):
            samples = None
            if spread is not None and "pressure" not in unknown:
                samples = spread["pressure/highest"]
            yield _row(step, "", "pressure", total, 0.0, samples)


def _pairs(
    step: Step,
    solutes: Sequence[str],
    column: str,
    lanes: range,
    metrics: Metrics,
    spread: Metrics | None,
) -> Iterator[Expectation]:
    """The resolution of neighbours among the solutes of one column, whose name goes behind."""
    groups = ("recorded", "numerical_error")
    names = [f"{group}/{name}" for group in groups for name in (APEX, WIDTH)]
    order = sorted(
        lanes, key=lambda lane: float(np.nan_to_num(metrics[names[0]][0, lane], nan=np.inf))
    )
    for pair in pairwise(order):
        one, other = pair
        values = [metrics[name][0, pair] for name in names]
        value, error = half_height_resolution(*values[:2]), half_height_resolution_error(*values)
        samples = None
        if spread is not None:
            samples = half_height_resolution(*(spread[name][:, pair] for name in names[:2]))
        of = f"{solutes[one - lanes.start]}/{solutes[other - lanes.start]}{column}"
        yield _row(step, of, RESOLUTION, float(value[0]), float(error[0]), samples)


def _row(
    step: Step, of: str, metric: str, value: float, error: float, samples: AnyArray | None
) -> Expectation:
    low, high = (NAN, NAN) if samples is None else _interval(samples)
    return Expectation(
        step=step.number,
        of=of,
        metric=metric,
        unit=METRICS[metric].unit if metric in METRICS else "Pa",
        value=value,
        low=NAN if samples is None else min(low, value) - error,
        high=NAN if samples is None else max(high, value) + error,
        error=error,
    )


def _interval(values: AnyArray) -> tuple[float, float]:
    """Between which 95 % of the samples lie; those that could not be computed left out."""
    # of few samples the usual quantiles hold less than they say: of 64 on the mean 92 % for 95 %
    low, high = np.nanquantile(values, COVERED, method="weibull")
    return float(low), float(high)
