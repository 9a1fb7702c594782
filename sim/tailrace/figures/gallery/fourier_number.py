"""Variance, skewness and plates of a tube's peak against the Fourier number."""

import numpy as np
from matplotlib.ticker import FixedLocator, FuncFormatter, LogLocator, NullFormatter

from tailrace.figures.style import FAINT, SERIES, sheet

PANELS = (
    ("variance_exact", "variance_simulated", "Variance over\nlong-tube theory"),
    ("skewness_exact", "skewness_simulated", "Skewness"),
    (None, "plates_ratio", "Plates, half height\nover moments"),
)


def draw(exhibit, size):
    """Return the Figure for an Exhibit at a Size."""
    figure = sheet(size.width, 2.2 * size.height if size.narrow else size.height)
    shape = (3, 1) if size.narrow else (1, 3)
    axes = figure.subplots(*shape, sharex=True)
    fourier = exhibit.column("fourier_number")
    for panel, (exact, simulated, title) in zip(axes, PANELS, strict=True):
        if exact is not None:
            lined = exhibit.column(exact)
            order = np.argsort(fourier)
            panel.plot(fourier[order], lined[order], color=SERIES[0], label="closed form")
        points = exhibit.column(simulated)
        there = np.isfinite(points)
        panel.plot(
            fourier[there],
            points[there],
            color=SERIES[1],
            linestyle=(0, (1, 1.5)) if exact is None else "none",
            linewidth=0.6 * size.font / 10,
            marker="o",
            markerfacecolor="white",
            label="simulated",
        )
        panel.set_title(title, fontweight="normal")
        _across(panel)
    axes[0].set(ylim=(0, 1.06))
    axes[1].set(ylim=(0, None))
    axes[2].set(yscale="log")
    axes[2].yaxis.set_major_locator(LogLocator(subs=(1, 3)))
    axes[2].yaxis.set_major_formatter(FuncFormatter(_plain))
    axes[2].yaxis.set_minor_formatter(NullFormatter())
    for panel in (axes[0], axes[2]):
        panel.axhline(1, color=FAINT, linewidth=0.8 * size.font / 10)
    axes[0].legend(loc="lower right", handlelength=1.4, borderaxespad=0.1)
    figure.supxlabel("Fourier number X = πDL/F", fontsize=size.font)
    return figure


def _across(panel):
    panel.set(xscale="log", xlim=(0.0016, 190))
    panel.xaxis.set_major_locator(FixedLocator([0.01, 0.1, 1, 10, 100]))
    panel.xaxis.set_minor_formatter(NullFormatter())
    panel.xaxis.set_major_formatter(FuncFormatter(_plain))


def _plain(value, _):
    return f"{value:g}"
