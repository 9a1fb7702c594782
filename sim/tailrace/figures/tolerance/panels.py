"""Panels side by side, as many as there are."""

import contextlib
import math
from collections.abc import Iterator
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from tailrace.figures.style import sheet, styled

MOST = 12
"""Panels of one picture that can still be read."""

REFUSED: dict[str, Any] = {
    "facecolor": "#d55e00",
    "alpha": 0.12,
    "hatch": "////",
    "edgecolor": "#d55e00",
}
"""Ground that is out of limits."""


@contextlib.contextmanager
def panels(
    count: int,
    columns: int = 3,
    width: float = 3.5,
    height: float = 2.9,
    head: float = 0.5,
    least: float = 7.0,
) -> Iterator[tuple[Figure, list[Axes]]]:
    """A figure with so many panels, in the house's style.

    Parameters
    ----------
    columns : int
        At most so many beside each other.
    width, height, head : float, in
        Of a panel, and of what stands above them all.
    least : float, in
        Width of a figure with few panels: what the key above them needs.

    Yields
    ------
    list of matplotlib.axes.Axes
    """
    columns = min(columns, count) if count != 4 else min(columns, 2)
    rows = math.ceil(count / columns)
    with styled():
        figure = sheet(max(least, width * columns), head + height * rows)
        axes = figure.subplots(rows, columns, squeeze=False).ravel()
        for spare in axes[count:]:
            spare.remove()
        yield figure, list(axes[:count])


def shown_of(count: int, shown: int) -> str:
    """A line for a picture that shows only the first few; otherwise nothing."""
    return f"\nThe first {shown} of {count}; the others are in the tables" if count > shown else ""
