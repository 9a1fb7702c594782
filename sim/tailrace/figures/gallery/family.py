"""Curves of one family, from dark to light: a peak at ever larger values of one number."""

import matplotlib
import numpy as np

from tailrace.figures.style import FAINT

DARKEST, LIGHTEST = 0.0, 0.78
"""Of cividis, which is even in lightness; its last yellow would not be seen on white."""
DASHES = (
    "-",
    (0, (6, 1.5)),
    (0, (2.5, 1.2)),
    (0, (1.1, 1.1)),
    (0, (7, 1.5, 1.2, 1.5)),
    (0, (7, 1.5, 1.2, 1.5, 1.2, 1.5)),
)


def colours(count):
    """As many colours (count: int), dark to light."""
    return matplotlib.colormaps["cividis"](np.linspace(DARKEST, LIGHTEST, count))


def draw_family(panel, curves):
    """Draw curves that differ in shade and dash.

    Parameters
    ----------
    panel : matplotlib.axes.Axes
    curves : sequence of (str, (points,) array, (points,) array)
        Label, times in s, signal in 1/s.
    """
    for (label, times, values), shade, dash in zip(
        curves, colours(len(curves)), DASHES, strict=False
    ):
        panel.plot(times, values, color=shade, linestyle=dash, label=label)


def shaded(panel, times, values, label):
    """A curve as a grey ground behind others: times s, values 1/s, (points,) arrays."""
    panel.fill_between(times, values, color=FAINT, alpha=0.35, linewidth=0, label=label)


def key(figure, panel, size, title, columns=2):
    """The legend of a panel, right of it or, where that is too narrow, below."""
    place = "outside lower center" if size.narrow else "outside right center"
    figure.legend(
        *panel.get_legend_handles_labels(),
        loc=place,
        ncols=columns if size.narrow else 1,
        title=title,
        alignment="left",
        handlelength=3.2,
        columnspacing=1.2,
    )
