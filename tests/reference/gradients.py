"""Gradient elution, worked out in ways that the project does not use."""

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.parts.column.gradient import GradientColumn

FLOW = 1e-8
"""m^3/s"""


def stream(**others):
    return Stream(flow_rate=FLOW, diffusivity=1e-9, viscosity=1e-3, **others)


def column(dead_time, weak_factor, strength, rows, dwell=0.0, plates=1e4, **others):
    """A column with this dead time (s); rows of (s, fraction), dwell in s."""
    times, fractions = np.array(rows, dtype=float).T
    length, porosity = 0.1, 0.6
    bore = np.sqrt(4 * dead_time * FLOW / (np.pi * porosity * length))
    return GradientColumn(
        name="column",
        bore=bore,
        length=length,
        particle_diameter=2.7e-6,
        plates=plates,
        porosity=porosity,
        weak_factor=weak_factor,
        strength=strength,
        programme_times=times,
        programme_fractions=fractions,
        dwell_volume=dwell * FLOW,
        **others,
    )


def factor(weak_factor, strength, rows, dwell, time):
    """k of what enters the column at these times."""
    times, fractions = np.array(rows, dtype=float).T
    phi = np.interp(np.asarray(time) - dwell, times, fractions)
    return weak_factor * 10 ** (-strength * phi)


def linear_gradient(dead_time, k0, steepness, dwell):
    """Retention time and leaving k of Snyder, Dolan and Gant, J. Chromatogr. 165 (1979) 3.

    From memory, and computed twice for the check values of the tests.
    """
    inner = np.log(10) * k0 * steepness * (1 - dwell / (dead_time * k0)) + 1
    return dead_time / steepness * np.log10(inner) + dead_time + dwell, k0 / inner


def compression(steepness, k0):
    """G of Poppe, Paanakker and Bronckhorst, J. Chromatogr. 204 (1981) 77 (from memory)."""
    p = np.log(10) * steepness * k0 / (1 + k0)
    return np.sqrt((1 + p + p**2 / 3) / (1 + p) ** 2)


def mixed_plates(count, dead_time, factor_at, entry, span, steps):
    """Mean and variance of what leaves a row of stirred plates, the oldest model of a column.

    Each plate holds liquid for dead_time / count and k times as much of the solute beside it; the
    composition passes undispersed (Martin and Synge, Biochem. J. 35 (1941) 1358, with k that
    changes in time). Fourth-order Runge-Kutta in time, with nothing in common with the project.
    All enters at the time ``entry``; followed for ``span`` s.
    """
    delay = dead_time * (np.arange(count) + 0.5) / count
    step = span / steps

    def change(time, held):
        leaving = held * (count / dead_time) / (1 + factor_at(time - delay))
        rise = np.append(0.0, leaving[:-1]) - leaving
        return np.concatenate([rise, leaving[-1] * np.array([1, time, time**2])])

    state = np.zeros(count + 3)
    state[0] = 1.0
    for time in entry + step * np.arange(steps):
        one = change(time, state[:count])
        two = change(time + step / 2, state[:count] + step / 2 * one[:count])
        three = change(time + step / 2, state[:count] + step / 2 * two[:count])
        four = change(time + step, state[:count] + step * three[:count])
        state = state + step / 6 * (one + 2 * two + 2 * three + four)
    amount, first, second = state[count:]
    mean = first / amount
    return amount, mean, second / amount - mean**2
