"""How the numbers of a block of lanes stand in memory, so that one row holds what moves together.

Station m at one instant and station m - 1 at the next do not wait for each other. So a row of the
kernel holds several instants of a few lanes, each instant one station behind the one before it:
one lane fills a row with eight instants, eight lanes with one. For that the stations stand in
reverse, each with its lanes side by side::

    (8 - lanes)   station M-1   ...   station 1   station 0   (8 - lanes)
"""

from dataclasses import dataclass

import numpy as np

from tailrace.parts.tube.vector import LANES


@dataclass(frozen=True)
class Layout:
    """Where the stations of one node stand; those of the next node follow ``stride`` later.

    Parameters
    ----------
    stations : int
    lanes : int
        A power of two, at most LANES.
    """

    stations: int
    lanes: int

    @property
    def beyond(self):
        """Numbers at either end, for the stations that a row reaches into outside the tube. int."""
        return LANES - self.lanes

    @property
    def stride(self):
        """int. An even number of cache lines would crowd some parts of the cache."""
        rows = -(-(self.stations * self.lanes + 2 * self.beyond) // LANES)
        return LANES * (rows | 1)

    def placed(self, numbers, elsewhere):
        """Put numbers where the kernel looks for them.

        Parameters
        ----------
        numbers : (stations, lanes) array, any unit
        elsewhere : float, same unit
            Outside the tube.

        Returns
        -------
        (stride,) array, same unit
        """
        row = np.full(self.stride, elsewhere)
        row[self.beyond : self.beyond + numbers.size] = numbers[::-1].ravel()
        return row
