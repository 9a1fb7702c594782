"""Curves of one family: their shades and dashes, and their names beside them."""

from collections.abc import Sequence
from typing import Any

import matplotlib
import numpy as np
from matplotlib.axes import Axes

from tailrace.figures.sizes import Size
from tailrace.figures.style import FAINT, pale
from tailrace.quantities.arrays import FloatArray

DARKEST, LIGHTEST = 0.0, 0.78
"""Of cividis, which is even in lightness; its last yellow would not be seen on white."""
FAMILY_DASHES = (
    "-",
    (0, (6, 1.5)),
    (0, (2.5, 1.2)),
    (0, (1.1, 1.1)),
    (0, (7, 1.5, 1.2, 1.5)),
    (0, (7, 1.5, 1.2, 1.5, 1.2, 1.5)),
)


def colours(count: int) -> FloatArray:
    """As many colours (count: int), dark to light."""
    return matplotlib.colormaps["cividis"](np.linspace(DARKEST, LIGHTEST, count))


def draw_family(panel: Axes, curves: Sequence[tuple[str, FloatArray, FloatArray]]) -> None:
    """Draw curves that differ in shade and dash.

    Parameters
    ----------
    curves : sequence of (str, (points,) array, (points,) array)
        Label, times in s, signal in 1/s.
    """
    for (label, times, values), shade, dash in zip(
        curves, colours(len(curves)), FAMILY_DASHES, strict=False
    ):
        panel.plot(times, values, color=shade, linestyle=dash, label=label)


def name_curves(panel: Axes, size: Size, title: str) -> None:
    """Name each line of a panel right of its falling flank, the highest first, below a title.

    Peaks that start together and become lower and wider leave that corner free. The limits of the
    panel must stand.
    """
    low, high = panel.get_ylim()
    wide = np.diff(panel.get_xlim())[0]
    step = 1.35 * 0.9 * size.font * (high - low) / (0.72 * 72 * size.height)
    lines = sorted(panel.get_lines(), key=lambda one: -np.max(one.get_ydata()))
    level = high - (2 + title.count("\n")) * step
    for line in lines:
        level = min(level, 0.9 * float(np.max(np.asarray(line.get_ydata()))))
        flanks = [_falls(one, level) for one in lines]
        own = _falls(line, level)
        panel.annotate(
            str(line.get_label()),
            (own, level),
            xytext=(max(flanks) + 0.05 * wide, level),
            va="center",
            fontsize=0.9 * size.font,
            arrowprops={"arrowstyle": "-", "color": line.get_color(), "shrinkA": 1, "shrinkB": 0},
        )
        level -= step
    panel.text(
        0.99, 0.99, title, transform=panel.transAxes, ha="right", va="top", fontsize=0.9 * size.font
    )


def _falls(line: Any, level: float) -> float:
    """The time at which a peak falls to a level for the last time; -inf where it is lower."""
    times, values = np.asarray(line.get_xdata()), np.asarray(line.get_ydata())
    above = np.flatnonzero(values >= level)
    return float(times[min(above[-1] + 1, len(times) - 1)]) if above.size else -np.inf


def shaded(panel: Axes, times: FloatArray, values: FloatArray) -> None:
    """A curve as a grey ground behind others: times s, values 1/s, (points,) arrays."""
    panel.fill_between(times, values, color=pale(FAINT, 0.35), linewidth=0)


def name_ends(panel: Axes, size: Size, apart: float) -> None:
    """Name each line of a panel right of it, from its end, ``apart`` of the height or more."""
    ends = [np.asarray(line.get_xydata())[-1] for line in panel.get_lines()]
    order = sorted(range(len(ends)), key=lambda at: -ends[at][1])
    level = 2.0
    for at in order:
        line = panel.get_lines()[at]
        height = panel.transLimits.transform(panel.transScale.transform(ends[at]))[1]
        level = min(level - apart, float(height))
        panel.annotate(
            str(line.get_label()),
            tuple(ends[at]),
            xytext=(1.12, level),
            textcoords="axes fraction",
            va="center",
            color=line.get_color(),
            fontsize=0.9 * size.font,
            arrowprops={
                "arrowstyle": "-",
                "color": line.get_color(),
                "relpos": (0, 0.5),
                "shrinkA": 0,
                "shrinkB": 4,
            },
        )
