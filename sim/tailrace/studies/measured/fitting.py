"""Parameters of a scenario fitted to all its measured signals at once, over their whole curves."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import combinations

import numpy as np

from tailrace.quantities.arrays import FloatArray
from tailrace.quantities.kinds import KINDS, kind_named
from tailrace.scenario.inputs import inputs_of
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.target import StudyError, Where, called
from tailrace.signals.cubic import sample
from tailrace.studies.measured.bench import benches, standing
from tailrace.studies.measured.optimising import COVERED, Optimum, groups, interval
from tailrace.studies.measured.problem import Free, Problem, Side, carried, freed
from tailrace.studies.measured.result import Fitted, Overlay, Parameter
from tailrace.studies.runner import Runner

TOGETHER = 0.95
"""Correlation from which on two parameters cannot be told apart."""
TELLS_NOTHING = 0.9
"""Standard uncertainty after the fit over that before, above which the data say nothing."""
MOST_ROUNDS, SETTLED = 5, 0.05
"""Fits at most of paths that are stood in for, each computed anew at the values before; and by how
many standard uncertainties values may move from one to the next."""
PROFILED = 1e-5
"""Relative change of the sum of squares at which a fit with one value held counts as made."""
LOWER = 0.05
"""By which a sum of squares has to be lower to be another optimum."""
NEAR = 25.0
"""Rise of the sum of squares, over the scatter, up to which exchanged values are fitted anew."""
ENDS = "lower", "upper"
AT_CHANCE = 3.0
"""Standard deviations up to which chance explains scatter and correlation of residuals."""


@dataclass(frozen=True, kw_only=True)
class Plan:
    """A fit that has not been made yet."""

    scenario: Scenario
    problem: Problem
    free: tuple[str, ...]

    @property
    def question(self) -> dict[str, object]:
        """What must not change."""
        return {"scenario_sha256": self.scenario.sha256, "free": list(self.free)}


def plan(scenario: Scenario, free: Sequence[str]) -> Plan:
    """Check what is asked: fields of a scenario, named as by ``sweep --vary``.

    Other ``[[uncertain]]`` fields that matter are carried: fitted, too, but held by what is known.
    Raises StudyError for a field that is none, has no number, or matters for no measurement. Raises
    StudyError or SignalError as of ``benches``.
    """
    if not free:
        raise StudyError('--free: expected a field such as "flow cell.volume", found none')
    return planned(scenario, free)


def planned(scenario: Scenario, free: Sequence[str] = ()) -> Plan:
    """The same where none is freed, too: then what is carried alone is fitted."""
    sides = [Side(one) for one in benches(scenario)]
    problem = Problem(sides, _parameters(scenario, free), exact=True)
    return Plan(scenario=scenario, problem=problem, free=tuple(free))


def answer(plan: Plan, runner: Runner | None = None) -> Fitted:
    """Fit all signals together; raises BudgetError or AccuracyError where that cannot be."""
    runner, problem = runner or Runner(), plan.problem
    problem = _standing(runner, problem, (), ())
    optimum = problem.solved(problem.start)
    for _ in range(MOST_ROUNDS if any(one.lacks for one in problem.benches) else 0):
        before = optimum.values
        values = (before[: len(problem.parameters)] * problem.sizes).tolist()
        problem = _standing(runner, problem, problem.where, values)
        optimum = problem.solved(before)
        moved = np.abs(optimum.values - before) / np.sqrt(np.diag(optimum.covariance))
        if moved.max() < SETTLED:
            break
    return _answer(plan.scenario, problem, optimum)


def _standing(
    runner: Runner, problem: Problem, where: Sequence[Where], values: Sequence[float]
) -> Problem:
    """The same with all measurements as products, which lack nothing at these values."""
    work = partial(standing, where=where, values=values, engine=runner.engine)
    stood = runner.solved(work, dict(enumerate(problem.benches)))
    return Problem([Side(one) for one in stood.values()], problem.parameters, problem.exact)


def fit(scenario: Scenario, free: Sequence[str], runner: Runner | None = None) -> Fitted:
    """Plan and answer in one."""
    return answer(plan(scenario, free), runner)


def _parameters(scenario: Scenario, free: Sequence[str]) -> list[Free]:
    inputs = {one.target.place: one for one in inputs_of(scenario)}
    found = [called(scenario.tables, text) for text in free]
    names = [one.place for one in found]
    if len(set(names)) < len(names):
        raise StudyError("--free: expected each field once, found one again; leave it out")
    parameters = [freed(scenario, one, inputs.get(one.place), True) for one in found]
    return parameters + carried(scenario, names)


@dataclass(frozen=True, kw_only=True)
class Rest:
    """What a fit leaves.

    Parameters
    ----------
    squares : tuple of float, 1
        Sum of the squared residuals of each measurement, over their noise.
    ratio : float, 1
        All of them over their degrees of freedom.
    alike : float, 1
        Correlation of a residual and the next.
    at_fault : bool
        Whether they are more than noise.
    scatter : float, 1
        Variance by which the covariance is to be widened.
    """

    squares: tuple[float, ...]
    ratio: float
    alike: float
    at_fault: bool
    scatter: float


def rest_of(problem: Problem, optimum: Optimum) -> Rest:
    """What is left at an optimum, and whether the model is at fault."""
    sides = np.split(optimum.left, np.cumsum([one.size for one in problem.sides]))[:-1]
    points = sum(one.size for one in sides)
    lost = optimum.values.size + sum(1 + one.level.shape[0] for one in problem.sides)
    each = tuple(float(one @ one) for one in sides)
    squares, freedom = sum(each), max(points - lost, 1)
    alike = sum(float(one[1:] @ one[:-1]) for one in sides) / squares
    blank = sum(one.noise.points for one in problem.benches)
    ratio, chance = squares / freedom, AT_CHANCE * np.sqrt(2 / freedom + 2 / max(blank, 1))
    at_fault = bool(ratio > 1 + chance or alike > AT_CHANCE / np.sqrt(points))
    scatter = (squares + blank) / (freedom + blank)
    if at_fault:
        scatter = max(ratio, 1.0) * max((1 + alike) / (1 - alike), 1.0)
    return Rest(squares=each, ratio=ratio, alike=alike, at_fault=at_fault, scatter=scatter)


def _answer(scenario: Scenario, problem: Problem, optimum: Optimum) -> Fitted:
    count, rest = len(problem.parameters), rest_of(problem, optimum)
    at_fault, scatter = rest.at_fault, rest.scatter
    covariance = scatter * optimum.covariance
    deviation = np.sqrt(np.diag(covariance))
    correlation = (covariance / np.outer(deviation, deviation))[:count, :count]
    looked = [one.asked and not at_fault for one in problem.parameters]
    try:
        parameters = tuple(
            _parameter(problem, optimum, k, float(deviation[k]), scatter, looked[k])
            for k in range(count)
        )
        pairs = _exchanged(problem, optimum, deviation, scatter)
    except _Lower as lower:
        return _answer(scenario, problem, problem.solved(lower.values))
    parameters = _either_way(parameters, pairs)
    names = [one.field for one in parameters]
    asked = [k for k, one in enumerate(problem.parameters) if one.asked]
    alike = correlation.copy()
    for one, other in pairs:
        alike[one, other] = alike[other, one] = 1.0
    return Fitted(
        title=scenario.title,
        parameters=parameters,
        correlation=correlation,
        indistinguishable=tuple(
            groups(alike[np.ix_(asked, asked)], [names[k] for k in asked], TOGETHER)
        ),
        residual_over_noise=float(np.sqrt(rest.ratio)),
        autocorrelation=rest.alike,
        at_fault=at_fault,
        measured=overlays(problem, optimum),
        source=scenario,
    )


def _exchanged(
    problem: Problem, optimum: Optimum, deviation: FloatArray, scatter: float
) -> list[tuple[int, int]]:
    """Pairs of free fields of one kind that may exchange their values as far as the signals tell:
    linear parts may change places. Raises _Lower."""
    found = []
    asked = [k for k, one in enumerate(problem.parameters) if one.asked]
    for pair in combinations(asked, 2):
        back = list(pair[::-1])
        if len({problem.parameters[k].target.kind for k in pair}) > 1:
            continue
        begin = optimum.values.copy()
        begin[list(pair)] = (optimum.values[: problem.sizes.size] * problem.sizes)[back]
        begin[list(pair)] /= problem.sizes[list(pair)]
        begin = np.clip(begin, *problem.bounds)
        apart = np.abs(begin - optimum.values) > COVERED * deviation
        rise = float(np.sum(np.square(problem.residuals(begin)))) - optimum.squares
        if not apart.any() or rise > NEAR * scatter:
            continue
        there = problem.solved(begin)
        if there.squares < optimum.squares - LOWER:
            raise _Lower(there.values)
        moved = np.abs(there.values - optimum.values) > COVERED * deviation
        if moved.any() and there.squares - optimum.squares <= COVERED**2 * scatter:
            found.append(pair)
    return found


def _either_way(
    parameters: tuple[Parameter, ...], pairs: Sequence[tuple[int, int]]
) -> tuple[Parameter, ...]:
    """With intervals that hold both values of those that may exchange them."""
    new = list(parameters)
    for pair in pairs:
        both = [parameters[k] for k in pair]
        low, high = min(one.low for one in both), max(one.high for one in both)
        cut = " and ".join(end for end in ENDS if any(end in one.cut for one in both))
        for k in pair:
            new[k] = replace(
                new[k],
                low=min(low, new[k].low),
                high=max(high, new[k].high),
                standard_uncertainty=(high - low) / (2 * COVERED),
                profiled=True,
                cut=cut,
            )
    return tuple(new)


class _Lower(Exception):
    """The search for an interval found a lower sum of squares: the optimum was none."""

    def __init__(self, values: FloatArray) -> None:
        self.values = values


def _parameter(
    problem: Problem, optimum: Optimum, which: int, deviation: float, scatter: float, profile: bool
) -> Parameter:
    """``profile``: whether the interval is looked for where the covariance misleads."""
    free, size = problem.parameters[which], float(problem.sizes[which])
    limits = float(problem.bounds[0][which]), float(problem.bounds[1][which])
    (low, high), at, misled = problem.bounds, float(optimum.values[which]), False
    ends = [at - COVERED * deviation, at + COVERED * deviation]
    if profile:

        def squares_at(value: float, others: FloatArray) -> tuple[float, FloatArray]:
            # far beyond what is possible the others say nothing of where to begin
            beyond = np.any(np.delete((others < low) | (others > high), which))
            begin = (optimum.values if beyond else others).copy()
            begin[which] = value
            found = problem.solved(begin, which, PROFILED)
            if found.squares < optimum.squares - LOWER:
                raise _Lower(found.values)
            return found.squares, found.values

        def squares_of(values: FloatArray) -> float:
            return float(np.sum(np.square(problem.residuals(np.clip(values, low, high)))))

        ways = squares_of, squares_at
        *ends, misled = interval(ways, optimum, which, deviation, scatter, limits)
        if misled:
            deviation = (ends[1] - ends[0]) / (2 * COVERED)
    cut = [name for name, end, last in zip(ENDS, ends, limits, strict=True) if end == last]
    quantity = free.target.kind if free.target.kind in KINDS else ""
    return Parameter(
        field=free.target.name,
        asked=free.asked,
        kind=quantity,
        unit=kind_named(quantity).unit if quantity else "1",
        start=free.start,
        value=at * size,
        standard_uncertainty=deviation * size,
        low=ends[0] * size,
        high=ends[1] * size,
        profiled=misled,
        cut=" and ".join(cut) if profile else "",
        prior=float("nan") if free.prior is None else free.prior[1],
        told_by_data=free.prior is None or deviation * size < TELLS_NOTHING * free.prior[1],
    )


def overlays(problem: Problem, optimum: Optimum) -> dict[str, Overlay]:
    """Each measurement with what was fitted to it, by its name."""
    count, drawn = len(problem.parameters), {}
    values, delays = optimum.values[:count] * problem.sizes, optimum.values[count:]
    for side, delay in zip(problem.sides, delays * problem.steps, strict=True):
        bench, low = side.bench, side.bench.way.spot.whole[0]
        band = bench.signals(problem.where, [values.tolist()])
        area = side.area(band, float(delay))
        simulated = area * sample(band, (bench.times - delay)[None])
        inside = slice(*(one - low for one in bench.way.spot.window))
        left = side.left(band, float(delay))
        drawn[bench.name] = Overlay(
            name=bench.name,
            file=bench.file.signal.name,
            sha256=bench.file.signal.sha256,
            solute=bench.file.solute,
            signal_unit=bench.file.signal.signal_unit,
            noise=bench.noise.deviation,
            noise_left=bench.way.noise_left(bench.noise),
            delay=float(delay),
            area=area,
            residual_over_noise=float(np.sqrt(np.mean(left**2))),
            times=bench.times[inside],
            signal=bench.peak.values[0],
            simulated=bench.way.band(simulated).values[0],
        )
    return drawn
