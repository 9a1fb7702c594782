"""Plate height against flow, of the column alone and recorded."""

import numpy as np
from matplotlib.ticker import FuncFormatter, MaxNLocator

from tailrace.figures.style import FAINT, GRID, INK, SERIES, sheet

MICROMETRE, BAR, MILLILITRE_A_MINUTE = 1e-6, 1e5, 1e-6 / 60
LABELLED = -5
"""Place of the point at which a curve is named: where both are well apart."""


def draw(exhibit, size):
    """Return the Figure for an Exhibit at a Size."""
    figure = sheet(size.width, size.height)
    panel = figure.subplots()
    flow = exhibit.column("flow_rate") / MILLILITRE_A_MINUTE
    for name, colour, marker, words, steep in (
        ("height_recorded", SERIES[1], "s", "recorded", True),
        ("height_column", SERIES[0], "o", "column alone", False),
    ):
        height = exhibit.column(name) / MICROMETRE
        panel.plot(flow, height, color=colour, marker=marker, markerfacecolor="white")
        panel.annotate(
            words,
            (flow[LABELLED], height[LABELLED]),
            xytext=(0, 0.9 * size.font),
            textcoords="offset points",
            ha="right" if steep else "center",
            color=colour,
            fontweight="bold",
        )
    top = 1.08 * np.max(exhibit.column("height_recorded")) / MICROMETRE
    panel.set(
        ylim=(0, top),
        xlim=(0, flow[-1] * 1.03),
        xlabel="Flow, mL/min",
        ylabel="Length over plates, µm",
    )
    panel.yaxis.set_major_locator(MaxNLocator(6))
    panel.xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    _beyond(panel, exhibit, flow, size)
    return figure


def _beyond(panel, exhibit, flow, size):
    """Hatch the flows at which the pressure is above its limit."""
    pressure, limit = exhibit.column("pressure"), exhibit.column("pressure_limit")[0]
    if not pressure[-1] > limit:
        return
    reached = float(np.interp(limit, pressure, flow))
    panel.axvspan(
        reached, flow[-1] * 1.03, facecolor="none", edgecolor=GRID, hatch="//", linewidth=0
    )
    panel.axvline(reached, color=FAINT)
    panel.annotate(
        f"above {limit / BAR:.0f} bar →",
        (reached, 0.03),
        xycoords=("data", "axes fraction"),
        xytext=(-0.4 * size.font, 0),
        textcoords="offset points",
        ha="right",
        color=INK,
    )
