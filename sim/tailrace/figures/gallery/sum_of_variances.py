"""Sums of variances over what is simulated, one mark for each instrument."""

import numpy as np
from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter

from tailrace.figures.style import FAINT, SERIES, sheet


def draw(exhibit, size):
    """Return the Figure for an Exhibit at a Size."""
    figure = sheet(size.width, 2.2 * size.height if size.narrow else size.height)
    axes = figure.subplots(*((2, 1) if size.narrow else (1, 2)))
    simulated = exhibit.column("variance_simulated")
    textbook = {"marker": "o", "markerfacecolor": "none", "color": SERIES[1], "linestyle": "none"}
    exact = {"marker": "x", "color": SERIES[0], "linestyle": "none"}
    axes[0].plot(simulated, exhibit.column("variance_textbook"), label="textbook sum", **textbook)
    axes[0].plot(simulated, exhibit.column("variance_exact"), label="exact sum", **exact)
    axes[0].set(xlabel="Variance simulated, s²", ylabel="Sum of variances, s²")
    recorded = exhibit.column("plates_recorded")
    axes[1].plot(recorded, exhibit.column("plates_textbook"), **textbook)
    axes[1].plot(recorded, exhibit.column("plates_exact"), **exact)
    axes[1].set(xlabel="Plates at half height, simulated", ylabel="Plates from the sum")
    for panel in axes:
        _diagonal(panel, size)
    axes[0].legend(loc="upper left", handlelength=1, borderaxespad=0.2)
    return figure


def _diagonal(panel, size):
    """Equal logarithmic scales and the line of equality."""
    lines = [line.get_xydata() for line in panel.get_lines()]
    values = np.concatenate([one.ravel() for one in lines])
    values = values[values > 0]
    ends = values.min() / 1.3, values.max() * 1.3
    panel.plot(ends, ends, color=FAINT, linewidth=0.1 * size.font, zorder=1)
    panel.set(xscale="log", yscale="log", xlim=ends, ylim=ends)
    for axis in (panel.xaxis, panel.yaxis):
        wide = ends[1] / ends[0] > 300
        axis.set_major_locator(LogLocator(subs=(1,) if wide else (1, 3)))
        axis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
        axis.set_minor_formatter(NullFormatter())
