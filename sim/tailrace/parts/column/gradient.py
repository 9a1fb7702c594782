"""Columns whose liquid changes on the way of solutes: a gradient, a solvent of the sample's own."""

from dataclasses import dataclass, replace
from typing import Any, Self, TypeVar

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.parts.base import Passage
from tailrace.parts.column.gradient_elution import Elution, eluted, left_column
from tailrace.parts.column.part import Column
from tailrace.quantities.arrays import FloatArray, Number

Record = TypeVar("Record", "MigrationColumn", Stream)

LEAST_FACTOR, MOST_FACTOR = 1e-5, 1e26
"""k is kept within these: below the first a solute is as good as unretained (its time is off by
1e-5 of the dead time), above the last it does not move."""
RINSED, RINSING_POINTS = 12.0, 121
"""The sample's solvent leaves a mixed volume as exp(-t/w): followed for so many w, on so many
straight lines."""
BENDS = 4.0
"""Samples of a band that is bent, over those of a smooth one."""
WAYS = 200
"""Elements of a band that are followed to find how much of it is focused."""
EVENLY, WEIGHTS = np.polynomial.legendre.leggauss(40)
NORMALLY, NORMAL_SHARES = np.polynomial.hermite_e.hermegauss(20)
NORMAL_SHARES = NORMAL_SHARES / np.sum(NORMAL_SHARES)


@dataclass(frozen=True, kw_only=True)
class MigrationColumn(Column):
    """A column through which every element of the band migrates by its own clock.

    The composition is taken to travel unretained and not to disperse.

    Parameters
    ----------
    sample_factor : scalar or (lanes,) array, 1
        k in the solvent of the sample; NaN: as in what surrounds it.
    sample_volume, sample_washout : scalar or (lanes,) array, m^3
        Of that solvent as the injector lets it go, a plug and the mixed volume behind it.
    sample_delay : scalar or (lanes,) array, m^3
        From the injection to the inlet of the column.
    """

    sample_factor: Number = float("nan")
    sample_volume: Number = 0.0
    sample_washout: Number = 0.0
    sample_delay: Number = 0.0

    manner = "gradient"
    focuses = True

    @property
    def bent_band(self) -> bool:  # type: ignore[override]
        """Where the sample's solvent ends."""
        return bool(np.any(np.isfinite(self.sample_factor)))

    @property
    def of_solutes(self) -> tuple[Number, ...]:
        """Numbers of which there may be one a lane."""
        return ()

    def no_transfer(self, stream: Stream) -> str:
        """What it does depends on when the band enters."""
        why = "with a gradient" if self.in_gradient else "with a sample in a solvent of its own"
        return f"{self.name} is run {why}"

    def as_factor(self, stream: Stream, mean: Number = 0.0, variance: Number = 0.0) -> Passage:
        """A column that holds a band as long and spreads it as much."""
        dead = self.dead_time(stream)
        held = np.maximum(mean / dead - 1, 0.0)
        plain = Column(
            name=self.name,
            bore=self.bore,
            length=self.length,
            particle_diameter=self.particle_diameter,
            porosity=self.total_porosity,
            plates=np.square((1 + held) * dead) / variance,
        )
        return plain, replace(stream, retention_factor=held)

    def met_at(self, time: FloatArray, stream: Stream) -> Self:
        """The same column for a band that enters at this time ((lanes,) array, s), called zero."""
        return replace(self, sample_delay=self.sample_delay - time * stream.flow_rate)

    def standing(self, before: Number, between: Number) -> Self:
        """The same column, to which the sample's solvent comes through all that is before it."""
        return replace(self, sample_delay=self.sample_delay + before)

    def programme(self, stream: Stream) -> tuple[FloatArray, FloatArray]:
        """ln(1/k) at the inlet of the bed without the sample, as straight lines in time.

        Times (lanes, points) in s and levels (lanes, points) in 1.
        """
        factor = np.maximum(np.asarray(stream.retention_factor, dtype=float), LEAST_FACTOR)
        levels = -np.log(_lanes(factor, stream, self))[:, None]
        return np.zeros_like(levels), levels

    def window(self, stream: Stream) -> FloatArray:
        """When the sample's solvent begins and ends to enter the bed, and w. (3, lanes) array, s.

        It waits in the inlet's head as long as the band does.
        """
        begin = self.sample_delay + np.asarray(self.head_volume)
        rows = (begin, begin + self.sample_volume, self.sample_washout)
        flow = np.asarray(stream.flow_rate, dtype=float)
        return np.stack([_lanes(row / flow, stream, self) for row in rows])

    def lines(self, stream: Stream) -> tuple[FloatArray, FloatArray]:
        """ln(1/k) of what enters the bed, as straight lines in time.

        Returns
        -------
        times : (lanes, points) array, s
            Never falling; where two are the same, the composition jumps.
        levels : (lanes, points) array, 1
            Between -ln MOST_FACTOR and -ln LEAST_FACTOR, with a point wherever a line meets these.
        """
        times, levels = self.programme(stream)
        if np.any(np.isfinite(self.sample_factor)):
            times, levels = self._with_sample(times, levels, stream)
        spans, rises = np.diff(times)[..., None], np.diff(levels)[..., None]
        bounds = -np.log([MOST_FACTOR, LEAST_FACTOR])
        shares = (bounds - levels[:, :-1, None]) / np.where(rises == 0, np.inf, rises)
        shares = np.concatenate([np.zeros_like(rises), np.clip(shares, 0, 1)], axis=-1)
        shares = np.sort(shares, axis=-1)
        rows = len(times)
        inner = (times[:, :-1, None] + spans * shares).reshape(rows, -1)
        risen = (levels[:, :-1, None] + rises * shares).reshape(rows, -1)
        levels = np.clip(np.column_stack([risen, levels[:, -1]]), *bounds)
        return np.column_stack([inner, times[:, -1]]), levels

    def _with_sample(
        self, times: FloatArray, levels: FloatArray, stream: Stream
    ) -> tuple[FloatArray, FloatArray]:
        """The lines with those of the sample's solvent in their place while it enters.

        Behind the plug it is mixed with what follows, and ln k with its share (linear solvent
        strength).
        """
        begin, end, rinsing = self.window(stream)
        own = -np.log(np.maximum(_lanes(self.sample_factor, stream, self), LEAST_FACTOR))[:, None]
        share = np.linspace(0.0, RINSED, RINSING_POINTS if np.any(rinsing > 0) else 1)
        behind = end[:, None] + rinsing[:, None] * share
        inside = np.column_stack([begin, behind])
        before, after = (
            np.minimum(times, begin[:, None]),
            np.maximum(times, behind[:, -1:]),
        )
        found = [np.column_stack([before, begin]), inside, np.column_stack([behind[:, -1], after])]
        base = [
            np.stack([np.interp(*row) for row in zip(part, times, levels, strict=True)])
            for part in found
        ]
        basis = np.column_stack(
            [np.ones_like(begin), np.broadcast_to(np.exp(-share), behind.shape)]
        )
        mixed = base[1] + np.where(np.isnan(own), 0.0, own - base[1]) * basis
        # a row of the programme that stays where it was keeps its side of a step
        ends = (
            np.where(before == times, levels, base[0][:, :-1]),
            np.where(after == times, levels, base[2][:, 1:]),
        )
        rows = [ends[0], base[0][:, -1:], mixed, base[2][:, :1], ends[1]]
        return np.column_stack(found), np.column_stack(rows)

    def bed_time(self, stream: Stream) -> FloatArray:
        """Dead time less its share of the tail, which comes behind the bed. (lanes,) array, s."""
        tail = self.tail_time(stream) / self.retention_time(stream)
        return np.asarray(self.dead_time(stream) * (1 - tail))

    def elution(self, stream: Stream) -> Elution:
        """How a narrow band that enters the column at time zero passes its bed."""
        times, levels = self.lines(stream)
        head = _lanes(self.head_time(stream), stream, self)
        dead_time = _lanes(self.bed_time(stream), stream, self)
        return eluted(times - head[:, None], levels, dead_time)

    def variance_passed(self, stream: Stream, variance: Number = 0.0) -> FloatArray:
        """As of ``Elution.variance_passed``. (lanes,) array, 1.

        Of the band that enters around time zero only what enters with the sample's solvent is
        focused by it: the band is taken to begin as that solvent does, and to be blurred by a
        Gaussian to its variance ((lanes,) array, s^2).
        """
        if not np.any(np.isfinite(self.sample_factor)):
            return self.elution(stream).variance_passed
        times, shares = self._entering(stream, variance)
        low, high = np.min(times, axis=(1, 2)), np.max(times, axis=(1, 2))
        knots, levels = self.lines(stream)
        knots = knots - _lanes(self.head_time(stream), stream, self)[:, None]
        dead_time = _lanes(self.bed_time(stream), stream, self)
        grid = np.linspace(low, high, WAYS, axis=1)
        leaving = left_column(knots, levels, dead_time, grid)
        rows = zip(times, grid, leaving, strict=True)
        left = np.stack([np.interp(*row) for row in rows])

        def spread(one: FloatArray) -> FloatArray:
            one = one - np.sum(shares * one, axis=(1, 2), keepdims=True)
            return np.asarray(np.sum(shares * one**2, axis=(1, 2)))

        return spread(left) / spread(times)

    def _entering(self, stream: Stream, variance: Number) -> tuple[FloatArray, FloatArray]:
        """When the band of ``variance_passed`` enters, and how much of it; (lanes, n, m) arrays."""
        begin, end, rinsing = self.window(stream)[..., None]
        even, plug = (EVENLY + 1) / 2, end - begin
        times = np.column_stack([plug * even, plug + rinsing * RINSED * even])
        shares = np.column_stack(
            [plug * WEIGHTS, rinsing * RINSED * WEIGHTS * np.exp(-RINSED * even)]
        )
        shares = shares / np.sum(shares, axis=1, keepdims=True)
        times = times - np.sum(shares * times, axis=1, keepdims=True)
        own = np.sum(shares * times**2, axis=1)
        whole = np.maximum(_lanes(variance, stream, self), 1e-9 * own)
        times = times * np.sqrt(np.minimum(1.0, whole / own))[:, None]
        blur = np.sqrt(np.maximum(whole - own, 0.0))[:, None, None]
        return times[..., None] + blur * NORMALLY, shares[..., None] * NORMAL_SHARES

    def first_step(self, step: Number, edged: bool, stream: Stream) -> FloatArray:
        """As of a column; where the sample's solvent ends, the band is bent."""
        fine = super().first_step(step, edged, stream)
        return np.where(np.isfinite(self.sample_factor), np.maximum(step, fine / BENDS), fine)

    def residence(self, stream: Stream) -> FloatArray:
        """Time in the column of a band that enters at time zero. (lanes,) array, s."""
        behind = self.tail_time(stream) + 2 * self.head_time(stream)
        return np.asarray(self.elution(stream).retention + behind)

    def plates_at(self, factor: FloatArray, stream: Stream) -> FloatArray:
        """Plates that the bed has, isocratic and without its tail, where k is this.

        Parameters
        ----------
        factor : (lanes, points) array, 1

        Returns
        -------
        (lanes, points) array, 1
        """
        lanes, points = factor.shape
        of_bed = replace(self, plates=self.plates_of_bed(stream), plates_include_head=False)
        if not np.isnan(self.plates).any():
            of_bed = replace(of_bed, column_tailing=float("nan"))  # plates by variance already

        def repeated(record: Record) -> Record:
            numbers: dict[str, Any] = {}
            for name, value in vars(record).items():
                if name.startswith("programme") or isinstance(value, str | None):
                    continue
                if np.ndim(value) == 1:
                    numbers[name] = np.repeat(np.broadcast_to(value, lanes), points)
            return replace(record, **numbers)

        column, passing = repeated(of_bed), repeated(stream)
        passing = replace(passing, retention_factor=factor.ravel())
        plates = np.broadcast_to(column.plate_number(passing), (lanes * points,))
        plates = plates.reshape(lanes, points)
        if np.isnan(self.column_tailing).all():
            return plates
        from tailrace.parts.column.tailing import tail_share

        tailing = _lanes(self.column_tailing, stream, self)[:, None]
        share = tail_share(*np.broadcast_arrays(tailing, plates))
        return np.asarray(plates * (1 - share / np.sqrt(plates)) ** 2 / (1 - share**2))


@dataclass(frozen=True, kw_only=True)
class GradientColumn(MigrationColumn):
    """A column, the programme of the gradient, and what the solutes make of it.

    Linear solvent strength: log10 k = log10 kw - S phi, phi the volume fraction of the strong
    liquid (Snyder, Dolan and Gant, J. Chromatogr. 165 (1979) 3). ``retention_factor`` of the
    stream is not read.

    Parameters
    ----------
    weak_factor : scalar or (lanes,) array, 1
        kw: k in the weak liquid alone, extrapolated to phi = 0.
    strength : scalar or (lanes,) array, 1
        S, decadic: decades by which k falls from phi = 0 to phi = 1.
    programme_times : (points,) array, s
        From the start of the injection, where the liquids meet; never falling.
    programme_fractions : (points,) array, 1
        phi at those times, straight between them, constant before and behind.
    dwell_volume : scalar or (lanes,) array, m^3
        From where the liquids meet to the inlet of this column, whatever stands before it.
    """

    weak_factor: Number
    strength: Number
    programme_times: FloatArray
    programme_fractions: FloatArray
    dwell_volume: Number = 0.0

    in_gradient = True

    @property
    def of_solutes(self) -> tuple[Number, ...]:
        """Numbers of which there may be one a lane."""
        return self.weak_factor, self.strength

    @property
    def gradient_time(self) -> float:
        """From the first point of the programme to its strongest composition. float, s."""
        strongest = int(np.argmax(self.programme_fractions))
        return float(self.programme_times[strongest] - self.programme_times[0])

    def met_at(self, time: FloatArray, stream: Stream) -> Self:
        """The same column for a band that enters at this time ((lanes,) array, s), called zero."""
        there = super().met_at(time, stream)
        return replace(there, dwell_volume=self.dwell_volume - time * stream.flow_rate)

    def standing(self, before: Number, between: Number) -> Self:
        """The same column, to which the composition comes through the columns before it."""
        stands = super().standing(before, between)
        return replace(stands, dwell_volume=self.dwell_volume + between)

    def programme(self, stream: Stream) -> tuple[FloatArray, FloatArray]:
        """As of ``MigrationColumn``: the gradient's."""
        # the liquid waits in the inlet's head as long as the band does
        delay = (self.dwell_volume + self.head_volume) / np.asarray(stream.flow_rate, dtype=float)
        times = np.asarray(self.programme_times) + _lanes(delay, stream, self)[:, None]
        weak, strength = _lanes(self.weak_factor, stream, self), _lanes(self.strength, stream, self)
        levels = np.log(10) * strength[:, None] * np.asarray(self.programme_fractions)
        return times, levels - np.log(weak)[:, None]

    def plates_of_bed(self, stream: Stream) -> FloatArray:
        """The plates given: k falls on the way, and what heads take at no fixed k is not known."""
        return np.asarray(self.plates, dtype=float)


def _lanes(value: Number, stream: Stream, column: MigrationColumn) -> FloatArray:
    """A number as a (lanes,) array."""
    numbers: list[Number] = [value, column.sample_factor, stream.flow_rate, stream.diffusivity]
    numbers += [stream.retention_factor, *column.of_solutes]
    return np.broadcast_to(np.asarray(value, dtype=float), (np.broadcast(*numbers).size,))
