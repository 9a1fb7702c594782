"""The residuals of all measurements over their noise, and of what is known of parameters."""

from collections.abc import Collection, Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from tailrace.errors import AccuracyError
from tailrace.journey.itinerary import Itinerary
from tailrace.journey.migrated import Migrated
from tailrace.journey.product import not_multiplied, unresolved
from tailrace.journey.propagation import spread
from tailrace.quantities.arrays import FloatArray
from tailrace.quantities.kinds import KINDS
from tailrace.scenario.inputs import Input, correlation_of, inputs_of
from tailrace.scenario.problems import Place
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.target import StudyError, Target, Where, value_at, where_is
from tailrace.signals.band import Band
from tailrace.signals.cubic import sample
from tailrace.studies.derivatives import SignalSlopes, not_derived, of_signal
from tailrace.studies.measured.bench import Bench, matched
from tailrace.studies.measured.optimising import LOOSE, Optimum, least_squares

STEP = 2e-3
"""Of a value, by which it is changed either way for a derivative: the signals are good to 1e-6.
Twice that for one of fourth order of a plain product, which is to keep 12 digits."""
PLACES, FOURTH = (-2, -1, 1, 2), np.array([1, -8, 8, -1]) / 12
"""Steps from where a derivative is taken by differences of fourth order, and what each counts."""
NEAR, DERIVED = 1e-5, 1e-6
"""Relative change of the sum of squares, up to which differences lead to an optimum; and at which
it is found of paths that are laid out anew for other values, by 1e-7 of the height otherwise."""
LATEST = 1e9
"""Intervals by which a measured time may run late or early: any, but where nothing is left of the
signal to tell."""
WIDEST = 30.0
"""How many times smaller or larger than the scenario says a parameter may become."""


@dataclass(frozen=True, kw_only=True)
class Free:
    """One parameter: a field, where it starts, what is known of it before.

    ``between``: least and greatest value, where it is not the usual range about the start.
    """

    target: Target
    where: Where
    start: float
    prior: tuple[float, float] | None
    asked: bool
    between: tuple[float, float] | None = None

    @property
    def limits(self) -> tuple[float, float]:
        """Least and greatest value, SI unit of the field."""
        if self.between is not None:
            return self.between
        low, high = self.target.bounds
        if self.start > 0:
            low, high = max(low, self.start / WIDEST), min(high, self.start * WIDEST)
        return low, high


def carried(scenario: Scenario, but: Collection[Place] = ()) -> list[Free]:
    """Every field of ``[[uncertain]]`` but some, held by what is known of it."""
    return [
        freed(scenario, one.target, one, False)
        for one in inputs_of(scenario)
        if one.target.place not in but
    ]


def freed(scenario: Scenario, found: Target, prior: Input | None, asked: bool) -> Free:
    """A field with a number to begin from; raises StudyError for any other."""
    numeric = found.kind in KINDS or found.kind == "number"
    value = value_at(scenario.document, found.place) if numeric else None
    if value is None or not np.isfinite(value) or value == 0:
        raise StudyError(
            f"{found.name}: expected a field with a number other than 0 to begin from, found none; "
            "give it a value in the scenario"
        )
    return Free(
        target=found,
        where=where_is(scenario.document, found.place),
        start=value,
        prior=None if prior is None else prior.mean_and_deviation(),
        asked=asked,
    )


class Problem:
    """Residuals of all measurements and priors, over their standard deviations.

    The values that are varied are those of the parameters over where they start, then the delay of
    each measurement over its interval. Area and baseline are linear: they are projected out.
    """

    def __init__(
        self, sides: Sequence["Side"], parameters: Sequence[Free], exact: bool = False
    ) -> None:
        """``exact``: whether derivatives of products are; else by differences, good to 1e-5 and
        two to three times as quick."""
        self.sides, self.benches, self.exact = sides, [one.bench for one in sides], exact
        for one in parameters:
            if one.asked and not any(bench.concerned(one.where) for bench in self.benches):
                raise StudyError(
                    f"{one.target.name}: expected a field that matters for a measurement, found "
                    "none that has it; free another, or measure with that part"
                )
        self.parameters = [
            one for one in parameters if any(bench.concerned(one.where) for bench in self.benches)
        ]
        self.where = [one.where for one in self.parameters]
        self.sizes = np.array([one.start for one in self.parameters])
        self.steps = np.array([bench.even.step for bench in self.benches])
        self._last: dict[int, tuple[tuple[float, ...], SignalSlopes]] = {}

    @cached_property
    def start(self) -> FloatArray:
        """Values of the scenario, and the delays that match them. (values,) array, 1."""
        delays = [matched(bench, bench.signals([], [[]])).delay for bench in self.benches]
        return np.concatenate([np.ones(len(self.parameters)), np.array(delays) / self.steps])

    @property
    def bounds(self) -> tuple[FloatArray, FloatArray]:
        """Of the values, two (values,) arrays, 1."""
        ends = (
            np.array([one.limits for one in self.parameters]).reshape(-1, 2) / self.sizes[:, None]
        )
        ends = np.sort(ends, axis=1)
        wide = np.full(len(self.benches), LATEST)
        return np.concatenate([ends[:, 0], -wide]), np.concatenate([ends[:, 1], wide])

    def solved(self, start: FloatArray, fixed: int | None = None, close: float = LOOSE) -> Optimum:
        """The optimum from a start; with one of the values fixed there; ``close`` as of
        ``least_squares``. Derivatives that are exact are taken near the optimum alone."""
        if not self.exact or fixed is not None:
            return self._solved(start, fixed, close, False)
        if any(side.derived for side in self.sides):
            close = max(close, DERIVED)
        return self._solved(self._solved(start, None, NEAR, False).values, None, close, True)

    def _solved(self, start: FloatArray, fixed: int | None, close: float, exact: bool) -> Optimum:
        moving = np.array([k for k in range(start.size) if k != fixed])

        def whole(some: FloatArray) -> FloatArray:
            values = start.copy()
            values[moving] = some
            return values

        low, high = self.bounds
        found = least_squares(
            lambda some: self.residuals(whole(some), exact),
            start[moving],
            lambda some: self.jacobian(whole(some), exact)[:, moving],
            bounds=(low[moving], high[moving]),
            close=close,
        )
        values = whole(found.values)
        return Optimum(
            values=values,
            squares=found.squares,
            jacobian=found.jacobian if fixed is None else np.empty((0, 0)),
            left=found.left,
        )

    def residuals(self, values: FloatArray, exact: bool = False) -> FloatArray:
        """(residuals,) array, 1; ``exact``: where something stands in for a path that has
        derivatives, of the path itself."""
        count, found = len(self.parameters), list[FloatArray]()
        for at, side in enumerate(self.sides):
            delay = values[count + at] * self.steps[at]
            if exact and side.derived:
                found.append(side.rest(self._slopes(at, values[:count], delay).values))
            else:
                band = side.bench.signals(self.where, [values[:count] * self.sizes])
                found.append(side.left(band, delay))
        return np.concatenate([*found, self._prior(values[:count])])

    def jacobian(self, values: FloatArray, exact: bool = True) -> FloatArray:
        """(residuals, values) array, 1; ``exact``: where the problem's derivatives are."""
        count, blocks = len(self.parameters), []
        for at, side in enumerate(self.sides):
            block = np.zeros((side.size, values.size))
            used, delay = self._used(side), values[count + at] * self.steps[at]
            changes = self._changes(at, values[:count], delay, exact and self.exact)
            block[:, [*used, count + at]] = changes * np.append(np.ones(len(used)), self.steps[at])
            blocks.append(block)
        held, _, deviations = self._known
        prior = np.zeros((len(held), values.size))
        prior[:, held] = self.apart * self.sizes[held] / deviations
        return np.concatenate([*blocks, prior])

    def _used(self, side: "Side") -> list[int]:
        return [k for k, one in enumerate(self.where) if side.bench.concerned(one)]

    def _changes(self, at: int, values: FloatArray, delay: float, exact: bool) -> FloatArray:
        """With respect to those parameters that matter for a measurement and to the delay,
        (points, parameters and delay) array."""
        side, used = self.sides[at], self._used(self.sides[at])
        if not (exact and (side.multiplied or side.derived)):
            cases = [values.copy() for _ in range(1 + 2 * len(used))]
            for place, k in enumerate(used):
                cases[1 + 2 * place][k] *= 1 + STEP
                cases[2 + 2 * place][k] *= 1 - STEP
            bands = side.bench.signals(self.where, [one * self.sizes for one in cases])
            return side.changes(bands, delay, np.array([2 * STEP * values[k] for k in used]))
        found = self._slopes(at, values, delay)
        slopes = found.slopes[:, 0] * self.sizes[used][:, None]
        return side.projected(found.values, np.concatenate([slopes, -found.turned]))

    def _slopes(self, at: int, values: FloatArray, delay: float) -> SignalSlopes:
        """The signal of one measurement, and how it changes; that of the last values is kept."""
        side, used = self.sides[at], self._used(self.sides[at])
        where, now = [self.where[k] for k in used], values[used] * self.sizes[used]
        asked = (*now.tolist(), delay)
        if at not in self._last or self._last[at][0] != asked:

            def build(some: FloatArray) -> Itinerary:
                journey = side.bench.itinerary(where, some.tolist())
                return journey if side.derived else side.bench.stood(journey)

            bounds = [self.parameters[k].target.bounds for k in used]
            steps = () if side.derived else [2 * STEP] * len(used)
            found = of_signal(build, now, bounds, side.times - delay, steps=steps)
            self._last[at] = asked, found
        return self._last[at][1]

    @cached_property
    def _known(self) -> tuple[list[int], FloatArray, FloatArray]:
        """Which parameters something is known of, its mean and standard deviation, SI."""
        held = [k for k, one in enumerate(self.parameters) if one.prior is not None]
        known = np.array([self.parameters[k].prior for k in held], dtype=float).reshape(-1, 2)
        return held, known[:, 0], known[:, 1]

    @cached_property
    def apart(self) -> FloatArray:
        """What turns deviations from what is known, which may be correlated, into independent
        ones; (known, known) array, 1."""
        base, held = self.benches[0].base, self._known[0]
        inputs = inputs_of(base)
        places = [one.target.place for one in inputs]
        rows = [places.index(self.parameters[k].target.place) for k in held]
        together = correlation_of(base, inputs)[np.ix_(rows, rows)]
        return np.asarray(np.linalg.inv(np.linalg.cholesky(together)))

    def _prior(self, values: FloatArray) -> FloatArray:
        held, means, deviations = self._known
        return np.asarray(self.apart @ ((values[held] * self.sizes[held] - means) / deviations))


class Side:
    """The whitened side of one measurement."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self.times = bench.times
        self.size = self.times.size
        places = np.linspace(-1, 1, self.size)
        terms = [np.ones(self.size), places][: 2 if bench.way.kind == "line" else 1]
        self.level = self.white(np.array(terms))
        self.signal = self.white(bench.segment)[0]

    def white(self, rows: FloatArray) -> FloatArray:
        """Rows over the noise, and without what neighbours have in common."""
        keep, deviation = self.bench.noise.correlation, self.bench.noise.deviation
        whitened = rows / max(deviation, 1e-300)
        if keep:
            whitened[:, 1:] = (whitened[:, 1:] - keep * whitened[:, :-1]) / np.sqrt(1 - keep**2)
        return np.asarray(whitened)

    @cached_property
    def multiplied(self) -> bool:
        """Whether the path is a product of transfer functions, and nothing stands in."""
        passages = spread(self.bench.stood(self.bench.itinerary([], [])))
        return not (self.bench.lacks or not_multiplied(passages) or unresolved(passages))

    @cached_property
    def derived(self) -> bool:
        """Whether the path, for which something stands in, has derivatives that take no longer
        than a fit: bends that are not in the table are expanded for that, which takes minutes."""
        passages = spread(self.bench.itinerary([], []))
        dear = any(part.expands and part.solving_seconds(to) > 0 for part, to in passages)
        if not self.bench.lacks or dear or not_derived(passages):
            return False
        with suppress(AccuracyError):
            return bool(Migrated(passages).layouts)
        return False

    def _spanned(self, signal: FloatArray) -> FloatArray:
        """The simulated signal and the baseline as orthonormal columns."""
        return np.linalg.qr(np.concatenate([self.white(signal), self.level]).T)[0]

    def left(self, band: Band, delay: float) -> FloatArray:
        """What is left of the signal, (points,) array, 1."""
        return self.rest(sample(band, (self.times - delay)[None]))

    def rest(self, signal: FloatArray) -> FloatArray:
        """What a simulated signal, (1, points) array, leaves of the measured one."""
        basis = self._spanned(signal)
        return np.asarray(self.signal - basis @ (basis.T @ self.signal))

    def area(self, band: Band, delay: float) -> float:
        """Of the simulated signal that fits best, unit of the signal times s."""
        return self._area(sample(band, (self.times - delay)[None]))

    def _area(self, signal: FloatArray) -> float:
        rows = np.concatenate([self.white(signal), self.level])
        return float(np.linalg.lstsq(rows.T, self.signal, rcond=None)[0][0])

    def changes(self, bands: Band, delay: float, widths: FloatArray) -> FloatArray:
        """Derivatives of ``left`` by differences: (points, parameters and delay) array.

        ``bands``: the signal, then a pair of lanes for each parameter; ``widths``: their distance.
        """
        first, step = bands.lane(0), float(bands.step[0])
        near = (self.times - delay + step * np.array(PLACES)[:, None]).ravel()
        slopes = [-FOURTH @ sample(first, near[None]).reshape(len(PLACES), -1) / step]
        for at, width in enumerate(widths):
            pair = [
                sample(bands.lane(1 + 2 * at + k), (self.times - delay)[None])[0] for k in (0, 1)
            ]
            slopes.insert(at, (pair[0] - pair[1]) / width)
        return self.projected(sample(first, (self.times - delay)[None]), np.array(slopes))

    def projected(self, signal: FloatArray, slopes: FloatArray) -> FloatArray:
        """Derivatives of ``left`` from those of the simulated signal, (1, points) and (values,
        points) arrays: (points, values) array.

        What the projection itself changes is left out (Kaufman, BIT 15 (1975) 49; from memory).
        """
        basis = self._spanned(signal)
        white = -self._area(signal) * self.white(slopes.copy()).T
        return np.asarray(white - basis @ (basis.T @ white))
