"""What turns samples into metrics: journeys."""

import copy
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, partial
from typing import Protocol

import numpy as np

from tailrace.errors import AccuracyError
from tailrace.journey.discretisation import of_pairs, of_signal, of_valley
from tailrace.journey.itinerary import Itinerary
from tailrace.journey.lanes import alone
from tailrace.journey.product import not_multiplied
from tailrace.journey.propagation import spread
from tailrace.journey.result import Result
from tailrace.measures.chromatogram import LEAST_VALLEY, peak_to_valley
from tailrace.measures.registry import (
    APEX,
    HEIGHT,
    PEAK_TO_VALLEY,
    PLATES,
    RESOLUTION,
    TAILING,
    VARIANCE,
    WIDTH,
)
from tailrace.quantities.arrays import FloatArray
from tailrace.scenario.criteria import Criterion
from tailrace.scenario.reading import Reading
from tailrace.scenario.scenario import Scenario
from tailrace.studies.batch import ALIKE_LANES, Batch, Metrics
from tailrace.studies.cases import Cases, Known
from tailrace.studies.engine import as_products
from tailrace.studies.neighbours import valleys
from tailrace.studies.runner import Runner
from tailrace.studies.samples import Samples
from tailrace.studies.tolerance.noisy import resolved
from tailrace.studies.tolerance.series import NO_BAND, changes, moved, spread_within, varying

MANY = 100_000
"""Samples above which only those metrics are kept that are asked for, and FOLLOWED."""
VALLEYS = f"pair/{PEAK_TO_VALLEY}"
FOLLOWED = frozenset({APEX, HEIGHT, WIDTH, PLATES, TAILING, VARIANCE})


@dataclass(frozen=True, kw_only=True)
class Answer:
    """Metrics of samples.

    Parameters
    ----------
    values, errors : (outcomes, samples) array, SI units of the metrics
        Each metric and its discretisation error; NaN where there is none.
    metrics : dict of str to array
        All that journeys say; empty of a function.
    """

    values: FloatArray
    errors: FloatArray
    metrics: Metrics = field(default_factory=dict)

    def part(self, rows: slice) -> "Answer":
        """Of some of the samples."""
        metrics = {name: values[rows] for name, values in self.metrics.items()}
        return Answer(values=self.values[:, rows], errors=self.errors[:, rows], metrics=metrics)


class Model(Protocol):
    """Whatever answers for samples; the name is that of a batch, one of its own in the study."""

    def __call__(self, samples: Samples, name: str, /) -> Answer:
        """Metrics of the samples, a row for each outcome."""
        ...

    def check(self, samples: Samples, /) -> None:
        """Check the far ends of every input; raises TailraceError."""
        ...


class JourneyModel:
    """Full simulated journeys, every sample one, with the values of some criteria."""

    def __init__(self, scenario: Scenario, criteria: tuple[Criterion, ...], runner: Runner) -> None:
        self.scenario, self.criteria = scenario, criteria
        self._runner = runner
        self.varying = varying(scenario, criteria)
        self._alter: Callable[[Itinerary], Itinerary] | None = None
        self._lane = 0
        self._known: Known = {}
        self._spread: tuple[bytes, list[dict[str, FloatArray]]] = b"", []

    @cached_property
    def readings(self) -> tuple[Reading, ...]:
        """How metrics are read on an instrument."""
        return resolved(self.scenario)

    def altered(
        self, criteria: tuple[Criterion, ...], alter: Callable[[Itinerary], Itinerary], lane: int
    ) -> "JourneyModel":
        """The same study with other journeys, each of one lane alone."""
        other = copy.copy(self)
        other.criteria, other._alter, other._lane = criteria, alter, lane
        return other

    def __call__(self, samples: Samples, name: str, smooth: bool = False) -> Answer:
        """Travel every sample; a ``smooth`` few are products wherever the path is linear.

        Raises AccuracyError where no sample can be computed, or has a metric that is asked for.
        """
        itineraries = samples.itineraries(self.scenario, self._known)
        if self._alter is not None:
            itineraries = (
                itineraries.altered(self._alter).alone(self._lane)
                if isinstance(itineraries, Cases)
                else tuple(alone(self._alter(one), self._lane) for one in itineraries)
            )
        more = _valleys if any(one.asked.key == VALLEYS for one in self.criteria) else None
        batch = Batch(name, itineraries, lambda case: where(samples, case), ALIKE_LANES, more)
        if smooth and not not_multiplied(spread(itineraries[0])):
            batch = as_products(batch)
        if len(itineraries) > MANY:
            batch = replace(batch, keep=partial(_needed, names=frozenset(self._names())))
        metrics = self._runner.run(batch)
        within = {}
        if any(one.repeated for one in self.criteria):
            within = self._within(samples, name, metrics)
        pairs = [measured(one, metrics | within) for one in self.criteria]
        values, errors = (np.array(side) for side in zip(*pairs, strict=True))
        nothing = [
            one.name for one, row in zip(self.criteria, values, strict=True) if np.isnan(row).all()
        ]
        if nothing:
            raise AccuracyError(
                f"no sample has a value for {', '.join(nothing)}; see with `tailrace run` what "
                "the scenario lacks for it, or ask for another measure"
            )
        metrics.pop(VALLEYS, None)
        return Answer(values=values, errors=errors, metrics=metrics)

    def _within(self, samples: Samples, name: str, metrics: Metrics) -> Metrics:
        """How far injections on each instrument spread: its journey beside those a step away.

        Instruments whose bands are those of the samples before spread as these did.
        """
        lanes = [one.name for one in self.scenario.document.solutes]
        places = [one.target.place for one in samples.inputs]
        own = [at for at, place in enumerate(places) if place not in NO_BAND]
        known = str([places[at] for at in own]).encode() + samples.values()[:, own].tobytes()
        if known == self._spread[0]:
            return dict(spread_within(lanes, metrics, self._spread[1], self.readings))
        found = []
        for place, one in enumerate(self.varying):
            apart = moved(samples, self.scenario, one)
            batch = Batch(
                f"{name}-injections-{place}",
                apart.itineraries(self.scenario),
                lambda case, apart=apart: where(apart, case),  # type: ignore[misc]
                ALIKE_LANES,
            )
            found.append(changes(one, apart.fixed[-1][1], metrics, self._runner.run(batch)))
        self._spread = known, found
        return dict(spread_within(lanes, metrics, found, self.readings))

    def _names(self) -> set[str]:
        """Of metrics that the criteria take, and of those that what is made of samples takes."""
        asked = {one.repeated or one.asked.key for one in self.criteria}
        return asked | {name.partition("/")[2] for name in asked} | FOLLOWED

    def check(self, samples: Samples) -> None:
        """Check the far ends of every input as strictly as a file; raises ScenarioError."""
        samples.check(self.scenario)


def _needed(name: str, names: frozenset[str]) -> bool:
    """Whether a metric of a journey is kept where there are MANY."""
    group, _, own = name.partition("/")
    return name in names or not own or (group in ("recorded", "numerical_error") and own in names)


def where(samples: Samples, case: int) -> str:
    """A sample in words: ``sample 17 (tube.bore = 0.121 mm, …)``."""
    values = samples.part(slice(case, case + 1)).values()[0]
    named = zip(samples.inputs, values, strict=True)
    shown = ", ".join(f"{one.name} = {one.shown(value)}" for one, value in named)
    return f"sample {case + 1} ({shown})"


def measured(criterion: Criterion, metrics: Metrics) -> tuple[FloatArray, FloatArray]:
    """Values of a criterion and their discretisation errors, sample by sample.

    Parameters
    ----------
    metrics : dict of str to array
        As of ``tailrace.studies.lanes.metrics_of``.

    Returns
    -------
    values, errors : (samples,) array, SI unit of the metric
        NaN where a sample has no such value.
    """
    if criterion.asked.of == "run":
        values = np.asarray(metrics[criterion.asked.key], dtype=float)
        return values, np.where(np.isnan(values), np.nan, 0.0)
    if criterion.asked.of == "pair":
        values, errors = _of_pairs(criterion, metrics)
    else:
        values, errors = _with_error(criterion, metrics)
        if criterion.of:
            values, errors = values[:, criterion.of], errors[:, criterion.of]
    return _worst(values, errors, least=bool(np.isnan(criterion.at_most)))


def _worst(values: FloatArray, errors: FloatArray, least: bool) -> tuple[FloatArray, FloatArray]:
    """The least or greatest of each row; NaN where any is missing."""
    rows = np.arange(len(values))
    missing = np.isnan(values).any(axis=1)
    filled = np.where(np.isnan(values), np.inf if least else -np.inf, values)
    at = filled.argmin(axis=1) if least else filled.argmax(axis=1)
    found = np.where(missing, np.nan, values[rows, at])
    # Another one may be the worst once the errors are counted.
    return found, np.where(missing, np.nan, errors.max(axis=1, initial=0.0, where=errors > 0))


def _with_error(criterion: Criterion, metrics: Metrics) -> tuple[FloatArray, FloatArray]:
    """Of every solute; (samples, solutes) arrays, SI unit of the metric."""
    if criterion.repeated:  # of slopes none is known
        of_all = np.full_like(metrics[f"recorded/{APEX}"], np.nan)
        values = np.asarray(metrics.get(criterion.asked.key, of_all), float)
        return values, np.zeros_like(values)
    values, name = np.asarray(metrics[criterion.asked.key], float), criterion.asked.metric.name
    errors = _group(metrics, "numerical_error")
    if criterion.asked.group == "recorded":
        return values, errors[name]
    return values, of_signal(name, values, _group(metrics, "recorded"), errors)


def _group(metrics: Metrics, group: str) -> dict[str, FloatArray]:
    found = ((key.partition("/"), values) for key, values in metrics.items())
    return {name: np.asarray(values, float) for (of, _, name), values in found if of == group}


def _of_pairs(criterion: Criterion, metrics: Metrics) -> tuple[FloatArray, FloatArray]:
    """Of a pair, or of all neighbours in the order of elution; (samples, pairs) arrays."""
    recorded, errors = _group(metrics, "recorded"), _group(metrics, "numerical_error")
    apex, pair = recorded[APEX], np.array(criterion.of, dtype=int)
    order = np.argsort(apex[:, pair] if pair.size else apex, axis=1)
    order = pair[order] if pair.size else order
    name = criterion.asked.metric.name
    if name != PEAK_TO_VALLEY:
        return of_pairs(name, recorded, errors, order)
    nowhere = np.full((len(apex), apex.shape[1], apex.shape[1]), np.nan)
    every = np.asarray(metrics.get(criterion.asked.key, nowhere), dtype=float)
    found = every[np.arange(len(apex))[:, None], order[:, :-1], order[:, 1:]]
    resolution, wrong = of_pairs(RESOLUTION, recorded, errors, order)
    heights = np.take_along_axis(errors[HEIGHT] / recorded[HEIGHT], order, axis=1)
    steep, _ = of_valley(found, resolution, wrong / resolution, heights[:, :-1] + heights[:, 1:])
    return found, np.where(found * LEAST_VALLEY >= 1, 0.0, steep)


def _valleys(result: Result, itineraries: Sequence[Itinerary]) -> Metrics:
    """Peak-to-valley ratios of all neighbours, case by case: (cases, solutes, solutes)."""
    order, valley = valleys(result, itineraries)
    found = np.full((*order.shape, order.shape[1]), np.nan)
    cases = np.arange(len(order))[:, None]
    one, other = order[:, :-1], order[:, 1:]
    found[cases, one, other] = found[cases, other, one] = peak_to_valley(valley)
    return {VALLEYS: found}
