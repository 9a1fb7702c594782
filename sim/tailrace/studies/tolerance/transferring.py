"""From one instrument to another: how far apart, and do both keep the criteria?

What is not known of the method (``kind = "knowledge"``, by the name of its field) is the same on
both, and so are fields that are said to move along; all else is drawn for each by itself.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from tailrace.quantities.arrays import FloatArray, IntArray
from tailrace.quantities.described import described
from tailrace.scenario.criteria import Criterion, criteria_of
from tailrace.scenario.problems import unknown
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.target import StudyError
from tailrace.studies.engine import Engine
from tailrace.studies.runner import Runner
from tailrace.studies.samples import Samples, sampled
from tailrace.studies.tolerance.judging import ACCEPTED, acceptance_of, states_of, together
from tailrace.studies.tolerance.models import Answer, JourneyModel
from tailrace.studies.tolerance.population import given
from tailrace.studies.tolerance.result import Acceptance, Spread, own
from tailrace.studies.tolerance.series import judged_series
from tailrace.studies.tolerance.statistics import spread_of

STREAM = 9


@dataclass(frozen=True, kw_only=True)
class Moved:
    """One criterion on both instruments: the second minus the first."""

    name: str = described("criterion", "", label="metric", names=True)
    unit: str = described("SI unit of the metric", "")
    kind: str = described("kind of quantity; empty: a plain number", "")
    nominal: float = described("difference of both scenarios as they stand", own)
    nominal_error: float = described("discretisation error of that", own)
    spread: Spread = described("distribution of the difference")
    margin: float = described("difference that does not matter; NaN: none given", own)
    within: Acceptance | None = described("how often it is within; none without a margin")
    first: Acceptance = described("how often the first instrument keeps its limits")
    second: Acceptance = described("how often the second does")


@dataclass(frozen=True, kw_only=True)
class Transfer:
    """What is found of two instruments."""

    title: str = described("of the first scenario", "")
    other: str = described("of the second scenario", "")
    samples: int = described("pairs of instruments")
    seed: int = described("of the generator")
    shared: tuple[str, ...] = described("fields that are the same on both", "", along=("shared",))
    rows: tuple[Moved, ...] = described("criterion by criterion", "", along=("row",))
    both: Acceptance = described("how often both keep all limits")
    second_given_first: float = described("share of second instruments where the first keeps all")
    equivalent: Acceptance | None = described(
        "how often all differences are within their margins; none without any"
    )
    engine: tuple[Engine, ...] = described("how journeys were computed", "", along=("instrument",))

    @property
    def satisfied(self) -> bool:
        """Whether both pass, and differ by no more than the margins, as often as is asked for."""
        return self.both.satisfied and (self.equivalent is None or self.equivalent.satisfied)


def transfer(
    first: Scenario,
    second: Scenario,
    count: int,
    seed: int = 1,
    same: Sequence[str] = (),
    runner: Runner | None = None,
) -> Transfer:
    """Draw pairs of instruments, travel both, and compare.

    The criteria are those of ``first``; ``same``: fields of ``kind = "tolerance"`` that are the
    same part on both, as a column that is moved along. Raises StudyError or ScenarioError for two
    scenarios that have not the same solutes, for one without criteria, for a field that is not in
    both. Raises AccuracyError where no sample can be computed.
    """
    criteria = _criteria(first, second)
    one, other = sampled(first, count, seed), sampled(second, count, seed, stream=STREAM)
    for samples, scenario in ((one, first), (other, second)):
        samples.check(scenario)
    shared = _shared(one, other, same)
    other = _sharing(one, other, shared)
    runner = runner or Runner()
    answers = [
        JourneyModel(scenario, criteria, runner)(samples, name)
        for scenario, samples, name in ((first, one, "first"), (second, other, "second"))
    ]
    nominal = [
        JourneyModel(scenario, criteria, runner)(_as_it_stands(samples), f"{name}-nominal")
        for scenario, samples, name in ((first, one, "first"), (second, other, "second"))
    ]
    return replace(
        _found(first, second, criteria, answers, nominal, seed),
        samples=count,
        seed=seed,
        shared=shared,
        engine=(runner.computed,),
    )


def _criteria(first: Scenario, second: Scenario) -> tuple[Criterion, ...]:
    names = [[one.name for one in scenario.document.solutes] for scenario in (first, second)]
    if names[0] != names[1]:
        raise StudyError(
            f"{second.path}: expected the solutes {', '.join(names[0])} in this order, found "
            f"{', '.join(names[1])}; name them alike"
        )
    found = tuple(one for one in criteria_of(first) if one.limited)
    if not found:
        raise StudyError(
            f"{first.path}: expected what must hold on both, found no [[accept]]; add "
            'measure = "plates", at_least = 10000 and margin = 500 below [[accept]]'
        )
    return found


def _shared(one: Samples, other: Samples, same: Sequence[str]) -> tuple[str, ...]:
    both = [name for name in one.names if name in other.names]
    for name in same:
        if name not in both:
            raise StudyError(f"--same: {unknown('uncertain field of both', name, both)}")
    kinds = dict(zip(one.names, one.kinds, strict=True))
    theirs = dict(zip(other.names, other.kinds, strict=True))
    return tuple(
        name for name in both if name in same or kinds[name] == theirs[name] == "knowledge"
    )


def _sharing(one: Samples, other: Samples, shared: Sequence[str]) -> Samples:
    if not shared:
        return other
    known = np.zeros_like(other.scores)
    there = np.isin(other.names, shared)
    for name in shared:
        known[:, other.names.index(name)] = one.scores[:, one.names.index(name)]
    return given(known, other, there)


def _as_it_stands(samples: Samples) -> Samples:
    return samples.part(slice(0, 1)).scaled(np.zeros(len(samples.inputs)))


def _found(
    first: Scenario,
    second: Scenario,
    criteria: tuple[Criterion, ...],
    answers: list[Answer],
    nominal: list[Answer],
    seed: int,
) -> Transfer:
    required = max(one.probability for one in criteria)
    confidence = max(one.confidence for one in criteria)
    states: tuple[list[IntArray], list[IntArray]] = ([], [])
    rows, near = list[Moved](), list[IntArray]()
    for at, one in enumerate(criteria):
        for which, (held, answer) in enumerate(zip(states, answers, strict=True)):
            values = judged_series(one, answer.values[at], seed, which)
            held.append(states_of(values, answer.errors[at], one.at_least, one.at_most))
        moved, errors = _apart(answers, at)
        if not np.isnan(one.margin):
            near.append(states_of(moved, errors, -one.margin, one.margin))
        value, error = _apart(nominal, at)
        rows.append(
            Moved(
                name=one.name,
                unit=one.unit,
                kind=one.kind,
                nominal=float(value[0]),
                nominal_error=float(error[0]),
                spread=spread_of(moved, errors, one.unit),
                margin=one.margin,
                within=None if np.isnan(one.margin) else _judged(one, near[-1]),
                first=_judged(one, states[0][-1]),
                second=_judged(one, states[1][-1]),
            )
        )
    ends = [together(held) for held in states]
    passed = ends[0] == ACCEPTED
    return Transfer(
        title=first.title,
        other=second.title,
        samples=0,
        seed=0,
        shared=(),
        rows=tuple(rows),
        both=acceptance_of(together(ends), required, confidence),
        second_given_first=float(np.mean(ends[1][passed] == ACCEPTED))
        if passed.any()
        else float("nan"),
        equivalent=acceptance_of(together(near), required, confidence) if near else None,
        engine=(),
    )


def _apart(answers: list[Answer], at: int) -> tuple[FloatArray, FloatArray]:
    """Second less first of one criterion, and the errors of both added up."""
    return answers[1].values[at] - answers[0].values[at], answers[0].errors[at] + answers[1].errors[
        at
    ]


def _judged(one: Criterion, states: IntArray) -> Acceptance:
    return acceptance_of(states, one.probability, one.confidence)
