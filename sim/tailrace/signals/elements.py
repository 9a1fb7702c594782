"""A band as elements, each of which leaves by its own clock: its spectrum and its cumulants."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from tailrace.quantities.arrays import ComplexArray, FloatArray, IntArray
from tailrace.signals.cumulants import Cumulants
from tailrace.signals.spectra import tanks

SILENT = 1e-13
"""Of the largest: elements below have no say."""
AT_ONCE = 1 << 20


@dataclass(frozen=True, eq=False)
class Elements:
    """The elements of a band that passes a column: amounts, s as they enter, and as they leave.

    (lanes, elements) arrays; ``tanks_behind`` (tanks, lanes) array, s: they pass these together.
    """

    amounts: FloatArray
    entering: FloatArray
    leaving: FloatArray
    variance: FloatArray
    tanks_behind: FloatArray

    def spectrum(self, omega: FloatArray, lanes: IntArray) -> ComplexArray:
        """Of what leaves, of some lanes; omega of all, (lanes, frequencies) arrays."""
        omega = omega[lanes]
        found = np.zeros(omega.shape, dtype=complex)
        for one, lane in enumerate(lanes.tolist()):
            amount = self.amounts[lane]
            loud = np.abs(amount) > SILENT * np.abs(amount).max()
            entering, variance = self.entering[lane, loud], self.variance[lane, loud]
            way = self.leaving[lane, loud] - entering
            many = max(AT_ONCE // way.size, 1)
            for at in range(0, omega.shape[1], many):
                turned = 1j * omega[one, at : at + many, None]
                exponent = way**2 / variance * (1 - np.sqrt(1 + 2 * turned * variance / way))
                found[one, at : at + many] = np.exp(exponent - turned * entering) @ amount[loud]
        for time in self.tanks_behind:
            found = found * tanks(omega, time[lanes], 1)
        return found

    @cached_property
    def cumulants(self) -> Cumulants:
        """Of the band that leaves; it has no textbook variance of its own."""
        share = self.amounts / self.amounts.sum(axis=1, keepdims=True)
        mean = (share * self.leaving).sum(axis=1)
        late = self.leaving - mean[:, None]
        third = late**3 + 3 * late * self.variance
        third = third + 3 * self.variance**2 / (self.leaving - self.entering)
        variance = (share * (late**2 + self.variance)).sum(axis=1)
        variance = variance + np.square(self.tanks_behind).sum(axis=0)
        return Cumulants(
            mean=mean + self.tanks_behind.sum(axis=0),
            gaussian_variance=variance,
            variance=variance,
            third=(share * third).sum(axis=1) + 2 * (self.tanks_behind**3).sum(axis=0),
        )
