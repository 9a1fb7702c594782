"""The radial difference scheme of the tube: fourth order, three points, conservative.

With x = (r/a)^2, s = D z/(a^2 U) and time in a^2/D, counted from the transit on the axis, the
convection-diffusion equation of Poiseuille flow reads

    x c_t + 2 (1 - x) c_s = 4 (x c_x)_x ,   x c_x = 0 at x = 0 and x = 1 .

The nodes lie at x = g(q), q = 0, h, 2h ... 1 and g = GRADING q + (1 - GRADING) q^2: nearly evenly
spaced in radius, because a sharp front arrives on the axis first. In q, with f the left side times
g' and k = 4 g/g', it reads f = (k c_q)_q. Weighted with hat functions, f is summed over three nodes
(1/12, 10/12, 1/12, at the ends so that the sum over all nodes is a fourth-order quadrature, exact
for the total flow), and the mean of k c_q between two nodes is exact to fourth order once c_qq,
taken from the equation itself as (f - k' c_q)/k, corrects the mid-point value (the idea of Numerov,
Mon. Not. R. Astron. Soc. 84 (1924) 592). The result is

    P f = K c ,   P and K with three diagonals, the columns of K adding up to zero:

what leaves the surroundings of one node enters those of the next, and nothing is lost.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from tailrace.quantities.arrays import FloatArray

GRADING = 0.1
"""0 spaces the nodes evenly in radius, 1 evenly in area."""


@dataclass(frozen=True)
class RadialScheme:
    """The matrices of ``P f = K c`` by rows: entries left of, on and right of the diagonal.

    Parameters
    ----------
    advance, hold : (nodes,) array, 1
        Factors of c_s and of c_t in f: g' 2 (1 - x) and g' x.
    weighting, exchange : (nodes, 3) array, 1
        Rows of P and of K, divided by the entry of P on the diagonal.
    flux_weights : (nodes,) array, 1
        Their product with the concentrations at the nodes is the flux average over the section.
    """

    advance: FloatArray
    hold: FloatArray
    weighting: FloatArray
    exchange: FloatArray
    flux_weights: FloatArray


def radial_scheme(nodes: int) -> RadialScheme:
    """Set up the scheme for a number of nodes: 5 or more, the error falls with its fourth power.

    It is the same one for the same number: its arrays are read only.
    """
    return _scheme(nodes, GRADING)


@lru_cache(maxsize=64)
def _scheme(nodes: int, grading: float) -> RadialScheme:
    h = 1.0 / (nodes - 1)
    q = np.linspace(0.0, 1.0, nodes)
    x, slope = grading * q + (1 - grading) * q**2, grading + 2 * (1 - grading) * q
    weighting = np.zeros((nodes, 3))
    weighting[:] = h * np.array([1.0, 10.0, 1.0]) / 12
    weighting[1] = weighting[-2] = h * np.array([1.0, 22.0, 1.0]) / 24
    weighting[0] = h * np.array([0.0, 1 / 3, 1 / 6])
    weighting[-1] = h * np.array([1 / 6, 1 / 3, 0.0])
    flux, correction = _flux((q[:-1] + q[1:]) / 2, h, grading)
    exchange = np.zeros((nodes, 3))
    exchange[:-1, 1] -= flux
    exchange[:-1, 2] += flux
    exchange[1:, 1] -= flux
    exchange[1:, 0] += flux
    weighting[:-1, 1] -= correction
    weighting[:-1, 2] -= correction
    weighting[1:, 1] += correction
    weighting[1:, 0] += correction
    column_sums = weighting[:, 1].copy()
    column_sums[:-1] += weighting[1:, 0]
    column_sums[1:] += weighting[:-1, 2]
    advance = slope * 2 * (1 - x)
    diagonal = weighting[:, 1:2]
    scheme = RadialScheme(
        advance, slope * x, weighting / diagonal, exchange / diagonal, column_sums * advance
    )
    for array in vars(scheme).values():
        array.flags.writeable = False
    return scheme


def _flux(middle: FloatArray, h: float, grading: float) -> tuple[FloatArray, FloatArray]:
    """Mean of k c_q between nodes: factors of the difference of c and of the sum of f, over two."""
    x, slope = grading * middle + (1 - grading) * middle**2, grading + 2 * (1 - grading) * middle
    bend = 2 * (1 - grading)
    k = 4 * x / slope
    k_slope = 4 * (1 - x * bend / slope**2)
    k_bend = 4 * (-bend / slope + 2 * x * bend**2 / slope**3)
    flux = k / h + k_bend * h / 24 - k_slope**2 * h / (12 * k)
    return flux, k_slope / k * h**2 / 24
