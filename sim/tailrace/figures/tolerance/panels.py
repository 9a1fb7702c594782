"""Panels side by side, as many as there are."""

import contextlib
import math

from tailrace.figures.style import sheet, styled

MOST = 12
"""Panels of one picture that can still be read."""

REFUSED = {"facecolor": "#d55e00", "alpha": 0.12, "hatch": "////", "edgecolor": "#d55e00"}
"""Ground that is out of limits."""


@contextlib.contextmanager
def panels(count, columns=3, width=3.5, height=2.9, head=0.5, least=7.0):
    """A figure with so many panels, in the house's style.

    Parameters
    ----------
    count : int
    columns : int
        At most so many beside each other.
    width, height, head : float, in
        Of a panel, and of what stands above them all.
    least : float, in
        Width of a figure with few panels: what the key above them needs.

    Yields
    ------
    matplotlib.figure.Figure
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


def shown_of(count, shown) -> str:
    """A line for a picture that shows only the first few; otherwise nothing."""
    return f"\nThe first {shown} of {count}; the others are in the tables" if count > shown else ""
