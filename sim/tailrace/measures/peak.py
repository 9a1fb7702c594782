"""All figures of a peak at once."""

import numpy as np

from tailrace.errors import MeasureError
from tailrace.measures.moments import moments
from tailrace.measures.shape import Outline

OUTLINE_FIGURES = {
    "apex": lambda outline: outline.apex,
    "height": lambda outline: outline.height,
    "width_half": lambda outline: outline.width(0.5),
    "plates_half_height": Outline.plates,
    "plates_tangent": Outline.plates_tangent,
    "plates_five_sigma": Outline.plates_five_sigma,
    "tailing_5": Outline.tailing,
    "asymmetry_10": Outline.asymmetry,
}


def measure(band) -> dict[str, np.ndarray]:
    """Measure every lane of a band.

    Parameters
    ----------
    band : Band

    Returns
    -------
    dict of str to (lanes,) array
        ``apex`` s, ``height`` 1/s, ``area`` 1, ``mean`` s, ``variance`` s^2, ``skewness`` 1,
        ``width_half`` s, ``plates_half_height``, ``plates_tangent``, ``plates_five_sigma``,
        ``plates_moments``, ``tailing_5``, ``asymmetry_10`` 1. NaN where a peak has no such figure.
    """
    summed = moments(band)
    figures = {
        "area": summed.area,
        "mean": summed.mean,
        "variance": summed.variance,
        "skewness": summed.skewness,
        "plates_moments": summed.mean**2 / np.where(summed.variance > 0, summed.variance, np.nan),
    }
    for name in OUTLINE_FIGURES:
        figures[name] = np.full(band.lanes, np.nan)
    for lane in range(band.lanes):
        try:
            outline = Outline(band, lane)
        except MeasureError:
            continue
        for name, read in OUTLINE_FIGURES.items():
            try:
                figures[name][lane] = read(outline)
            except MeasureError:
                continue
    return figures
