"""How a band goes through a joint's gap: by its impulse response, a sum of exponentials.

Each exponential is carried from sample to sample exactly, for the cubic that joins the band's
samples, so that a fast core and a slow pocket share one grid.
"""

import numpy as np
from numba import njit

from tailrace.eluent.stream import Stream
from tailrace.errors import BudgetError
from tailrace.parts.fitting.part import Fitting
from tailrace.quantities.arrays import FloatArray
from tailrace.signals.band import Band
from tailrace.signals.cubic import CUBIC
from tailrace.signals.resolution import Resolution
from tailrace.signals.response import through_tanks

POLES = 200
BISECTIONS = 60
TAIL_CUT = 1e-8
"""The pocket's weak tail may be cut here: further out it would stretch every time window."""
MOST_SAMPLES = 20_000_000
LEAD = 3
"""Zeros before the band: the cubic looks two samples ahead."""


def march(fitting: Fitting, stream: Stream, band: Band, resolution: Resolution) -> Band:
    """Send a band through a fitting; lanes without a pocket pass one stirred volume."""
    lanes = (band.lanes,)
    residence = np.broadcast_to(np.asarray(fitting.residence(stream), float), lanes)
    unswept = np.broadcast_to(np.asarray(fitting.unswept, float), lanes)
    if not np.any(unswept > 0):
        return through_tanks(band, residence, 1.0, resolution.truncation)
    filling = np.broadcast_to(fitting.filling_time(stream), lanes)
    # a lane without a pocket keeps one that nothing enters
    filling = np.where(unswept > 0, filling, residence)
    rates, amounts = exponentials(residence * (1 - unswept), residence * unswept, filling)
    count = band.values.shape[1] + int(np.max(_tail(rates, amounts) / band.step)) + 2 * LEAD
    if count * band.lanes > MOST_SAMPLES:
        raise BudgetError(
            f"{fitting.name}: its pocket empties {np.max(_tail(rates, amounts)):.3g} s long, too "
            f"long for time steps of {band.step.min():.2g} s: use a smaller gap, a smaller unswept "
            "part, or a wider injection"
        )
    inlet = np.zeros((band.lanes, count))
    inlet[:, LEAD : LEAD + band.values.shape[1]] = band.values
    outlet = np.empty_like(inlet)
    decay = rates * band.step[:, None]
    _relax(inlet, outlet, np.exp(-decay), _gains(decay) * amounts[..., None])
    return Band(outlet, band.start - LEAD * band.step, band.step)


def _tail(rates: FloatArray, amounts: FloatArray) -> FloatArray:
    """Time after which less than TAIL_CUT is still to come. (lanes,) array, s."""
    slow, share = rates[:, 0], np.maximum(amounts[:, :20].sum(axis=1), TAIL_CUT)
    return np.asarray(np.log(10 * share / TAIL_CUT) / slow)


def _gains(decay: FloatArray) -> FloatArray:
    """Integrals of k exp(-k (1 - v)) times the cubic's four weights over a step, k the decay.

    (lanes, poles) array in, (lanes, poles, 4) array out. The powers of v go by recursion where k
    is large and by quadrature where the recursion would lose digits.
    """
    nodes, weights = np.polynomial.legendre.leggauss(8)
    v = (nodes + 1) / 2
    small = np.minimum(decay, 1.0)[..., None]
    kernel = small * np.exp(-small * (1 - v)) * weights / 2
    large = np.maximum(decay, 1.0)
    powers = [1 - np.exp(-large)]
    for power in range(1, 4):
        powers.append(1 - power / large * powers[-1])
    quadrature = np.stack([(kernel * v**power).sum(axis=-1) for power in range(4)], axis=-1)
    chosen = np.where((decay > 1)[..., None], np.stack(powers, axis=-1), quadrature)
    return np.asarray(chosen @ CUBIC)


@njit(cache=True, nogil=True, error_model="numpy")
def _relax(inlet: FloatArray, outlet: FloatArray, keep: FloatArray, gain: FloatArray) -> None:
    """Advance every exponential of every lane through time; sum them at the outlet.

    inlet, outlet (lanes, times); keep (lanes, poles): factor over a step; gain (lanes, poles, 4):
    what the four samples around a step add to it by its end.
    """
    lanes, times = inlet.shape
    poles = keep.shape[1]
    held = np.zeros(poles)
    for lane in range(lanes):
        held[:] = 0.0
        outlet[lane, :2] = 0.0
        outlet[lane, times - 1] = 0.0
        for t in range(2, times - 1):
            a, b = inlet[lane, t - 2], inlet[lane, t - 1]
            c, d = inlet[lane, t], inlet[lane, t + 1]
            total = 0.0
            for pole in range(poles):
                g = gain[lane, pole]
                held[pole] = (
                    keep[lane, pole] * held[pole] + g[0] * a + g[1] * b + g[2] * c + g[3] * d
                )
                total += held[pole]
            outlet[lane, t] = total


def exponentials(
    core: FloatArray, pocket: FloatArray, filling: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Rates of decay of the response, and the amount that leaves by each.

    The poles of 1 / (1 + s A + s B tanh(q)/q), q^2 = s c, lie at s = -p^2/c with
    1 = (p^2/c)(A + B tan(p)/p), one in each branch of the tangent.

    Parameters
    ----------
    core, pocket, filling : (lanes,) array, s
        A, B and c.

    Returns
    -------
    rates : (lanes, POLES) array, 1/s
    amounts : (lanes, POLES) array, 1
        Positive; their sum falls short of one by what faster exponentials would add, and the
        last takes that.
    """
    a, b, c = (np.asarray(time, float)[:, None] for time in (core, pocket, filling))
    low = np.maximum(np.arange(POLES) - 0.5, 0.0) * np.pi * np.ones_like(a)
    high = (np.arange(POLES) + 0.5) * np.pi * np.ones_like(a)
    for _ in range(BISECTIONS):
        p = (low + high) / 2
        # times c cos(p): positive below the root of an even branch, negative of an odd one
        excess = (c - p**2 * a) * np.cos(p) - p * b * np.sin(p)
        below = excess * np.cos(p) > 0
        low, high = np.where(below, p, low), np.where(below, high, p)
    p = (low + high) / 2
    tangent = np.tan(p)
    slope = a + b / 2 * (tangent / p + 1 + tangent**2)
    rates = p**2 / c
    amounts = 1 / (slope * rates)
    amounts[:, -1] += 1 - amounts.sum(axis=1)
    return rates, amounts
