"""Measured against simulated: metric by metric, with the uncertainty of both."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from tailrace.journey import travel
from tailrace.journey.migration import by_products, not_by_products
from tailrace.journey.propagation import spread
from tailrace.measurements.measuring import DRAWS, metrics_of
from tailrace.measures.registry import APEX, CAPACITY, HEIGHT, MEAN
from tailrace.quantities.arrays import FloatArray
from tailrace.scenario.inputs import Input, correlation_of, inputs_of
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.target import number_at, where_is
from tailrace.signals.band import Band
from tailrace.studies.batch import MARCH
from tailrace.studies.measured.bench import Bench, Match, benches, matched, standing
from tailrace.studies.measured.result import MATCHED, Compared, Comparison
from tailrace.studies.runner import Runner

SEED = 15
SCALED, SHIFTED = (HEIGHT, "area"), (APEX, MEAN)
"""Metrics that go with the area, and with the delay."""
MOST_SKEWED, MOST_PEAKED = 0.6, 1.2
"""Skewness and excess kurtosis of the draws; of normal ones 0.17 and 0.35 are usual by chance."""
RECTANGULAR = np.sqrt(3.0)
"""A discretisation error counts as the half width of an even distribution."""


@dataclass(frozen=True, kw_only=True)
class Plan:
    """A comparison that has not been made yet."""

    scenario: Scenario
    benches: tuple[Bench, ...]
    inputs: tuple[Input, ...]
    seed: int

    @property
    def question(self) -> dict[str, object]:
        """What must not change."""
        return {"scenario_sha256": self.scenario.sha256, "seed": self.seed}


def plan(scenario: Scenario, seed: int = SEED) -> Plan:
    """Read and check every measurement; raises StudyError or SignalError as of ``benches``."""
    return Plan(
        scenario=scenario,
        benches=tuple(benches(scenario)),
        inputs=tuple(inputs_of(scenario)),
        seed=seed,
    )


def answer(plan: Plan, runner: Runner | None = None) -> Compared:
    """Hold every measured signal against its simulation.

    Raises BudgetError or AccuracyError as of ``tailrace.journey.travel``, or where signals have
    nothing in common.
    """
    correlation = correlation_of(plan.scenario, plan.inputs)
    runner = runner or Runner()
    work = partial(
        _comparison,
        inputs=plan.inputs,
        correlation=correlation,
        seed=plan.seed,
        engine=runner.engine,
    )
    results = runner.solved(work, dict(enumerate(enumerate(plan.benches))))
    return Compared(
        title=plan.scenario.title,
        inputs=tuple(one.name for one in plan.inputs),
        measured={one.name: one for one in _repeated(plan.scenario, list(results.values()))},
        source=plan.scenario,
    )


def compare(scenario: Scenario, seed: int = SEED, runner: Runner | None = None) -> Compared:
    """Plan and answer in one."""
    return answer(plan(scenario, seed), runner)


def _comparison(
    asked: tuple[int, Bench],
    inputs: Sequence[Input],
    correlation: FloatArray,
    seed: int,
    engine: str,
) -> Comparison:
    at, bench = asked
    random = np.random.default_rng([seed, at])
    journey = bench.scenario.itinerary()
    marched = engine == MARCH or not_by_products(spread(journey))
    result = travel(journey) if marched else by_products(journey)
    band = result.parts[-1].band
    assert band is not None
    match = matched(bench, band)
    clean = bench.way.band(match.values[None])
    noise = bench.way.band(bench.noise.drawn((DRAWS, bench.times.size), random)).values
    changes = match.moved(noise)
    errors = _discretisation(result.recorded, result.numerical_error, match.area)
    from_inputs = _from_inputs(bench, inputs, correlation, band)
    known = {name: np.hypot(one, from_inputs.get(name, 0.0)) for name, one in errors.items()}
    left = bench.peak.values[0] - clean.values[0]
    scale = np.sqrt(np.mean(noise**2))
    scores = _scores(bench.peak, clean, noise, match, changes, known)
    if CAPACITY in result.recorded:  # with a gradient plates say nothing of the column
        scores = {score: _no_plates(one) for score, one in scores.items()}
    low, high = (one - bench.way.spot.whole[0] for one in bench.way.spot.window)
    times = bench.times[low:high]
    return Comparison(
        name=bench.name,
        file=bench.file.signal.name,
        sha256=bench.file.signal.sha256,
        solute=bench.file.solute,
        signal_unit=bench.file.signal.signal_unit,
        window_start=float(times[0]),
        window_end=float(times[-1]),
        noise=bench.noise.deviation,
        noise_left=bench.way.noise_left(bench.noise),
        delay=match.delay,
        delay_uncertainty=float(np.std(changes[1], ddof=1)),
        area=match.area,
        area_uncertainty=float(np.std(changes[0], ddof=1)),
        residual_over_noise=float(np.sqrt(np.mean(left**2)) / scale) if scale else float("nan"),
        times=times,
        signal=bench.peak.values[0],
        simulated=clean.values[0],
        **scores,
    )


def _no_plates(metrics: dict[str, FloatArray]) -> dict[str, FloatArray]:
    return {name: one for name, one in metrics.items() if not name.startswith("plates")}


def _scores(
    peak: Band,
    clean: Band,
    noise: FloatArray,
    match: Match,
    changes: FloatArray,
    known: dict[str, float],
) -> dict[str, dict[str, FloatArray]]:
    """Every metric of a measured peak beside that of the simulated one with noise drawn upon it.

    ``known``: standard uncertainty of the prediction; ``changes``: as of ``Match.moved``.
    """
    drawn = metrics_of(Band(*_lanes(clean, clean.values + noise)))
    plain, measured = _single(metrics_of(clean)), _single(metrics_of(peak))
    apart = {name: one - _carried(name, plain[name], match, changes) for name, one in drawn.items()}
    predicted = {name: float(np.mean(one)) for name, one in drawn.items()}
    sure = {name: float(known.get(name, 0.0)) for name in drawn}
    difference = {name: measured[name] - predicted[name] for name in drawn}
    joint = {name: float(np.hypot(np.std(one, ddof=1), sure[name])) for name, one in apart.items()}
    rows = {
        "measured": measured,
        "measured_uncertainty": {name: float(np.std(one, ddof=1)) for name, one in drawn.items()},
        "predicted": predicted,
        "predicted_uncertainty": sure,
        "difference": difference,
        "joint_uncertainty": joint,
        "zeta": {name: _score(name, difference[name], joint[name], apart[name]) for name in drawn},
    }
    return {score: _arrays(one) for score, one in rows.items()}


def _lanes(band: Band, values: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    count = values.shape[0]
    return values, np.repeat(band.start, count), np.repeat(band.step, count)


def _carried(name: str, value: float, match: Match, changes: FloatArray) -> FloatArray | float:
    """A metric of the simulated signal as it would be matched to each draw."""
    if name in SCALED:
        return np.asarray(value * (1 + changes[0] / match.area))
    return np.asarray(value + changes[1]) if name in SHIFTED else value


def _single(metrics: dict[str, FloatArray]) -> dict[str, float]:
    return {name: float(one[0]) for name, one in metrics.items()}


def _arrays(metrics: dict[str, float]) -> dict[str, FloatArray]:
    return {name: np.array(float(one)) for name, one in metrics.items()}


def _normal(drawn: FloatArray) -> bool:
    """Whether draws are near enough to a normal distribution for a zeta score."""
    apart = drawn - drawn.mean()
    deviation = float(np.std(drawn))
    if not deviation > 0:
        return False
    skewness, excess = np.mean(apart**3) / deviation**3, np.mean(apart**4) / deviation**4 - 3
    return bool(abs(skewness) < MOST_SKEWED and excess < MOST_PEAKED)


def _score(name: str, difference: float, joint: float, drawn: FloatArray) -> float:
    """The zeta score; NaN of what was matched, and where draws are not normal."""
    judged = name not in MATCHED and _normal(drawn)
    return _over(difference, joint) if judged else float("nan")


def _over(one: float, other: float) -> float:
    return one / other if other > 0 else float("nan")


def _discretisation(
    recorded: dict[str, FloatArray], errors: dict[str, FloatArray], area: float
) -> dict[str, float]:
    """Standard uncertainty from the discretisation errors of a run of one solute."""
    sizes = {name: area / float(recorded["area"][0]) for name in SCALED}
    return {
        name: float(one[0]) * sizes.get(name, 1.0) / RECTANGULAR for name, one in errors.items()
    }


def _from_inputs(
    bench: Bench, inputs: Sequence[Input], correlation: FloatArray, computed: Band
) -> dict[str, float]:
    """Standard uncertainty from the uncertain inputs, first order (JCGM 100:2008): half of what a
    standard deviation up and one down make of each metric, matched anew."""
    where = [where_is(bench.base.document, one.target.place) for one in inputs]
    used = [at for at, one in enumerate(where) if bench.concerned(one)]
    if not used:
        return {}
    now = {at: number_at(bench.base.document, where[at]) or 0.0 for at in used}
    rows = list[list[float]]()
    for at in used:
        mean, deviation = inputs[at].mean_and_deviation()
        for sign in (1, -1):
            value = float(np.clip(mean + sign * deviation, *inputs[at].target.bounds))
            rows.append([value if one == at else now[one] for one in used])
    band = standing(bench, computed=computed).signals([where[one] for one in used], rows)
    found = [
        _single(metrics_of(bench.way.band(matched(bench, band.lane(lane)).values[None])))
        for lane in range(len(rows))
    ]
    pairs = list(zip(found[::2], found[1::2], strict=True))
    slopes = {
        name: np.array([(one[name] - other[name]) / 2 for one, other in pairs]) for name in found[0]
    }
    together = correlation[np.ix_(used, used)]
    return {name: float(np.sqrt(max(one @ together @ one, 0.0))) for name, one in slopes.items()}


def _repeated(scenario: Scenario, compared: list[Comparison]) -> list[Comparison]:
    """With what repeats of one measurement scatter beyond their noise."""
    heads = {row.name: row.same_as or row.name for row in scenario.document.measured}
    for _ in heads:
        heads = {name: heads.get(head, head) for name, head in heads.items()}
    found = []
    for one in compared:
        group = [other for other in compared if heads[other.name] == heads[one.name]]
        if len(group) < 2:
            found.append(one)
            continue
        own, joint = {}, {}
        for name in one.measured:
            values = np.array([float(other.measured[name]) for other in group])
            noise = np.mean([float(other.measured_uncertainty[name]) ** 2 for other in group])
            more = max(float(np.var(values, ddof=1)) - float(noise), 0.0)
            own[name] = float(np.sqrt(float(one.measured_uncertainty[name]) ** 2 + more))
            joint[name] = float(np.sqrt(float(one.joint_uncertainty[name]) ** 2 + more))
        found.append(
            replace(
                one,
                measured_uncertainty=_arrays(own),
                joint_uncertainty=_arrays(joint),
                zeta={
                    name: zeta * _over(float(one.joint_uncertainty[name]), joint[name])
                    for name, zeta in one.zeta.items()
                },
            )
        )
    return found
