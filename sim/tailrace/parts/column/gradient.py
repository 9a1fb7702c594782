"""A column run with a gradient of composition: k falls while the solute is on its way."""

from dataclasses import dataclass, replace
from typing import Any, Self, TypeVar

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.parts.column.gradient_elution import Elution, eluted
from tailrace.parts.column.part import Column
from tailrace.quantities.arrays import FloatArray, Number

Record = TypeVar("Record", "GradientColumn", Stream)

LEAST_FACTOR, MOST_FACTOR = 1e-5, 1e26
"""k is kept within these: below the first a solute is as good as unretained (its time is off by
1e-5 of the dead time), above the last it does not move."""


@dataclass(frozen=True, kw_only=True)
class GradientColumn(Column):
    """A column, the programme of the gradient, and what the solutes make of it.

    Linear solvent strength: log10 k = log10 kw - S phi, phi the volume fraction of the strong
    liquid (Snyder, Dolan and Gant, J. Chromatogr. 165 (1979) 3). The composition is taken to
    travel unretained and not to disperse. ``retention_factor`` of the
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

    manner = "gradient"
    in_gradient = True

    @property
    def gradient_time(self) -> float:
        """From the first point of the programme to its strongest composition. float, s."""
        strongest = int(np.argmax(self.programme_fractions))
        return float(self.programme_times[strongest] - self.programme_times[0])

    def no_transfer(self, stream: Stream) -> str:
        """What it does depends on when the band enters."""
        return f"{self.name} is run with a gradient"

    def met_at(self, time: FloatArray, stream: Stream) -> Self:
        """The same column for a band that enters at this time ((lanes,) array, s), called zero."""
        return replace(self, dwell_volume=self.dwell_volume - time * stream.flow_rate)

    def standing(self, before: Number, between: Number) -> Self:
        """The same column, to which the composition comes through the columns before it."""
        return replace(self, dwell_volume=self.dwell_volume + between)

    def lines(self, stream: Stream) -> tuple[FloatArray, FloatArray]:
        """ln(1/k) of what enters the bed, as straight lines in time.

        Returns
        -------
        times : (lanes, points) array, s
            Never falling; where two are the same, the composition jumps.
        levels : (lanes, points) array, 1
            Between -ln MOST_FACTOR and -ln LEAST_FACTOR, with a point wherever a line meets these.
        """
        # the liquid waits in the inlet's head as long as the band does
        delay = (self.dwell_volume + self.head_volume) / np.asarray(stream.flow_rate, dtype=float)
        times = np.asarray(self.programme_times) + _lanes(delay, stream, self)[:, None]
        weak, strength = _lanes(self.weak_factor, stream, self), _lanes(self.strength, stream, self)
        levels = np.log(10) * strength[:, None] * np.asarray(self.programme_fractions)
        levels = levels - np.log(weak)[:, None]
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

    def elution(self, stream: Stream) -> Elution:
        """How a narrow band that enters the column at time zero passes its bed."""
        times, levels = self.lines(stream)
        head = _lanes(self.head_time(stream), stream, self)
        dead_time = _lanes(self.dead_time(stream), stream, self)
        return eluted(times - head[:, None], levels, dead_time)

    def variance_passed(self, stream: Stream) -> FloatArray:
        """As of ``Elution.variance_passed``. (lanes,) array, 1."""
        return self.elution(stream).variance_passed

    def residence(self, stream: Stream) -> FloatArray:
        """Time in the column of a band that enters at time zero. (lanes,) array, s."""
        return self.elution(stream).retention + 2 * self.head_time(stream)

    def plates_of_bed(self, stream: Stream) -> FloatArray:
        """The plates given: k falls on the way, and what heads take at no fixed k is not known."""
        return np.asarray(self.plates, dtype=float)

    def plates_at(self, factor: FloatArray, stream: Stream) -> FloatArray:
        """Plates that the column has, isocratic, where k is this.

        Parameters
        ----------
        factor : (lanes, points) array, 1
        stream : Stream

        Returns
        -------
        (lanes, points) array, 1
        """
        lanes, points = factor.shape

        def repeated(record: Record) -> Record:
            numbers: dict[str, Any] = {}
            for name, value in vars(record).items():
                if name.startswith("programme") or isinstance(value, str | None):
                    continue
                if np.ndim(value) == 1:
                    numbers[name] = np.repeat(np.broadcast_to(value, lanes), points)
            return replace(record, **numbers)

        column, passing = repeated(self), repeated(stream)
        passing = replace(passing, retention_factor=factor.ravel())
        plates = np.broadcast_to(column.plate_number(passing), (lanes * points,))
        return plates.reshape(lanes, points)


def _lanes(value: Number, stream: Stream, column: GradientColumn) -> FloatArray:
    """A number as a (lanes,) array."""
    numbers = (value, column.weak_factor, column.strength, stream.flow_rate, stream.diffusivity)
    lanes = np.broadcast(*numbers).size
    return np.broadcast_to(np.asarray(value, dtype=float), (lanes,))
