"""How many radial nodes and axial steps a tube needs, and how long the steps are."""

import numpy as np

from tailrace.quantities.arrays import FloatArray
from tailrace.signals.band import Band
from tailrace.signals.resolution import Resolution

MOST_NODES = 161
FEWEST_STEPS, MOST_STEPS = 16, 512
STEPS_PER_WIDTH = 230
"""For each unit, a^2/D, by which the standard deviation grows along the tube."""


def sharpness(band: Band) -> FloatArray:
    """Standard deviation of the Gaussian that would be as steep as this band. (lanes,) array, s."""
    slopes = np.diff(band.values, axis=1, prepend=0.0, append=0.0) / band.step[:, None]
    return np.asarray(np.sqrt((band.values**2).sum(axis=1) / (2 * (slopes**2).sum(axis=1))))


def widths(fourier: FloatArray, units: FloatArray, width: FloatArray) -> FloatArray:
    """Widths of the band where it enters each tube, as if each were long. (tubes, lanes) array, 1.

    fourier (tubes, lanes); units: a^2/D, s, as ``fourier``; width: where it enters the first, s.
    """
    added = np.cumsum(fourier * units**2, axis=0) / 24
    before = np.concatenate([np.zeros((1, len(width))), added[:-1]])
    return np.asarray(np.hypot(width, np.sqrt(before)) / units)


def grid(
    fourier: FloatArray, residence: FloatArray, width: FloatArray, resolution: Resolution
) -> tuple[int, list[int]]:
    """Choose radial nodes and axial steps for the lane that needs most of them.

    Parameters
    ----------
    fourier : (tubes, lanes) array, 1
        Of tubes behind each other.
    residence : (tubes, lanes) array, s
    width : (lanes,) array, s
        The sharpness of the band that enters.

    Returns
    -------
    nodes, steps : int, list of int
        Steps of each tube, even, since the second march takes every other one. The factors are set
        from the error of each discretisation alone in the frequency domain, for 1e-4 in L2. From
        X = 0.1 on the nodes are set for 7e-5 of the variance and 3e-4 of the skewness added, which
        takes more of them.
    """
    whole = fourier.sum(axis=0)
    smoothed = np.hypot(width / residence.sum(axis=0), 0.15 * np.minimum(whole, 1.0))
    edge = 32 * np.sqrt(0.008 / smoothed)  # narrower fronts cross more nodes while they last
    short = 0.1 / np.minimum(whole, 1.0)
    wall = 32 * np.maximum(short**0.2, short**0.09)  # a short tube's layer at the wall is thin
    intervals = np.minimum(np.maximum(edge, wall).max(), MOST_NODES - 1)
    spread_in = widths(fourier, residence / fourier, width)
    growth = np.hypot(spread_in, np.sqrt(fourier / 24)) - spread_in
    needed = (STEPS_PER_WIDTH * growth).max(axis=1)
    steps = np.clip(needed, FEWEST_STEPS / len(fourier), MOST_STEPS)
    refinement = resolution.refinement
    nodes = max(int(np.ceil(intervals * refinement)), 4) + 1
    return nodes, [2 * int(np.ceil(count * refinement / 2)) for count in steps]


def axial_steps(fourier: FloatArray, width: FloatArray, steps: int) -> FloatArray:
    """Lengths of the steps along the tube, growing as the band spreads.

    Parameters
    ----------
    fourier, width : (lanes,) array, 1
        Length of the tube and width of the band that enters in reduced units of length and time.

    Returns
    -------
    (steps, lanes) array, 1
    """
    far = np.hypot(width, np.sqrt(fourier / 24))
    fraction = np.linspace(0.0, 1.0, steps + 1)[:, None]
    edges = (width + (far - width) * fraction) ** 2
    growth = np.diff(edges, axis=0)
    return np.asarray(growth * (fourier / growth.sum(axis=0)))
