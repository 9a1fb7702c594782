"""The one interpolation of the project: four-point cubic, and its transpose.

``f(t) = sum_k f_k phi((t - t_k) / h)`` passes a cubic through four neighbours (Lagrange). Because
phi reproduces polynomials up to the third degree, its transpose (``spread``: each amount is shared
out over four neighbours) keeps the amount, the mean, the variance and the third moment of whatever
it puts on a grid, exactly and for any step. Every band enters and changes grids this way, so no
grid ever adds to a variance. Keys, IEEE Trans. Acoust. 29 (1981) 1153 treats such kernels.
"""

import numpy as np

from tailrace.quantities.arrays import FloatArray
from tailrace.signals.band import Band

# Rows: powers 0 to 3 of the offset u in [0, 1) after the second of four neighbours;
# columns: weights of the neighbours -1, 0, 1, 2.
CUBIC = np.array(
    [
        [0.0, 1.0, 0.0, 0.0],
        [-1 / 3, -1 / 2, 1.0, -1 / 6],
        [1 / 2, -1.0, 1 / 2, 0.0],
        [-1 / 6, 1 / 2, -1 / 2, 1 / 6],
    ]
)


AT_ONCE = 1 << 17
"""Points that are read together."""


def neighbour_weights(offset: FloatArray) -> FloatArray:
    """Weights of the neighbours -1, 0, 1, 2 at offsets in [0, 1). (..., 4) array, 1."""
    powers: FloatArray = np.stack([np.ones_like(offset), offset, offset**2, offset**3], axis=-1)
    return np.asarray(powers @ CUBIC)


def spread(positions: FloatArray, amounts: FloatArray, count: int) -> FloatArray:
    """Share amounts at any positions out over a grid.

    Parameters
    ----------
    positions : (lanes, points) array, 1
        In steps from the first grid point; between 1 and count - 3.
    amounts : (lanes, points) array, any unit

    Returns
    -------
    (lanes, count) array, unit of the amounts
    """
    whole = np.floor(positions).astype(np.int64)
    shares = neighbour_weights(positions - whole) * amounts[..., None]
    lanes = positions.shape[0]
    row = np.arange(lanes)[:, None, None] * count
    flat = (row + whole[..., None] + np.arange(-1, 3)).ravel()
    whole_grid = np.bincount(flat, shares.ravel(), lanes * count).reshape(lanes, count)
    return np.asarray(whole_grid, dtype=float)


def spread_by_cell(offsets: FloatArray, amounts: FloatArray) -> FloatArray:
    """Share amounts out over a grid where it is known between which points they lie.

    Parameters
    ----------
    offsets : (lanes, cells, points) array, 1
        In steps from the point before, between 0 and 1.
    amounts : (lanes, cells, points) array, any unit

    Returns
    -------
    (lanes, cells + 3) array, unit of the amounts
        From the grid point before that of the first cell on. The same as ``spread``, at a fraction
        of the cost: what counts of a cell are its amounts times powers of the offsets.
    """
    lanes, cells, _ = offsets.shape
    powers = np.empty((lanes, cells, 4))
    for power in range(4):
        powers[..., power] = amounts.sum(axis=-1)
        amounts = amounts * offsets
    shares, whole = powers @ CUBIC, np.zeros((lanes, cells + 3))
    for place in range(4):
        whole[:, place : place + cells] += shares[..., place]
    return whole


def padded(values: FloatArray, before: int, behind: int) -> FloatArray:
    """Samples with zeros around them; ``numpy.pad`` takes several times as long for a few."""
    lanes, count = values.shape
    wide = np.zeros((lanes, before + count + behind))
    wide[:, before : before + count] = values
    return wide


def sample(band: Band, times: FloatArray) -> FloatArray:
    """Read a band at any times.

    Parameters
    ----------
    times : (lanes, points) array, s

    Returns
    -------
    (lanes, points) array, 1/s
        Zero outside the band.
    """
    at_once = max(AT_ONCE // band.lanes, 1)
    if times.shape[1] > at_once:  # each takes some 300 bytes
        slices = (times[:, at : at + at_once] for at in range(0, times.shape[1], at_once))
        return np.concatenate([sample(band, one) for one in slices], axis=1)
    position = (times - band.start[:, None]) / band.step[:, None]
    whole = np.floor(position).astype(np.int64)
    weights = neighbour_weights(position - whole)
    index = whole[..., None] + np.arange(-1, 3)
    weights *= (index >= 0) & (index < band.values.shape[1])
    rows = np.arange(band.lanes)[:, None, None]
    near = band.values[rows, np.clip(index, 0, band.values.shape[1] - 1)]
    return np.asarray((near * weights).sum(axis=-1))


def halved(band: Band) -> Band:
    """The same band with twice the step; keeps moments up to the third."""
    wide = padded(band.values, 5, 6)
    # phi at multiples of one half: 1, 9/16, 0, -1/16; over two, for the amount
    last = band.values.shape[1] + 5
    coarse = wide[:, 3 : 3 + last : 2] / 2
    for place, weight in ((2, 9 / 32), (4, 9 / 32), (0, -1 / 32), (6, -1 / 32)):
        coarse += weight * wide[:, place : place + last : 2]
    return Band(coarse, band.start - 2 * band.step, 2 * band.step)


def doubled(band: Band) -> Band:
    """The same band with half the step, by interpolation; keeps moments up to the third."""
    lanes, count = band.values.shape
    wide = padded(band.values, 3, 3)
    fine = np.empty((lanes, 2 * count + 5))
    fine[:, 1::2] = wide[:, 2:-2]
    fine[:, ::2] = 9 / 16 * (wide[:, 1:-2] + wide[:, 2:-1]) - (wide[:, :-3] + wide[:, 3:]) / 16
    return Band(fine, band.start - 1.5 * band.step, band.step / 2)


def aligned(band: Band, start: FloatArray, count: int) -> Band:
    """The same samples on a window that starts whole steps earlier or later.

    Parameters
    ----------
    start : (lanes,) array, s
        On the band's own grid.
    count : int
        Samples that would fall outside the window must be zero or are dropped.
    """
    shift = np.rint((band.start - start) / band.step).astype(np.int64)
    values = np.zeros((band.lanes, count))
    for lane, by in enumerate(shift):
        source = band.values[lane, max(0, -by) :]
        room = values[lane, max(0, by) :]
        length = min(source.size, room.size)
        room[:length] = source[:length]
    return Band(values, np.asarray(start, dtype=float), band.step)


def extrapolated(fine: Band, coarse: Band, order: int) -> Band:
    """Richardson's extrapolation: what two runs, one with double steps, have in common is kept.

    Parameters
    ----------
    fine, coarse : Band
        ``coarse`` has twice the step of ``fine``; both start on the same grid.
    order : int
        Of the leading error in the step.
    """
    coarse = doubled(coarse)
    start = np.minimum(fine.start, coarse.start)
    reach = np.maximum(_end(fine), _end(coarse)) - start
    count = int(np.max(np.rint(reach / fine.step))) + 1
    fine, coarse = (aligned(one, start, count) for one in (fine, coarse))
    gain = 2**order
    return Band((gain * fine.values - coarse.values) / (gain - 1), start, fine.step)


def _end(band: Band) -> FloatArray:
    return np.asarray(band.start + band.step * (band.values.shape[1] - 1))
