"""The tube's scheme in plain linear algebra: slow and short; ``march.py`` must give the same.

A vector c holds the concentrations at the radial nodes of one section. Across the tube the scheme
of ``radial.py`` leaves, with matrices P (``weighting``) and K (``exchange``) of three diagonals and
the diagonal ones A (``advance``) and H (``hold``),

    P (A c_s + H c_t) = K c .

*Time*, trapezoidal rule: with step tau, y = (c_new + c_old)/2 takes the place of c, and

    c_t = 2 (y - c_old)/tau ,   c_new = 2 y - c_old .

*Length*, the two stages of ``SDIRK2``: with the axial step h, entering y_0, and slopes k of y,

    y_1 = y_0 + h g k_1 ,   y_2 = y_0 + h ((1 - g) k_1 + g k_2) ,   g = GAMMA ,

where y_2 enters the next axial step. Each stage keeps its own c_old. With the slope taken from the
equation, k = A^-1 (P^-1 K y - H c_t), both stages are the same solve,

    (P (A + g h (2/tau) H) - g h K) y = P (A b + g h (2/tau) H c_old) ,
    b = y_0  for stage 1 ,   b = y_0 + (1 - g)/g (y_1 - y_0)  for stage 2 ,

since h k_1 = (y_1 - y_0)/g. What leaves at one time step is 2 w y - (what left at the one before),
w the ``flux_weights``; what enters is uniform over the section, the mean of two samples.
"""

import numpy as np

from tailrace.parts.tube.radial import radial_scheme
from tailrace.quantities.arrays import FloatArray
from tailrace.signals.tableau import GAMMA


def outlet(inlet: FloatArray, tau: float, lengths: FloatArray, nodes: int) -> FloatArray:
    """What leaves a tube, one lane, without extrapolation.

    Parameters
    ----------
    inlet : (times,) array, any unit
        Concentration that enters, with a time step of ``tau``; before it there is none.
    tau : float, a^2/D
    lengths : (steps,) array, a^2 U/D
        Of the axial steps.
    nodes : int
        Radial nodes.

    Returns
    -------
    (times,) array, unit of the inlet
        Flux average, in time counted from the transit on the axis.
    """
    scheme = radial_scheme(nodes)
    weighting, exchange = _matrix(scheme.weighting), _matrix(scheme.exchange)
    advance, hold = np.diag(scheme.advance), np.diag(scheme.hold)
    old = np.zeros((lengths.size, 2, nodes))
    left = np.zeros(inlet.size)
    means = (inlet + np.append(0.0, inlet[:-1])) / 2
    for n, mean in enumerate(means):
        entering = np.full(nodes, mean)
        for m, h in enumerate(lengths):
            drive = GAMMA * h * 2 / tau * hold
            matrix = weighting @ (advance + drive) - GAMMA * h * exchange
            begin = entering
            for stage in (0, 1):
                given = weighting @ (advance @ begin + drive @ old[m, stage])
                y = np.linalg.solve(matrix, given)
                old[m, stage] = 2 * y - old[m, stage]
                begin = entering + (1 - GAMMA) / GAMMA * (y - entering)
            entering = y
        left[n] = 2 * scheme.flux_weights @ entering - (left[n - 1] if n else 0.0)
    return left


def _matrix(rows: FloatArray) -> FloatArray:
    """The whole matrix of three diagonals given by rows."""
    return np.asarray(np.diag(rows[1:, 0], -1) + np.diag(rows[:, 1]) + np.diag(rows[:-1, 2], 1))
