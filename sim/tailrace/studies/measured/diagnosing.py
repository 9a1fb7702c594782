"""Which part is at fault: hypotheses fitted to all measurements and weighed by their evidence."""

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import product

import numpy as np

from tailrace.errors import AccuracyError, BudgetError, PartError
from tailrace.journey.product import not_multiplied
from tailrace.journey.propagation import spread
from tailrace.measurements.measuring import metrics_of
from tailrace.measurements.signal import SignalError
from tailrace.measures.registry import WIDTH
from tailrace.quantities.arrays import FloatArray
from tailrace.quantities.kinds import KINDS, kind_named
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.target import StudyError
from tailrace.studies.batch import MARCH
from tailrace.studies.measured.bench import Bench, benches, signals, standing
from tailrace.studies.measured.beside import Pair, alike, partners
from tailrace.studies.measured.diagnosis import (
    ELSE,
    NONE,
    TOGETHER,
    Diagnosis,
    Hypothesis,
)
from tailrace.studies.measured.faults import Fault, told_apart, with_joints
from tailrace.studies.measured.fitting import overlays, rest_of
from tailrace.studies.measured.optimising import groups
from tailrace.studies.measured.problem import Problem, Side, carried
from tailrace.studies.measured.suspects import Suspect, suspect
from tailrace.studies.measured.telling import candidates
from tailrace.studies.measured.trying import Tried, elsewhere, tried
from tailrace.studies.runner import Runner

BEFORE = {NONE: 0.5, "one": 0.4, "two": 0.05, ELSE: 0.05}
"""Probabilities before anything is measured (our own choice)."""
LEADING, MOST_PAIRS = 3, 6
"""Single faults to which a second one is added, and pairs that are fitted."""
FARTHEST = 6.0
"""Width over that simulated, or below, which no fault that is tried explains."""
DECIMALS = 6
"""Of logarithms of evidence: those that agree so far keep one order on any processor."""
UNABLE = (AccuracyError, BudgetError, PartError)


@dataclass(frozen=True, kw_only=True)
class Plan:
    """A diagnosis that has not been made yet."""

    scenario: Scenario

    @property
    def question(self) -> dict[str, object]:
        """What must not change."""
        files = self.scenario.files.hashes()
        return {"scenario_sha256": self.scenario.sha256, "files": files}


def plan(scenario: Scenario) -> Plan:
    """Check what is asked; raises StudyError without ``[[measured]]``."""
    if not scenario.document.measured:
        raise StudyError(
            f"{scenario.path}: expected measured signals, found no [[measured]]; add name and file "
            "below [[measured]]"
        )
    return Plan(scenario=scenario)


def diagnose(scenario: Scenario, runner: Runner | None = None) -> Diagnosis:
    """Say which part of an instrument is at fault; parameters and errors as of ``answer``."""
    return answer(plan(scenario), runner)


def answer(plan: Plan, runner: Runner | None = None) -> Diagnosis:
    """Make a diagnosis.

    Raises StudyError or SignalError as of ``benches``. Raises BudgetError or AccuracyError where
    the instrument cannot be simulated as the scenario says.
    """
    runner = runner or Runner()
    scenario, joints = with_joints(plan.scenario)
    pairs_of = zip(benches(scenario), benches(plan.scenario), strict=True)
    work = partial(_standing, engine=runner.engine)
    stood = runner.solved(work, dict(enumerate(pairs_of)))
    sides = [Side(one) for one in stood.values()]
    _refuse_strangers(sides)
    held = Problem(sides, carried(scenario))
    start = held.start[len(held.parameters) :] * held.steps
    none = tried(scenario, sides, [], np.array([]), start)
    asked, unseen = told_apart(scenario, joints, [side.bench for side in sides])
    looked = runner.solved(partial(suspect, sides=sides), asked)
    suspects = [one for one in looked.values() if one is not None]
    trying = partial(_tried, scenario, sides)
    begins = {
        one.fault.name: ((one,), one.begins[[one.best]], one.delays[one.best]) for one in suspects
    }
    found = [one for one in runner.solved(trying, begins).values() if one is not None]
    singles = sorted(found, key=lambda one: -round(one.evidence, DECIMALS))
    first = max([none, *singles], key=lambda one: round(one.evidence, DECIMALS))
    pairs = list[Pair]()
    if rest_of(first.problem, first.optimum).at_fault:
        beside = [pair for one in singles[:LEADING] for pair in partners(one, suspects, none)]
        pairs = list({one.name: one for one in sorted(beside, key=_gained)}.values())
        best = {one.name: (one.suspects, one.begin, one.delays) for one in pairs[-MOST_PAIRS:]}
        singles += [one for one in runner.solved(trying, best).values() if one is not None]
    weighed = _Weighed([none, *singles], suspects)
    first = weighed.first
    return Diagnosis(
        title=plan.scenario.title,
        hypotheses=weighed.hypotheses,
        indistinguishable=weighed.groups(none),
        unseen=unseen,
        pairs=len(pairs),
        stood_in=any(one.lacks is not None for one in stood.values()),
        at_fault=rest_of(first.problem, first.optimum).at_fault,
        candidates=candidates(scenario, joints, weighed.leading),
        measured=overlays(first.problem, first.optimum),
        source=plan.scenario,
    )


def _gained(pair: Pair) -> float:
    return round(pair.gain, DECIMALS)


def _standing(pair: tuple[Bench, Bench], engine: str) -> Bench:
    """One with all joints, which make next to no difference, and as the scenario has it: that is
    computed, where it is no product."""
    bench, given = pair
    journey = given.itinerary([], [])
    marched = engine == MARCH or not_multiplied(spread(journey))
    computed = signals([journey], engine=engine) if marched else None
    return standing(bench, computed=computed)


def _tried(
    scenario: Scenario,
    sides: Sequence[Side],
    asked: tuple[tuple[Suspect, ...], FloatArray, FloatArray],
) -> Tried | None:
    """None where it cannot be computed, or does not come to rest."""
    try:
        return tried(scenario, sides, *asked)
    except UNABLE:
        return None


def _refuse_strangers(sides: Sequence[Side]) -> None:
    """Refuse a peak that no fault makes of the simulated one: most often a wrong unit of time."""
    for side in sides:
        bench = side.bench
        bands = bench.peak, bench.signals([], [[]])
        measured, simulated = (float(metrics_of(one)[WIDTH][0]) for one in bands)
        if not 1 / FARTHEST < measured / simulated < FARTHEST:
            raise SignalError(
                f"{bench.file.signal.name}: expected a peak about as wide as the simulated one "
                f"({simulated:.3g} s at half height), found {measured:.3g} s; check the unit of "
                "time, the flow and what was taken out"
            )


@dataclass(frozen=True, kw_only=True)
class Weighed:
    """A hypothesis with its names and probability."""

    name: str
    faults: tuple[Fault, ...]
    tried: Tried
    probability: float


class _Weighed:
    """All hypotheses beside each other."""

    def __init__(self, tried: Sequence[Tried], suspects: Sequence[Suspect]) -> None:
        self.suspects = suspects
        whole = [(faults, one) for one in tried for faults in _faults(one)]
        counts = Counter(len(faults) for faults, _ in whole)
        count = counts[1]
        shares = {0: BEFORE[NONE], 1: BEFORE["one"] / max(count, 1)}
        shares[2] = BEFORE["two"] / max(count * (count - 1) / 2, 1)
        best = max(tried, key=lambda one: round(one.evidence, DECIMALS))
        logs = [one.evidence + np.log(shares[len(faults)]) for faults, one in whole]
        logs.append(elsewhere(best) + np.log(BEFORE[ELSE]))
        odds = np.exp(np.array(logs) - max(logs))
        odds /= odds.sum()
        order = np.argsort(-np.round(logs[:-1], DECIMALS), kind="stable")
        self.found = [
            Weighed(
                name=" + ".join(one.name for one in whole[k][0]) or NONE,
                faults=whole[k][0],
                tried=whole[k][1],
                probability=float(odds[k]),
            )
            for k in order
        ]
        self.other = float(odds[-1])
        self.first = self.found[0].tried

    @property
    def leading(self) -> list[Weighed]:
        """Those that cannot be told from the most probable one; twins count together."""
        least = TOGETHER * max(self.found[0].probability, self.other)
        whole = defaultdict[int, float](float)
        for one in self.found:
            whole[id(one.tried)] += one.probability
        return [one for one in self.found if whole[id(one.tried)] >= least]

    @property
    def hypotheses(self) -> tuple[Hypothesis, ...]:
        """By falling probability."""
        points = sum(one.size for one in self.first.problem.sides)
        criteria = {
            id(one.tried): sum(one.tried.squares) + one.tried.optimum.values.size * np.log(points)
            for one in self.found
        }
        least, best = min(criteria.values()), max(one.tried.evidence for one in self.found)
        weighed = [_hypothesis(one, criteria[id(one.tried)] - least, best) for one in self.found]
        nan, nothing = float("nan"), Hypothesis
        other = nothing(
            name=ELSE,
            parts=(),
            fields=(),
            units=(),
            kinds=(),
            nominal=(),
            values=(),
            uncertainties=(),
            probability=self.other,
            log_evidence=nan,
            bic=nan,
            residual_over_noise=nan,
            change=nan,
        )
        behind = sum(one.probability >= self.other for one in weighed)
        return (*weighed[:behind], other, *weighed[behind:])

    def groups(self, none: Tried) -> tuple[tuple[str, ...], ...]:
        """Names that cannot be told apart: with the first, then by what they do at all."""
        first = tuple(one.name for one in self.leading)
        if self.leading and self.other >= TOGETHER * self.found[0].probability:
            first = (*first, ELSE)
        found = [first] if len(first) > 1 else []
        names = [one.fault.name for one in self.suspects]
        twins = {one.fault.name: [two.name for two in one.twins] for one in self.suspects}
        near = groups(alike(self.suspects, none), names, 0.5) if names else []
        whole = [*near, *((name,) for name in names if not any(name in one for one in near))]
        for group in whole:
            same = tuple(name for one in group for name in (one, *twins[one]))
            if len(same) > 1 and not any(set(same) <= set(one) for one in found):
                found.append(same)
        return tuple(found)


def _faults(one: Tried) -> Iterator[tuple[Fault, ...]]:
    """A hypothesis, and those that do just the same."""
    yield from product(*((each.fault, *each.twins) for each in one.suspects))


def _hypothesis(one: Weighed, criterion: float, best: float) -> Hypothesis:
    fit, kinds = one.tried, [fault.target.kind for fault in one.faults]
    quantities = tuple(kind if kind in KINDS else "" for kind in kinds)
    changes = [
        suspect.reach.at(float(value))
        for suspect, value in zip(fit.suspects, fit.values, strict=True)
    ]
    return Hypothesis(
        name=one.name,
        parts=tuple(dict.fromkeys(part for fault in one.faults for part in fault.parts)),
        fields=tuple(fault.name for fault in one.faults),
        units=tuple(kind_named(kind).unit if kind else "1" for kind in quantities),
        kinds=quantities,
        nominal=tuple(fault.nominal for fault in one.faults),
        values=tuple(float(value) for value in fit.values),
        uncertainties=tuple(float(value) for value in fit.deviations),
        probability=one.probability,
        log_evidence=fit.evidence - best,
        bic=float(criterion),
        residual_over_noise=float(np.sqrt(rest_of(fit.problem, fit.optimum).ratio)),
        change=float(np.prod([1 + change for change in changes]) - 1),
    )
