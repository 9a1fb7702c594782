"""Maps of two inputs: where they may lie."""

from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Patch, Rectangle

from tailrace.figures.picture import Picture
from tailrace.figures.style import INK, MOST_PANELS, first_of, panels, short
from tailrace.records.trade import trade
from tailrace.studies.tolerance.result import RegionMap, Tolerance

ANSWERS = {
    1: ("satisfied with confidence", "#8fc1e3", ""),
    -1: ("not decided", "#f1ede2", "...."),
    0: ("missed with confidence", "#d5763a", "////"),
}
"""Word, colour and hatch: light blue, sand and vermilion differ in lightness as well."""

LINES = "#1a1a1a66"
"""Of a hatch: faint enough for numbers to be read on it."""


def draw_regions(study: Tolerance) -> Picture:
    """A map for each pair of inputs; the numbers are the share of samples accepted, per cent.

    Of at most MOST_PANELS maps, the first ones.
    """
    shown = study.maps[:MOST_PANELS]
    with panels(len(shown), 2, (1, 5.2), (0.6, 4.1), across=first_of(len(study.maps))) as figure:
        for panel, one in zip(figure.axes, shown, strict=True):
            _panel(panel, one)
        handles = [
            Patch(facecolor=colour, hatch=hatch, edgecolor=LINES, linewidth=0.5, label=word)
            for word, colour, hatch in ANSWERS.values()
        ]
        stated = "as stated; diamond: the scenario"
        handles.append(Patch(facecolor="none", edgecolor=INK, linewidth=2, label=stated))
        figure.legend(handles=handles, loc="outside upper left", ncols=2)
    return Picture(figure, "Where two inputs may lie", _words(shown))


def _panel(panel: Axes, one: RegionMap) -> None:
    across, upward = (trade(one.kinds[axis], one.units[axis]) for axis in (0, 1))
    x, y = across.of(one.first).tolist(), upward.of(one.second).tolist()
    edges = _edges(x), _edges(y)
    for row, column in np.ndindex(one.allowed.shape):
        _, colour, hatch = ANSWERS[int(one.allowed[row, column])]
        left, low = edges[0][column], edges[1][row]
        wide, high = edges[0][column + 1] - left, edges[1][row + 1] - low
        look: dict[str, Any] = {"facecolor": colour, "hatch": hatch, "edgecolor": LINES}
        panel.add_patch(Rectangle((left, low), wide, high, linewidth=0, **look))
    _shares(panel, one, x, y)
    (left, right), (low, high) = (
        (unit.of(end.low), unit.of(end.high))
        for unit, end in zip((across, upward), one.stated, strict=True)
    )
    stated = Rectangle((left, low), right - left, high - low, fill=False, linewidth=2, ec=INK)
    panel.add_patch(stated)
    panel.plot(
        across.of(one.nominal[0]), upward.of(one.nominal[1]), "D", ms=19, mfc="none", mec=INK
    )
    panel.set_xlabel(across.named(short(one.names[0], 44)))
    panel.set_ylabel(upward.named(short(one.names[1], 44)))
    panel.set_xlim(edges[0][0], edges[0][-1])
    panel.set_ylim(edges[1][0], edges[1][-1])
    panel.xaxis.set_major_formatter("{x:.6g}")
    panel.yaxis.set_major_formatter("{x:.6g}")
    panel.grid(visible=False)
    panel.set_title(
        f"{100 * one.required:.3g} % satisfied with {100 * one.confidence:.3g} % confidence"
    )


def _shares(panel: Axes, one: RegionMap, x: list[float], y: list[float]) -> None:
    """The share of samples accepted, as a number in every place; half of the undecided."""
    if one.allowed.size > 150:
        return
    shares = 100 * (one.accepted + 0.5 * one.undecided) / one.samples
    for row, column in np.ndindex(one.allowed.shape):
        # A plain ground keeps the hatch off the number, and the number a text in the file.
        ground = {"facecolor": ANSWERS[int(one.allowed[row, column])][1], "linewidth": 0, "pad": 1}
        place: dict[str, Any] = {"ha": "center", "va": "center", "fontsize": 8, "bbox": ground}
        panel.text(x[column], y[row], f"{shares[row, column]:.0f}", **place)


def _edges(values: list[float]) -> list[float]:
    """Borders of cells half-way between values."""
    if len(values) < 2:
        return [values[0] - 0.5, values[0] + 0.5]
    middle = [(one + other) / 2 for one, other in pairwise(values)]
    return [2 * values[0] - middle[0], *middle, 2 * values[-1] - middle[-1]]


def _words(shown: Sequence[RegionMap]) -> str:
    lines = []
    for one in shown:
        counts = [int(np.count_nonzero(one.allowed == word)) for word in ANSWERS]
        lines.append(
            f"{one.names[0]} across, {one.names[1]} upward: of {one.allowed.size} places "
            f"{counts[0]} are satisfied with confidence, {counts[1]} not decided, {counts[2]} "
            "missed."
        )
    return "Maps of where two inputs may lie. " + " ".join(lines)
