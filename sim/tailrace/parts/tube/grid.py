"""How many rings and stations a tube needs, and where the stations stand."""

import numpy as np

MOST_RINGS = 160
FEWEST_STATIONS, MOST_STATIONS = 16, 512
STATIONS_PER_WIDTH = 230
"""For each unit, a^2/D, by which the standard deviation grows along the tube."""


def sharpness(band):
    """Standard deviation of the Gaussian that would be as steep as this band. (lanes,) array, s."""
    slopes = np.diff(band.values, axis=1, prepend=0.0, append=0.0) / band.step[:, None]
    return np.sqrt((band.values**2).sum(axis=1) / (2 * (slopes**2).sum(axis=1)))


def grid(fourier, residence, width, resolution):
    """Choose rings and stations for the lane that needs most of them.

    Parameters
    ----------
    fourier : (lanes,) array, 1
    residence, width : (lanes,) array, s
        ``width`` is the sharpness of the band that enters.
    resolution : Resolution

    Returns
    -------
    rings, stations : int
        Stations are even, since the second march takes every other one. The factors are set
        from the error of each discretisation alone in the frequency domain, for 1e-4 in L2. From
        X = 0.1 on the rings are set for 7e-5 of the variance and 3e-4 of the skewness added,
        which takes more of them.
    """
    smoothed = np.hypot(width / residence, 0.15 * np.minimum(fourier, 1.0))
    edge = 32 * np.sqrt(0.008 / smoothed)  # narrower fronts cross more rings while they last
    short = 0.1 / np.minimum(fourier, 1.0)
    wall = 32 * np.maximum(short**0.2, short**0.09)  # a short tube's layer at the wall is thin
    rings = np.minimum(np.maximum(edge, wall).max(), MOST_RINGS)
    spread_in = width / residence * fourier
    spread_out = np.hypot(spread_in, np.sqrt(fourier / 24))
    stations = np.clip(
        (STATIONS_PER_WIDTH * (spread_out - spread_in)).max(), FEWEST_STATIONS, MOST_STATIONS
    )
    refinement = resolution.refinement
    return max(int(np.ceil(rings * refinement)), 4), 2 * int(np.ceil(stations * refinement / 2))


def station_lengths(fourier, width, stations):
    """Steps along the tube, growing as the band spreads.

    Parameters
    ----------
    fourier, width : (lanes,) array, 1
        Length of the tube and width of the band that enters in reduced units of length and time.
    stations : int

    Returns
    -------
    (stations, lanes) array, 1
    """
    far = np.hypot(width, np.sqrt(fourier / 24))
    fraction = np.linspace(0.0, 1.0, stations + 1)[:, None]
    edges = (width + (far - width) * fraction) ** 2
    growth = np.diff(edges, axis=0)
    return growth * (fourier / growth.sum(axis=0))
