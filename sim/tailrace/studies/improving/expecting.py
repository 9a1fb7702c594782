"""What measurements should show after each step, and how surely one step brings what it brings."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

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
from tailrace.scenario.changed import changed
from tailrace.studies.batch import Metrics
from tailrace.studies.improving.branches import Branches, interned
from tailrace.studies.improving.ledger import scored
from tailrace.studies.improving.ordering import swap
from tailrace.studies.improving.result import NAN, Expectation, Expected, Improvement, Step
from tailrace.studies.runner import Runner

SAMPLES, SEED = 64, 1
COVERED = (0.025, 0.975)
SHOWN = (APEX, WIDTH, PLATES, CAPACITY, TAILING)
"""Metrics of single peaks that a measurement is compared with."""


def expected(
    improvement: Improvement,
    count: int = SAMPLES,
    seed: int = SEED,
    runner: Runner | None = None,
) -> Expected:
    """Say what measurements should show after each step.

    Parameters
    ----------
    count : int
        Samples of what the file calls uncertain; each is laid upon all steps alike.

    Returns
    -------
    Expected
        With intervals of 95 % from the samples, and the discretisation error on either side; none
        where the file calls nothing uncertain.
    """
    if not improvement.scenario.document.uncertain:
        nothing = np.full(len(improvement.steps), NAN)
        rows = tuple(_rows(improvement, None))
        return Expected(rows=rows, samples=0, gain_low=nothing, gain_high=nothing)
    sampled = _Sampled(improvement, count, seed, runner or Runner())
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


class _Sampled:
    """The metrics of all samples, after each step and with each two neighbouring steps swapped."""

    def __init__(self, improvement: Improvement, count: int, seed: int, runner: Runner) -> None:
        from tailrace.studies.samples import sampled

        self._answer, self._count = improvement, count
        samples = sampled(improvement.scenario, count, seed)
        sets = [frozenset(one.taken) for one in improvement.steps]
        self._swaps = self._allowed_swaps()
        sets += list(self._swaps.values())
        self._place = {one: at for at, one in enumerate(dict.fromkeys(sets))}
        journeys = interned(
            itinerary
            for one in self._place
            for itinerary in samples.itineraries(changed(improvement.scenario, one))
        )
        places: dict[tuple[int, ...], int] = {}
        keys = [tuple(id(pair) for pair in one.passages) for one in journeys]
        numbers = [places.setdefault(key, len(places)) for key in keys]
        distinct = dict(zip(numbers, journeys, strict=True))
        self._lanes = journeys[0].lanes
        metrics = runner.run(Branches("samples", tuple(distinct.values()), "sample {}".format))
        self._metrics = {name: values[numbers] for name, values in metrics.items()}

    def of(self, taken: Sequence[str] | frozenset[str]) -> Metrics:
        """Metrics of all samples with these changes, (samples, …) arrays."""
        first = self._place[frozenset(taken)] * self._count
        return {name: values[first : first + self._count] for name, values in self._metrics.items()}

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
        score: FloatArray = scored(self.of(taken), self.of(()), self._lanes, aim)["value"]
        return aim.sign * score

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


def _rows(improvement: Improvement, sampled: _Sampled | None) -> Iterator[Expectation]:
    """One row for each metric of each step."""
    table = improvement.combinations
    solutes = tuple(one.name for one in improvement.scenario.document.solutes)
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
                samples = None if spread is None else spread[f"recorded/{name}"][:, lane]
                if not np.isnan(value):
                    yield _row(step, solute, name, value, error, samples)
        yield from _pairs(step, solutes, metrics, spread)
        total = float(table.pressure[at])
        if not np.isnan(total):
            samples = None if spread is None else spread["pressure/total"]
            yield _row(step, "", "pressure", total, 0.0, samples)


def _pairs(
    step: Step, solutes: tuple[str, ...], metrics: Metrics, spread: Metrics | None
) -> Iterator[Expectation]:
    """The resolution of neighbours."""
    groups = ("recorded", "numerical_error")
    names = [f"{group}/{name}" for group in groups for name in (APEX, WIDTH)]
    order = np.argsort(metrics[names[0]][0], kind="stable").tolist()
    for pair in pairwise(order):
        one, other = pair
        values = [metrics[name][0, pair] for name in names]
        value, error = half_height_resolution(*values[:2]), half_height_resolution_error(*values)
        samples = None
        if spread is not None:
            samples = half_height_resolution(*(spread[name][:, pair] for name in names[:2]))
        of = f"{solutes[one]}/{solutes[other]}"
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
    low, high = np.nanquantile(values, COVERED)
    return float(low), float(high)
