"""Transfer functions of bent tubes and of several behind each other, each solved by itself.

The spectral way, for a pulse, up to the frequency from which on next to nothing passes.
"""

from dataclasses import replace
from functools import lru_cache

import numpy as np
from threadpoolctl import threadpool_limits

from tailrace.errors import AccuracyError
from tailrace.parts.tube.bent.spectral import Series, likely_order, solved
from tailrace.parts.tube.bent.stretch import Stretch
from tailrace.quantities.arrays import ComplexArray, FloatArray

Chain = tuple[Stretch, ...]

FIRST, FARTHER, MOST = 30.0, 6.0, 5
"""Highest frequency that is solved for first, over 1 / residence; steps upwards, and how many."""
NOTHING = 2e-5
"""Where less passes, and at all higher frequencies, it is taken as nothing."""
POINTS = 1500
SECONDS, USUAL, STEEPLY = 0.6, 13.0, 2.7
"""Of one processor, for a stretch that asks for so many terms, and the power by which more take
longer (measured: 1.2 s of two stretches at C = 2,800, 9 s at 17,000)."""


def response(chain: Chain, omega: FloatArray) -> ComplexArray:
    """Flux average at the end of a chain that a band enters uniform over the section.

    Parameters
    ----------
    chain : tuple of Stretch
        At each joint of two the profile is carried over.
    omega : (frequencies,) array, rad/s

    Returns
    -------
    (frequencies,) complex array, 1
        In time from the inlet; good to 5e-5 (a test).

    Raises
    ------
    AccuracyError
        If the spectral way does not settle as far as is asked.
    """
    unit = sum(one.residence for one in chain)
    likened = tuple(replace(one, residence=one.residence / unit) for one in chain)
    transit = sum(one.transit for one in likened)
    asked = omega * unit
    highest = float(np.max(asked, initial=0.0))
    for reach in range(MOST):
        series, still = _solved(likened, reach)
        if min(highest, still) <= series.highest:
            found = series.at(asked) * np.exp(-1j * asked * transit)
            return np.where(asked <= still, found, 0.0)
    raise AccuracyError(
        "the transfer function of a bent tube was not solved for frequencies as high as this path "
        "lets pass: march it"
    )


def seconds(chain: Chain) -> float:
    """Of one processor, about, until a chain is solved; within a factor of three."""
    return float(sum(SECONDS * (likely_order([one]) / USUAL) ** STEEPLY for one in chain))


@lru_cache(maxsize=1024)
def _solved(chain: Chain, reach: int) -> tuple[Series, float]:
    """Of a residence of 1: the series, and the frequency from which on nothing passes, or inf."""
    highest = FIRST * FARTHER**reach
    omega = np.sinh(np.linspace(0.0, np.arcsinh(highest), POINTS))
    with threadpool_limits(1, "blas"):  # the matrices are too small to share out
        series = solved(chain, omega, np.ones(POINTS))
    passing = np.flatnonzero(np.abs(series.at(omega)) > NOTHING)[-1]
    # a stretch without anything at the end says that no more comes
    return series, float(omega[passing]) if passing < 0.95 * POINTS else np.inf
