"""One measurement beside its simulation, which gets the same points, noise, baseline and window."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TypeVar

import numpy as np

from tailrace.errors import AccuracyError
from tailrace.journey.factors import Lacking, as_factors
from tailrace.journey.foretelling import march_seconds
from tailrace.journey.itinerary import Itinerary
from tailrace.journey.migration import not_by_products, stages_between
from tailrace.journey.product import UNRESOLVED, multiplied, not_multiplied, unresolved
from tailrace.journey.propagation import propagate, spread
from tailrace.measurements.baseline import Kind
from tailrace.measurements.evening import Even, evened
from tailrace.measurements.measuring import blank_run, free_stretches
from tailrace.measurements.noise import Noise, noise_of
from tailrace.measurements.signal import SignalError
from tailrace.measurements.spots import Spot, blank_stretches, found_spots, spot_at
from tailrace.measurements.treatment import Treatment, treatment, without_baseline
from tailrace.measures import Peaks
from tailrace.quantities.arrays import FloatArray
from tailrace.scenario.measured import MeasuredFile, as_measured, measured_files
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.target import StudyError, Where, number_at, place_of, with_numbers
from tailrace.signals.band import Band
from tailrace.signals.cubic import sample
from tailrace.studies.batch import MARCH, PRODUCT
from tailrace.studies.cases import joined, kin

FLOW: Where = ("method", "", "flow")
MOST_ROUNDS = 40
SLOWEST = 0.05
"""Change of what a delay lacks over that of the delay, below which no secant is trusted."""
CLOSE = 1e-7
"""Change of the delay over the interval between points, at which it counts as found."""


@dataclass(frozen=True, kw_only=True)
class Setup:
    """An instrument as it was for one measurement.

    ``base``: as the file has it; ``scenario``: as it was; ``stand_in``: whether factors stand in
    for parts that have none, so that the path is a product, and ``lacks``: what that lacks of the
    scenario as it was.
    """

    base: Scenario
    scenario: Scenario
    stand_in: bool = False
    lacks: Lacking | None = None

    def itinerary(self, where: Sequence[Where], values: Sequence[float]) -> Itinerary:
        """The journey with other values, SI, of fields of the scenario; a field that this
        measurement lacks, or gives a value of its own, stays as it is, but for the flow: what is
        wrong with a pump is in proportion."""
        document, places, new = self.scenario.document, [], []
        for one, value in zip(where, values, strict=True):
            here, there = number_at(document, one), number_at(self.base.document, one)
            place = place_of(document, one)
            if place is None or here is None or not (here == there or one == FLOW):
                continue
            places.append(place)
            new.append(float(value) * (here / there if there and here != there else 1.0))
        changed = with_numbers(document, places, new) if places else document
        return replace(self.scenario, document=changed).itinerary()

    def stood(self, journey: Itinerary) -> Itinerary:
        """A journey, or several side by side, as a product of factors where these stand in."""
        if not self.stand_in:
            return journey
        return replace(journey, passages=tuple(as_factors(journey.passages)))

    def signals(self, where: Sequence[Where], rows: Sequence[Sequence[float]]) -> Band:
        """What is recorded with other values, a row a lane; raises as of ``signals``."""
        return self.recorded([self.itinerary(where, row) for row in rows])

    def recorded(self, journeys: Sequence[Itinerary]) -> Band:
        """The same of journeys made by ``itinerary``."""
        band = signals(journeys, self.stood)
        return band if self.lacks is None else self.lacks.brought(band)

    def concerned(self, where: Where) -> bool:
        """Whether a field of the scenario matters for this measurement."""
        here = number_at(self.scenario.document, where)
        return here is not None and (where == FLOW or here == number_at(self.base.document, where))


@dataclass(frozen=True, kw_only=True)
class Bench(Setup):
    """A measurement, ready to be simulated.

    ``even``: the signal; a blank run or a smooth baseline is off already.
    """

    file: MeasuredFile
    even: Even
    noise: Noise
    way: Treatment

    @property
    def name(self) -> str:
        """Of the measurement."""
        return self.file.row.name

    @cached_property
    def linear(self) -> bool:
        """Whether parts may change places without a trace."""
        return not any(
            part.focuses or (part.separates and part.no_transfer(stream))
            for part, stream in self.scenario.itinerary().passages
        )

    @cached_property
    def times(self) -> FloatArray:
        """Of window and blank stretches, (points,) array, s."""
        return self.even.times[slice(*self.way.spot.whole)]

    @cached_property
    def segment(self) -> FloatArray:
        """The signal there, (1, points) array, unit of the signal."""
        return self.way.cut(self.even.values[None])

    @cached_property
    def peak(self) -> Band:
        """The measured peak without its baseline."""
        return self.way.band(self.segment)


@dataclass(frozen=True, kw_only=True)
class Match:
    """A simulated signal laid upon a measured one.

    Parameters
    ----------
    delay : float, s
        By which the measured time runs late.
    area : float, unit of the signal times s
        Of the simulated signal that fits best.
    values : (points,) array, unit of the signal
        The simulated signal at the times of window and blank stretches.
    slopes : (2, points) array, as stated
        Treated as the signal: change with the area, 1/s, and with the delay, unit of the signal/s.
    """

    delay: float
    area: float
    values: FloatArray
    slopes: FloatArray

    def moved(self, treated: FloatArray) -> FloatArray:
        """What noise, (draws, points) treated as the signal, changes: (2, draws) array, area and
        delay."""
        return np.asarray(np.linalg.lstsq(self.slopes.T, treated.T, rcond=None)[0])


Standing = TypeVar("Standing", bound=Setup)


def benches(scenario: Scenario) -> list[Bench]:
    """Every measurement of a scenario.

    Raises StudyError without ``[[measured]]``. Raises SignalError where a signal holds no peak.
    """
    files = measured_files(scenario)
    if not files:
        raise StudyError(
            f"{scenario.path}: expected measured signals, found no [[measured]]; add name and file "
            "below [[measured]]"
        )
    return [_bench(scenario, one) for one in files]


def standing(
    bench: Standing,
    where: Sequence[Where] = (),
    values: Sequence[float] = (),
    computed: Band | None = None,
    engine: str = PRODUCT,
) -> Standing:
    """The same as a product of factors, which agrees with what is computed where the fields have
    these values; ``computed``: that, where it is at hand; ``engine``: as of ``signals``, which it
    raises as."""
    exact = replace(bench, stand_in=False, lacks=None)
    setup = replace(exact, stand_in=True)
    journey = exact.itinerary(where, values)
    if computed is not None or engine == MARCH or not_multiplied(spread(journey)):
        band = signals([journey], engine=engine) if computed is None else computed
        return replace(setup, lacks=Lacking.between(band, setup.signals(where, [values])))
    return setup


def marched_seconds(scenario: Scenario, engine: str = PRODUCT) -> float:
    """How long what is marched takes once for each measurement, at most; s."""
    found = 0.0
    for file in measured_files(scenario):
        journey = as_measured(scenario, file).itinerary()
        if not_multiplied(passages := spread(journey)) or engine == MARCH:
            found += march_seconds(passages, journey.resolution)
    return found


def edged(scenario: Scenario) -> bool:
    """Whether a measurement has an edge that no product resolves, so that each curve is marched."""
    journeys = (as_measured(scenario, one).itinerary() for one in measured_files(scenario))
    paths = [spread(one) for one in journeys]
    return any(not not_multiplied(one) and unresolved(one) for one in paths)


def signals(
    itineraries: Sequence[Itinerary],
    stood: Callable[[Itinerary], Itinerary] | None = None,
    engine: str = PRODUCT,
) -> Band:
    """What each of several journeys of one solute records, as finely as it is computed: a lane
    each; as a product of transfer functions where that can be and ``engine`` does not say that all
    is marched, or as it is ``stood`` in for.

    Raises BudgetError or AccuracyError as of ``tailrace.journey.travel``.
    """
    if len(groups := kin(itineraries)) > 1:
        lanes: dict[int, Band] = {}
        for group in groups:
            band = signals([itineraries[at] for at in group], stood, engine)
            lanes |= {at: band.lane(lane) for lane, at in enumerate(group)}
        return Band.joined([lanes[at] for at in range(len(itineraries))])
    whole = joined(itineraries) if len(itineraries) > 1 else itineraries[0]
    if stood is not None:
        whole = stood(whole)
    passages = spread(whole)
    if engine == PRODUCT and not not_multiplied(passages):
        band, bound = multiplied(passages)
        if np.all(bound <= UNRESOLVED):
            return band
    columns = engine == PRODUCT and any(part.focuses for part, _ in passages)
    if columns and not not_by_products(passages):
        found = stages_between(passages, whole.resolution)[0][-1].band
    else:
        found = propagate(passages, whole.resolution)[-1].band
    assert found is not None
    return found


def matched(bench: Bench, band: Band) -> Match:
    """Lay a simulated signal, one lane, upon the measured one: delay and area by least squares.

    Both are treated alike; the injector's delay and the detector's response are thus left open.
    Raises AccuracyError where no delay and area bring them together.
    """
    way, target = bench.way, bench.peak
    delay = float(Peaks(target).outlines.apex[0] - Peaks(band).outlines.apex[0])
    width = band.step[0] * np.count_nonzero(band.values[0] > band.values[0].max() / 2)
    small, before = 0.5 * float(band.step[0]), (0.0, 0.0)
    for _ in range(MOST_ROUNDS):
        rows = np.concatenate([bench.times - delay + shift for shift in (0.0, small, -small)])
        one, later, sooner = sample(band, rows[None]).reshape(3, -1)
        basis = way.band(np.stack([one, (later - sooner) / (2 * small)])).values
        (area, turned), *_ = np.linalg.lstsq(basis.T, target.values[0], rcond=None)
        if not area > 0:
            break
        off = float(turned / area)
        if abs(off) < CLOSE * bench.even.step:
            slopes = np.stack([basis[0], -area * basis[1]])
            return Match(delay=delay, area=float(area), values=area * one, slopes=slopes)
        # of curves that differ in shape the slopes say too little of the step: a secant does
        rate = (off - before[1]) / (delay - before[0]) if before[1] and delay != before[0] else 1.0
        before = delay, off
        delay -= float(np.clip(off / rate if rate > SLOWEST else off, -width / 2, width / 2))
    raise AccuracyError(
        f"{bench.name}: no delay brings the simulated signal upon the measured one: they have "
        "nothing in common; check the file, its unit of time and what was taken out"
    )


def _bench(scenario: Scenario, file: MeasuredFile) -> Bench:
    row, even = file.row, evened(file.signal)
    if file.blank is not None:
        even = replace(even, values=even.values - blank_run(even, file.blank))
    kind: Kind = "constant" if file.blank is not None else row.baseline  # type: ignore[assignment]
    spot, spots = _spot(even, file)
    if row.window is None:
        stretches = blank_stretches(spots, even.values.size)
    else:
        stretches = [*free_stretches(even, spot), spot.before, spot.behind]
    noise = noise_of(even.values, even.step, stretches)
    if row.window is None:
        spot, spots = _spot(even, file, noise)
    start, end = even.times[spot.window[0]], even.times[spot.window[1] - 1]
    if spot.clipped or even.broken(start, end):
        raise SignalError(
            f"{file.signal.name}: expected a whole peak, found one "
            f"{'that is clipped' if spot.clipped else 'with a gap'}; measure it again"
        )
    even = without_baseline(even, kind, spots, noise)
    return Bench(
        file=file,
        base=scenario,
        scenario=as_measured(scenario, file),
        even=even,
        noise=noise,
        way=treatment(even, spot, kind),
    )


def _spot(even: Even, file: MeasuredFile, noise: Noise | None = None) -> tuple[Spot, list[Spot]]:
    """The highest peak, or that of the window, and all peaks."""
    if file.row.window is not None:
        one = spot_at(even, *file.row.window)
        return one, [one]
    found = found_spots(even, noise)
    if not found:
        raise SignalError(
            f"{file.signal.name}: expected a peak that stands out of the noise, found none; give a "
            "window if there is one"
        )
    return max(found, key=lambda one: float(even.values[one.apex])), found
