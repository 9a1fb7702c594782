"""Plates left, part by part, as bars that become shorter."""

import textwrap

import numpy as np

from tailrace.figures.style import INK, MARKED, SERIES, WAYS, sheet, short


def draw(exhibit, size):
    """Return the Figure for an Exhibit at a Size."""
    names, plates = exhibit.column("part"), exhibit.column("plates")
    lost, rows = exhibit.column("lost"), np.arange(len(exhibit.column("part")))
    tall = max(size.height, (len(rows) + 2) * 0.032 * size.font)
    figure = sheet(size.width, tall)
    panel = figure.subplots()
    hatched = {"facecolor": "white", "hatch": WAYS["gaussian_theory"]["hatch"]}
    panel.barh(rows, plates, 0.66, color=SERIES[0], label="left")
    gone = np.maximum(lost, 0.0)
    panel.barh(
        rows, gone, 0.66, left=plates, edgecolor=INK, linewidth=0.5, label="lost here", **hatched
    )
    panel.barh(rows[-1], plates[-1], 0.66, color=SERIES[1], label="recorded")
    for row, count, less in zip(rows, plates, gone, strict=True):
        panel.annotate(
            f"{float(f'{count:.3g}'):.0f}",
            (count + less, row),
            xytext=(0.4 * size.font, 0),
            textcoords="offset points",
            va="center",
            fontsize=0.9 * size.font,
        )
    panel.axhspan(-0.5, 0.5, color=MARKED, zorder=0)
    longest = 16 if size.narrow else 24
    panel.set_yticks(rows, [textwrap.fill(short(str(name), 40), longest) for name in names])
    panel.set(xlim=(0, 1.14 * plates.max()), ylim=(len(rows) - 0.4, -0.6), xlabel="Plates left")
    panel.locator_params(axis="x", nbins=5)
    panel.tick_params(axis="y", length=0)
    panel.grid(visible=False, axis="y")
    figure.legend(
        *panel.get_legend_handles_labels(), loc="outside lower center", ncols=3, handlelength=1.2
    )
    return figure
