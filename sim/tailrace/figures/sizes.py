"""The sizes at which a picture is used, and letters and lines to match."""

import contextlib
from dataclasses import dataclass

import matplotlib

from tailrace.figures.style import styled


@dataclass(frozen=True)
class Size:
    """What a picture has to fill.

    Parameters
    ----------
    width, height : float, in
        A picture of several panels may be taller where it is narrow.
    font : float, pt
        Of ordinary letters.
    """

    width: float
    height: float
    font: float

    @property
    def narrow(self) -> bool:
        """Whether panels have to stand below each other."""
        return self.width < 5


SIZES = {
    "slide": Size(10.0, 5.6, 15.0),
    "column": Size(3.4, 2.7, 8.0),
    "page": Size(7.0, 4.2, 9.5),
}
"""A slide of 16 to 9, read from afar; one column of a page in print; its whole width."""


@contextlib.contextmanager
def sized(name):
    """Matplotlib in the house's style, with the letters and lines of a size.

    Parameters
    ----------
    name : str
        Of SIZES.

    Yields
    ------
    Size
    """
    size = SIZES[name]
    scale = size.font / 10
    letters = {
        "font.size": size.font,
        "axes.titlesize": size.font,
        "axes.labelsize": size.font,
        "xtick.labelsize": 0.9 * size.font,
        "ytick.labelsize": 0.9 * size.font,
        "legend.fontsize": 0.9 * size.font,
        "figure.titlesize": 1.1 * size.font,
        "lines.linewidth": 1.6 * scale,
        "lines.markersize": 5 * scale,
        "axes.linewidth": 0.8 * scale,
        "grid.linewidth": 0.6 * scale,
        "hatch.linewidth": 0.7 * scale,
    }
    with styled(), matplotlib.rc_context(letters):
        yield size
