"""Which next measurement would tell hypotheses apart best: expected information per minute."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any, Protocol

import numpy as np

from tailrace.errors import AccuracyError, BudgetError, PartError, ScenarioError
from tailrace.journey.hydraulics import pressure
from tailrace.journey.product import not_multiplied
from tailrace.journey.propagation import spread
from tailrace.quantities.arrays import FloatArray
from tailrace.scenario.measured import as_measured
from tailrace.scenario.problems import Tables
from tailrace.scenario.scenario import Scenario
from tailrace.signals.band import Band
from tailrace.signals.cubic import sample
from tailrace.studies.measured.bench import Bench, Setup
from tailrace.studies.measured.diagnosis import Candidate
from tailrace.studies.measured.faults import Fault
from tailrace.studies.measured.trying import Tried

FLOW, RESPONSE, PART, JOINT = "flow", "response", "part", "joint"
WORK = {FLOW: 10.0, RESPONSE: 5.0, PART: 20.0, JOINT: 15.0}
"""Minutes of work before the run: to change a flow and wait until all is steady, to change a
setting, to take a part out, to make a joint anew (our own choice)."""
SLOWER, FASTER = (0.25, 0.5), (2.0,)
"""Flows, over the least and the greatest that were measured; time constants over that measured."""
RESPONSES = (0.25, 4.0)
ORDINARY = 0.1
"""s; a time constant where none was set."""
MOST, DRAWS, SEED = 8, 200, 15
"""Hypotheses that are told apart at most; simulated signals of each."""
LEAST = 0.02
"""Expected information below which a measurement is not named, bit."""
DECIMALS = 9
"""Of information per minute, bit/min: what agrees so far keeps one order on any processor."""
ENDS = 5.0
"""Standard deviations of the peak on either side of its mean that are recorded."""


class Held(Protocol):
    """A hypothesis with its probability."""

    @property
    def faults(self) -> tuple[Fault, ...]:
        """What is at fault."""
        ...

    @property
    def tried(self) -> Tried:
        """As it was fitted."""
        ...

    @property
    def probability(self) -> float:
        """Of all."""
        ...


@dataclass(frozen=True, kw_only=True)
class _Idea:
    """A measurement that is not made yet: what of a row of ``[[measured]]`` differs."""

    kind: str
    what: str
    row: Tables
    value: float = float("nan")


def candidates(
    scenario: Scenario, joints: dict[str, tuple[str, str]], leading: Sequence[Held]
) -> tuple[Candidate, ...]:
    """Measurements that might tell hypotheses apart, most expected information per minute first.

    ``scenario``: with its ``joints``, each with its neighbours; ``leading``: the most probable
    first, and those that do the same always in one order, as noise is drawn for each in turn.
    Each measurement is simulated under each hypothesis, with what is still open of its values,
    with noise as measured; information is what the probabilities gain on average. Delay, area and
    baseline count as unknown.
    """
    held = leading[:MOST]
    if len(held) < 2:
        return ()
    found = []
    for idea in _ideas(scenario, joints, held):
        try:
            candidate = _told(scenario, idea, held)
        except (AccuracyError, BudgetError, PartError, ScenarioError):
            continue
        if candidate is not None and candidate.information > LEAST:
            found.append(candidate)
    return tuple(sorted(found, key=lambda one: -round(one.rate, DECIMALS)))


def _ideas(
    scenario: Scenario, joints: dict[str, tuple[str, str]], held: Sequence[Held]
) -> Iterator[_Idea]:
    benches = [side.bench for side in held[0].tried.problem.sides]
    rows = {one["name"]: one for one in scenario.tables["measured"]}
    row = rows[benches[0].name]
    flows = sorted(one.scenario.document.method.flow for one in benches)
    more = [share * flows[0] for share in SLOWER] + [share * flows[-1] for share in FASTER]
    for flow in [*more, *dict.fromkeys(flows)]:
        yield _Idea(
            kind=FLOW, what="method.flow", row={**row, "flow": _si(flow, "m^3/s")}, value=flow
        )
    detector = benches[0].scenario.document.detector
    key = "rise_time" if detector and detector.rise_time is not None else "time_constant"
    now = (getattr(detector, key) or 0.0) if detector else 0.0
    for constant in [share * now for share in RESPONSES] if now else [ORDINARY]:
        changed = {**row, key: _si(constant, "s")}
        yield _Idea(kind=RESPONSE, what=f"detector.{key}", row=changed, value=constant)
    out = row.get("without", [])
    suspected = {fault.joint for one in held for fault in one.faults}
    for part, _ in benches[0].itinerary([], []).passages:
        plain = part.carries_flow and not (part.observes or part.behind or part.joins)
        if not plain and part.name not in suspected:
            continue
        gone = [part.name, *(name for name, ends in joints.items() if plain and part.name in ends)]
        changed = {**row, "without": [*out, *gone]}
        yield _Idea(kind=PART if plain else JOINT, what=part.name, row=changed)


def _si(value: float, unit: str) -> str:
    return f"{value!r} {unit}"


def _told(scenario: Scenario, idea: _Idea, held: Sequence[Held]) -> Candidate | None:
    """None where the instrument would not bear it."""
    bench = held[0].tried.problem.sides[0].bench
    name = idea.row["name"]
    rows = [one if one["name"] != name else idea.row for one in scenario.tables["measured"]]
    whole = replace(scenario, tables={**scenario.tables, "measured": rows})
    row = type(bench.file.row).model_validate(idea.row)
    measured = as_measured(whole, replace(bench.file, row=row))
    setup = Setup(base=scenario, scenario=measured, stand_in=bench.stand_in)
    plain = setup.itinerary([], [])
    if bench.stand_in and not_multiplied(spread(setup.stood(plain))):
        return None
    if pressure(spread(plain)).highest > plain.pressure_limit:
        return None
    cases, sizes = [], []
    for one in held:
        values = (
            one.tried.optimum.values[: len(one.tried.problem.parameters)] * one.tried.problem.sizes
        )
        ways = _directions(one.tried)
        where = _own(one)
        cases += [setup.itinerary(where, values)]
        cases += [setup.itinerary(where, values + way) for way in ways]
        sizes.append(len(ways))
    band = setup.recorded(cases)
    means, widths = _places(band)
    curves = _seen(band, means, widths, bench, setup)
    bits = _information(curves, sizes, np.array([one.probability for one in held]))
    minutes = WORK[idea.kind] + float(means.max() + ENDS * widths.max()) / 60
    return Candidate(
        kind=idea.kind, what=idea.what, value=idea.value, information=bits, minutes=minutes
    )


def _own(one: Held) -> list[Any]:
    """Fields of a hypothesis; of one that does just the same as another its own."""
    count = len(one.faults)
    return [*(fault.where for fault in one.faults), *one.tried.problem.where[count:]]


def _directions(tried: Tried) -> list[FloatArray]:
    """What is open of the values of the faults: vectors that add up to their covariance."""
    count = len(tried.suspects)
    if not count:
        return []
    block = tried.optimum.covariance[:count, :count]
    found = []
    for row in np.linalg.cholesky(block).T:
        way = np.zeros(len(tried.problem.parameters))
        way[:count] = row * tried.problem.sizes[:count]
        found.append(way)
    return found


def _places(band: Band) -> tuple[FloatArray, FloatArray]:
    """Mean and standard deviation of each lane, two (lanes,) arrays, s."""
    weights = band.values / band.values.sum(axis=1, keepdims=True)
    at = band.start[:, None] + band.step[:, None] * np.arange(weights.shape[1])
    means = (weights * at).sum(axis=1)
    return means, np.sqrt((weights * np.square(at - means[:, None])).sum(axis=1))


def _seen(
    band: Band, means: FloatArray, widths: FloatArray, bench: Bench, setup: Setup
) -> FloatArray:
    """Curves over the noise, without delay, area and baseline: (lanes, points) array, 1."""
    inside = bench.way.spot.window
    points = inside[1] - inside[0]
    places = np.linspace(-ENDS, ENDS, max(points, 40)) * widths[0]
    rows = sample(band, means[:, None] + places)
    side = 0.02 * widths[0]
    turned = sample(band.lane(0), (means[0] + places + side)[None])
    turned -= sample(band.lane(0), (means[0] + places - side)[None])
    flow = bench.scenario.document.method.flow / setup.scenario.document.method.flow
    peak = bench.peak
    area = float(peak.values.sum() * peak.step[0]) * flow
    noise = bench.noise.deviation * np.sqrt(_louder(bench, setup))
    noise *= np.sqrt((1 + bench.noise.correlation) / (1 - bench.noise.correlation))
    known = np.concatenate([rows[:1], turned, np.ones((1, places.size)), places[None]])
    basis = np.linalg.qr(known.T)[0]
    curves = area / max(noise, 1e-300) * rows
    return np.asarray(curves - (curves @ basis) @ basis.T)


def _louder(bench: Bench, setup: Setup) -> float:
    """Variance of the noise at another response over that measured: white before the filter."""
    bands = [
        float(np.max(part.noise_bandwidth()))
        for one in (bench, setup)
        for part, _ in one.itinerary([], []).passages
        if part.records
    ]
    return bands[1] / bands[0] if len(bands) == 2 and np.all(np.isfinite(bands)) else 1.0


def _information(curves: FloatArray, sizes: Sequence[int], before: FloatArray) -> float:
    """Mean fall of the entropy of the probabilities, bit, from simulated signals."""
    random = np.random.default_rng(SEED)
    before = before / before.sum()
    starts = np.cumsum([0, *(1 + size for size in sizes)])[:-1]
    ways = [
        (curves[at], (curves[at + 1 : at + 1 + size] - curves[at]))
        for at, size in zip(starts, sizes, strict=True)
    ]
    left = 0.0
    for share, (middle, open_) in zip(before, ways, strict=True):
        drawn = middle + random.standard_normal((DRAWS, middle.size))
        drawn = drawn + random.standard_normal((DRAWS, len(open_))) @ open_
        logs = np.stack([_density(drawn - one, way) for one, way in ways], axis=1) + np.log(before)
        after = np.exp(logs - logs.max(axis=1, keepdims=True))
        after /= after.sum(axis=1, keepdims=True)
        left += share * float(np.mean([_entropy(row) for row in after]))
    return max(_entropy(before) - left, 0.0)


def _density(apart: FloatArray, ways: FloatArray) -> FloatArray:
    """Logarithm of the density of noise of variance 1 that is wider along some ways; (draws,)."""
    squares = np.sum(np.square(apart), axis=1)
    if not len(ways):
        return np.asarray(-squares / 2)
    whole = np.eye(len(ways)) + ways @ ways.T
    along = apart @ ways.T
    squares = squares - np.sum(along * np.linalg.solve(whole, along.T).T, axis=1)
    return np.asarray(-(squares + np.linalg.slogdet(whole)[1]) / 2)


def _entropy(shares: FloatArray) -> float:
    """Of probabilities, bit."""
    some = shares[shares > 0]
    return float(-np.sum(some * np.log2(some)))
