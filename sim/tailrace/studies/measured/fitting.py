"""Parameters of a scenario fitted to all its measured signals at once, over their whole curves."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from tailrace.quantities.arrays import FloatArray
from tailrace.quantities.kinds import KINDS, kind_named
from tailrace.scenario.inputs import Input, inputs_of
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.target import StudyError, Target, Where, target, value_at, where_is
from tailrace.signals.band import Band
from tailrace.signals.cubic import sample
from tailrace.studies.measured.bench import Bench, benches, matched, signals
from tailrace.studies.measured.optimising import (
    COVERED,
    Optimum,
    groups,
    interval,
    least_squares,
)
from tailrace.studies.measured.result import Fitted, Overlay, Parameter

STEP = 2e-3
"""Of a value, by which it is changed either way for a derivative: the signals are good to 1e-6."""
WIDEST = 30.0
"""How many times smaller or larger than the scenario says a parameter may become."""
TOGETHER = 0.95
"""Correlation from which on two parameters cannot be told apart."""
TELLS_NOTHING = 0.9
"""Standard uncertainty after the fit over that before, above which the data say nothing."""
AT_CHANCE = 3.0
"""Standard deviations up to which chance explains scatter and correlation of residuals."""


@dataclass(frozen=True, kw_only=True)
class _Free:
    """One parameter: a field, where it starts, what is known of it before."""

    target: Target
    where: Where
    start: float
    prior: tuple[float, float] | None
    asked: bool

    @property
    def limits(self) -> tuple[float, float]:
        low, high = self.target.bounds
        if self.start > 0:
            low, high = max(low, self.start / WIDEST), min(high, self.start * WIDEST)
        return low, high


def fit(scenario: Scenario, free: Sequence[str]) -> Fitted:
    """Fit fields of a scenario, named as by ``sweep --vary``, to its measured signals.

    Other ``[[uncertain]]`` fields that matter are carried: fitted, too, but held by what is known.

    Raises
    ------
    StudyError
        For a field that is none, has no number, or matters for no measurement.
    SignalError, BudgetError, AccuracyError
        As of ``benches`` and of journeys; where the fit does not come to rest.
    """
    problem = _Problem(benches(scenario), _parameters(scenario, free))
    optimum = problem.solved(problem.start)
    return _answer(scenario, problem, optimum)


def _parameters(scenario: Scenario, free: Sequence[str]) -> list[_Free]:
    if not free:
        raise StudyError('--free: expected a field such as "flow cell.volume", found none')
    inputs = {one.target.place: one for one in inputs_of(scenario)}
    made = [_free(scenario, target(scenario.tables, text), inputs, True) for text in free]
    names = [one.target.place for one in made]
    if len(set(names)) < len(names):
        raise StudyError("--free: expected each field once, found one again; leave it out")
    carried = [
        _free(scenario, one.target, inputs, False)
        for place, one in inputs.items()
        if place not in names
    ]
    return made + carried


def _free(
    scenario: Scenario, found: Target, inputs: dict[tuple[str | int, ...], Input], asked: bool
) -> _Free:
    numeric = found.kind in KINDS or found.kind == "number"
    value = value_at(scenario.document, found.place) if numeric else None
    if value is None or not np.isfinite(value) or value == 0:
        raise StudyError(
            f"{found.name}: expected a field with a number other than 0 to begin from, found none; "
            "give it a value in the scenario"
        )
    prior = inputs.get(found.place)
    return _Free(
        target=found,
        where=where_is(scenario.document, found.place),
        start=value,
        prior=None if prior is None else prior.mean_and_deviation(),
        asked=asked,
    )


class _Problem:
    """Residuals of all measurements and priors, over their standard deviations.

    The values that are varied are those of the parameters over where they start, then the delay of
    each measurement over its interval. Area and baseline are linear: they are projected out.
    """

    def __init__(self, held: list[Bench], parameters: list[_Free]) -> None:
        for one in parameters:
            if one.asked and not any(bench.concerned(one.where) for bench in held):
                raise StudyError(
                    f"{one.target.name}: expected a field that matters for a measurement, found "
                    "none that has it; free another, or measure with that part"
                )
        self.benches = held
        self.parameters = [
            one for one in parameters if any(bench.concerned(one.where) for bench in held)
        ]
        self.where = [one.where for one in self.parameters]
        self.sizes = np.array([one.start for one in self.parameters])
        self.steps = np.array([bench.even.step for bench in held])
        self.sides = [_Side(bench) for bench in held]

    @cached_property
    def start(self) -> FloatArray:
        """Values of the scenario, and the delays that match them. (values,) array, 1."""
        delays = [
            matched(bench, signals([bench.scenario.itinerary()])).delay for bench in self.benches
        ]
        return np.concatenate([np.ones(len(self.parameters)), np.array(delays) / self.steps])

    @property
    def bounds(self) -> tuple[FloatArray, FloatArray]:
        """Of the values, two (values,) arrays, 1."""
        ends = np.array([one.limits for one in self.parameters]) / self.sizes[:, None]
        ends = np.sort(ends, axis=1)
        wide = np.full(len(self.benches), np.inf)
        return np.concatenate([ends[:, 0], -wide]), np.concatenate([ends[:, 1], wide])

    def solved(self, start: FloatArray, fixed: int | None = None) -> Optimum:
        """The optimum from a start; with one of the values fixed there."""
        moving = np.array([k for k in range(start.size) if k != fixed])

        def whole(some: FloatArray) -> FloatArray:
            values = start.copy()
            values[moving] = some
            return values

        low, high = self.bounds
        inside = np.clip(start, low * (1 + 1e-9), high * (1 - 1e-9))
        found = least_squares(
            lambda some: self.residuals(whole(some)),
            inside[moving],
            jacobian=lambda some: self.jacobian(whole(some))[:, moving],
            bounds=(low[moving], high[moving]),
        )
        values = whole(found.values)
        return Optimum(
            values=values,
            squares=found.squares,
            jacobian=found.jacobian if fixed is None else np.empty((0, 0)),
        )

    def residuals(self, values: FloatArray) -> FloatArray:
        """(residuals,) array, 1."""
        count = len(self.parameters)
        found = [
            side.left(
                signals([side.bench.itinerary(self.where, values[:count] * self.sizes)]).lane(0),
                values[count + at] * self.steps[at],
            )
            for at, side in enumerate(self.sides)
        ]
        return np.concatenate([*found, self._prior(values[:count])])

    def jacobian(self, values: FloatArray) -> FloatArray:
        """(residuals, values) array, 1."""
        count, blocks = len(self.parameters), []
        for at, side in enumerate(self.sides):
            block = np.zeros((side.size, values.size))
            used = [k for k, one in enumerate(self.where) if side.bench.concerned(one)]
            cases = [values[:count].copy() for _ in range(1 + 2 * len(used))]
            for place, k in enumerate(used):
                cases[1 + 2 * place][k] *= 1 + STEP
                cases[2 + 2 * place][k] *= 1 - STEP
            bands = signals([side.bench.itinerary(self.where, one * self.sizes) for one in cases])
            widths = np.array([2 * STEP * values[k] for k in used])
            changes = side.changes(bands, values[count + at] * self.steps[at], widths)
            block[:, [*used, count + at]] = changes * np.append(np.ones(len(used)), self.steps[at])
            blocks.append(block)
        prior = np.zeros((self._prior(values[:count]).size, values.size))
        rows = [k for k, one in enumerate(self.parameters) if one.prior is not None]
        for row, k in enumerate(rows):
            known = self.parameters[k].prior
            assert known is not None
            prior[row, k] = self.sizes[k] / known[1]
        return np.concatenate([*blocks, prior])

    def _prior(self, values: FloatArray) -> FloatArray:
        pairs = zip(values * self.sizes, self.parameters, strict=True)
        return np.array(
            [(one - p.prior[0]) / p.prior[1] for one, p in pairs if p.prior is not None]
        )


class _Side:
    """The whitened side of one measurement."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self.times = bench.times
        self.size = self.times.size
        places = np.linspace(-1, 1, self.size)
        terms = [np.ones(self.size), places][: 2 if bench.way.kind == "line" else 1]
        self.level = self._white(np.array(terms))
        self.signal = self._white(bench.segment)[0]

    def _white(self, rows: FloatArray) -> FloatArray:
        """Rows over the noise, and without what neighbours have in common."""
        keep, deviation = self.bench.noise.correlation, self.bench.noise.deviation
        made = rows / max(deviation, 1e-300)
        if keep:
            made[:, 1:] = (made[:, 1:] - keep * made[:, :-1]) / np.sqrt(1 - keep**2)
        return np.asarray(made)

    def _basis(self, band: Band, delay: float) -> FloatArray:
        """The simulated signal and the baseline as orthonormal columns."""
        one = self._white(sample(band, (self.times - delay)[None]))
        return np.linalg.qr(np.concatenate([one, self.level]).T)[0]

    def left(self, band: Band, delay: float) -> FloatArray:
        """What is left of the signal, (points,) array, 1."""
        basis = self._basis(band, delay)
        return np.asarray(self.signal - basis @ (basis.T @ self.signal))

    def area(self, band: Band, delay: float) -> float:
        """Of the simulated signal that fits best, unit of the signal times s."""
        rows = np.concatenate([self._white(sample(band, (self.times - delay)[None])), self.level])
        return float(np.linalg.lstsq(rows.T, self.signal, rcond=None)[0][0])

    def changes(self, bands: Band, delay: float, widths: FloatArray) -> FloatArray:
        """Derivatives of ``left``: (points, parameters and delay) array.

        ``bands``: the signal, then a pair of lanes for each parameter; ``widths``: their distance.
        What the projection itself changes is left out (Kaufman, BIT 15 (1975) 49; from memory).
        """
        first, small = bands.lane(0), 0.5 * self.bench.even.step * STEP
        rows = [sample(first, (self.times - delay + shift)[None])[0] for shift in (small, -small)]
        slopes = [(rows[1] - rows[0]) / (2 * small)]
        for at, width in enumerate(widths):
            pair = [
                sample(bands.lane(1 + 2 * at + k), (self.times - delay)[None])[0] for k in (0, 1)
            ]
            slopes.insert(at, (pair[0] - pair[1]) / width)
        white = -self.area(first, delay) * self._white(np.array(slopes)).T
        basis = self._basis(first, delay)
        return np.asarray(white - basis @ (basis.T @ white))


def _answer(scenario: Scenario, problem: _Problem, optimum: Optimum) -> Fitted:
    count = len(problem.parameters)
    left = problem.residuals(optimum.values)
    sides = np.split(left, np.cumsum([one.size for one in problem.sides]))[:-1]
    points = sum(one.size for one in sides)
    lost = optimum.values.size + sum(1 + one.level.shape[0] for one in problem.sides)
    squares = sum(float(one @ one) for one in sides)
    freedom = max(points - lost, 1)
    alike = sum(float(one[1:] @ one[:-1]) for one in sides) / squares
    blank = sum(one.noise.points for one in problem.benches)
    ratio, chance = squares / freedom, AT_CHANCE * np.sqrt(2 / freedom + 2 / max(blank, 1))
    at_fault = bool(ratio > 1 + chance or alike > AT_CHANCE / np.sqrt(points))
    scatter = (squares + blank) / (freedom + blank)
    if at_fault:
        scatter = max(ratio, 1.0) * max((1 + alike) / (1 - alike), 1.0)
    covariance = scatter * optimum.covariance
    deviation = np.sqrt(np.diag(covariance))
    correlation = (covariance / np.outer(deviation, deviation))[:count, :count]
    parameters = tuple(
        _parameter(
            problem,
            optimum,
            k,
            float(deviation[k]),
            scatter,
            problem.parameters[k].asked and not at_fault,
        )
        for k in range(count)
    )
    names = [one.field for one in parameters]
    asked = [k for k, one in enumerate(problem.parameters) if one.asked]
    return Fitted(
        title=scenario.title,
        parameters=parameters,
        correlation=correlation,
        indistinguishable=tuple(
            groups(correlation[np.ix_(asked, asked)], [names[k] for k in asked], TOGETHER)
        ),
        residual_over_noise=float(np.sqrt(ratio)),
        autocorrelation=alike,
        at_fault=at_fault,
        measured=_overlays(problem, optimum),
        source=scenario,
    )


def _parameter(
    problem: _Problem, optimum: Optimum, which: int, deviation: float, scatter: float, profile: bool
) -> Parameter:
    """``profile``: whether the interval is looked for where the covariance misleads."""
    free, size = problem.parameters[which], float(problem.sizes[which])
    limits = float(problem.bounds[0][which]), float(problem.bounds[1][which])
    at, misled = float(optimum.values[which]), False
    ends = at - COVERED * deviation, at + COVERED * deviation
    if profile:

        def squares_at(value: float, others: FloatArray) -> tuple[float, FloatArray]:
            begin = others.copy()
            begin[which] = value
            found = problem.solved(begin, which)
            return found.squares, found.values

        def squares_of(values: FloatArray) -> float:
            return float(np.sum(np.square(problem.residuals(values))))

        ways = squares_of, squares_at
        low, high, misled = interval(ways, optimum, which, deviation, scatter, limits)
        ends = low, high
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
        prior=float("nan") if free.prior is None else free.prior[1],
        told_by_data=free.prior is None or deviation * size < TELLS_NOTHING * free.prior[1],
    )


def _overlays(problem: _Problem, optimum: Optimum) -> dict[str, Overlay]:
    count, made = len(problem.parameters), {}
    values, delays = optimum.values[:count] * problem.sizes, optimum.values[count:]
    for side, delay in zip(problem.sides, delays * problem.steps, strict=True):
        bench, low = side.bench, side.bench.way.spot.whole[0]
        band = signals([bench.itinerary(problem.where, values.tolist())]).lane(0)
        area = side.area(band, float(delay))
        simulated = area * sample(band, (bench.times - delay)[None])
        inside = slice(*(one - low for one in bench.way.spot.window))
        left = side.left(band, float(delay))
        made[bench.name] = Overlay(
            name=bench.name,
            file=bench.file.signal.name,
            sha256=bench.file.signal.sha256,
            solute=bench.file.solute,
            signal_unit=bench.file.signal.signal_unit,
            noise=bench.noise.deviation,
            delay=float(delay),
            area=area,
            residual_over_noise=float(np.sqrt(np.mean(left**2))),
            times=bench.times[inside],
            signal=bench.peak.values[0],
            simulated=bench.way.band(simulated).values[0],
        )
    return made
