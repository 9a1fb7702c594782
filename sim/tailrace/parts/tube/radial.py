"""The radial difference scheme of the tube: fourth order, three points, conservative.

With x = (r/a)^2, s = D z/(a^2 U) and time in a^2/D, counted from the transit on the axis, the
convection-diffusion equation of Poiseuille flow reads

    x c_t + 2 (1 - x) c_s = 4 (x c_x)_x ,   x c_x = 0 at x = 0 and x = 1 .

Nodes x_0 = 0 ... x_n = 1 stand a distance h = 1/n apart, so that rings between them hold equal
volumes. Weighted with hat functions, the left side f = x c_t + 2 (1 - x) c_s is summed over three
nodes (1/12, 10/12, 1/12, at the ends so that the sum over all nodes is a fourth-order quadrature),
and the mean diffusive flux through a ring, 4/h times the integral of x c_x, is exact to fourth
order once c_xx, taken from the equation itself as (f/4 - c_x)/x, corrects the mid-point value
(the idea of Numerov's scheme: Numerov, Mon. Not. R. Astron. Soc. 84 (1924) 592). The result is

    P f = K c ,   P and K with three diagonals, the columns of K adding up to zero:

what leaves one ring enters the next, and nothing is lost.
"""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class RadialScheme:
    """The matrices of ``P f = K c`` by rows: entries left of, on and right of the diagonal.

    Parameters
    ----------
    x : (nodes,) array, 1
        (r/a)^2 at the nodes.
    weighting, exchange : (nodes, 3) array, 1
        Rows of P and of K.
    flux_weights : (nodes,) array, 1
        Their product with the concentrations at the nodes is the flux average over the section.
    """

    x: np.ndarray
    weighting: np.ndarray
    exchange: np.ndarray
    flux_weights: np.ndarray


def radial_scheme(rings) -> RadialScheme:
    """Set up the scheme for a number of rings.

    Parameters
    ----------
    rings : int
        4 or more; the error falls with its fourth power.

    Returns
    -------
    RadialScheme
    """
    h = 1.0 / rings
    x = np.linspace(0.0, 1.0, rings + 1)
    weighting = np.zeros((rings + 1, 3))
    weighting[:] = h * np.array([1.0, 10.0, 1.0]) / 12
    weighting[1] = weighting[-2] = h * np.array([1.0, 22.0, 1.0]) / 24
    weighting[0] = h * np.array([0.0, 1 / 3, 1 / 6])
    weighting[-1] = h * np.array([1 / 6, 1 / 3, 0.0])
    exchange = np.zeros((rings + 1, 3))
    middle = (x[:-1] + x[1:]) / 2
    flux = 4 * middle / h - h / (3 * middle)
    correction = h**2 / (24 * middle)
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
    return RadialScheme(x, weighting, exchange, column_sums * 2 * (1 - x))
