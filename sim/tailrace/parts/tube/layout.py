"""How the numbers of a block of lanes stand in memory, so that one row holds what moves together.

Axial step m at one time step and axial step m - 1 at the next do not wait for each other. So a row
of the kernel holds several time steps of a few lanes, each one axial step behind the one before
it: one lane fills a row with eight time steps, eight lanes with one. For that the axial steps stand
in reverse, each with its lanes side by side::

    (8 - lanes)   step M-1   ...   step 1   step 0   (8 - lanes)
"""

from dataclasses import dataclass

import numpy as np

from tailrace.parts.tube.vector import LANES
from tailrace.quantities.arrays import FloatArray


@dataclass(frozen=True)
class Layout:
    """Where the axial steps of one node stand; those of the next node follow ``stride`` later.

    Parameters
    ----------
    lanes : int
        A power of two, at most LANES.
    """

    steps: int
    lanes: int

    @property
    def beyond(self) -> int:
        """Numbers at either end, for the steps that a row reaches into outside the tube."""
        return LANES - self.lanes

    @property
    def stride(self) -> int:
        """An even number of cache lines would crowd some parts of the cache."""
        rows = -(-(self.steps * self.lanes + 2 * self.beyond) // LANES)
        return LANES * (rows | 1)

    def placed(self, numbers: FloatArray, elsewhere: float) -> FloatArray:
        """Put numbers where the kernel looks for them.

        Parameters
        ----------
        numbers : (steps, lanes) array, any unit
        elsewhere : float, same unit
            Outside the tube.

        Returns
        -------
        (stride,) array, same unit
        """
        row = np.full(self.stride, elsewhere)
        row[self.beyond : self.beyond + numbers.size] = numbers[::-1].ravel()
        return row
