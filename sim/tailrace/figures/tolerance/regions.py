"""Maps of two inputs: where they may lie."""

import numpy as np
from matplotlib.patches import Patch, Rectangle
from matplotlib.ticker import FuncFormatter

from tailrace.figures.picture import Picture
from tailrace.figures.style import INK, short
from tailrace.figures.tolerance.panels import MOST, panels, shown_of
from tailrace.records.trade import trade

ANSWERS = {
    1: ("kept with confidence", "#8fc1e3", ""),
    -1: ("not decided", "#f1ede2", "...."),
    0: ("missed with confidence", "#d5763a", "////"),
}
"""Word, colour and hatch: light blue, sand and vermilion differ in lightness as well."""

LINES = "#1a1a1a66"
"""Of a hatch: faint enough for numbers to be read on it."""


def draw_regions(study) -> Picture:
    """A map for each pair of inputs; the numbers are the share of samples kept, per cent.

    Parameters
    ----------
    study : tailrace.records.tolerance_study.Study
        With maps.

    Returns
    -------
    Picture
        Of at most MOST maps, the first ones.
    """
    shown = study.maps[:MOST]
    with panels(len(shown), columns=2, width=5.2, height=4.1, head=0.6, least=8.0) as (
        figure,
        axes,
    ):
        for panel, one in zip(axes, shown, strict=True):
            _panel(panel, one)
        handles = [
            Patch(facecolor=colour, hatch=hatch, edgecolor=LINES, linewidth=0.5, label=word)
            for word, colour, hatch in ANSWERS.values()
        ]
        handles.append(
            Patch(
                facecolor="none",
                edgecolor=INK,
                linewidth=2,
                label="as stated; diamond: the scenario",
            )
        )
        figure.legend(handles=handles, loc="outside upper left", ncols=2)
        if len(study.maps) > len(shown):
            figure.supxlabel(shown_of(len(study.maps), len(shown)).strip(), fontsize=9.5)
    return Picture(figure, "Where two inputs may lie", _words(shown))


def _panel(panel, one):
    across, upward = (trade(one.kinds[axis], one.units[axis]) for axis in (0, 1))
    x, y = across.of(one.first), upward.of(one.second)
    edges = _edges(x), _edges(y)
    for row, column in np.ndindex(one.allowed.shape):
        _, colour, hatch = ANSWERS[int(one.allowed[row, column])]
        corner = edges[0][column], edges[1][row]
        sides = np.diff(edges[0])[column], np.diff(edges[1])[row]
        place = Rectangle(
            corner, *sides, facecolor=colour, hatch=hatch, edgecolor=LINES, linewidth=0
        )
        panel.add_patch(place)
    _shares(panel, one, x, y)
    ends = [unit.of(np.array([end.low, end.high])) for unit, end in _ends(one, across, upward)]
    corner = ends[0][0], ends[1][0]
    panel.add_patch(Rectangle(corner, *np.ptp(ends, axis=1), fill=False, linewidth=2, ec=INK))
    panel.plot(
        across.of(one.nominal[0]), upward.of(one.nominal[1]), "D", ms=19, mfc="none", mec=INK
    )
    panel.set_xlabel(across.named(short(one.names[0], 44)))
    panel.set_ylabel(upward.named(short(one.names[1], 44)))
    panel.set_xlim(edges[0][0], edges[0][-1])
    panel.set_ylim(edges[1][0], edges[1][-1])
    for axis in (panel.xaxis, panel.yaxis):
        axis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:.6g}"))
    panel.grid(visible=False)
    panel.set_title(f"{100 * one.required:.3g} % kept with {100 * one.confidence:.3g} % confidence")


def _ends(one, across, upward):
    return zip((across, upward), one.stated, strict=True)


def _shares(panel, one, x, y):
    """The share of samples kept, as a number in every place; half of the undecided."""
    if one.allowed.size > 150:
        return
    shares = 100 * (one.accepted + 0.5 * one.undecided) / one.samples
    for row, column in np.ndindex(one.allowed.shape):
        # A plain ground keeps the hatch off the number, and the number a text in the file.
        ground = {"facecolor": ANSWERS[int(one.allowed[row, column])][1], "linewidth": 0, "pad": 1}
        place = {"ha": "center", "va": "center", "fontsize": 8, "bbox": ground}
        panel.text(x[column], y[row], f"{shares[row, column]:.0f}", **place)


def _edges(values):
    """Borders of cells half-way between values."""
    if len(values) < 2:
        return np.array([values[0] - 0.5, values[0] + 0.5])
    middle = (values[1:] + values[:-1]) / 2
    return np.concatenate([[2 * values[0] - middle[0]], middle, [2 * values[-1] - middle[-1]]])


def _words(shown):
    lines = []
    for one in shown:
        counts = [int(np.count_nonzero(one.allowed == word)) for word in ANSWERS]
        lines.append(
            f"{one.names[0]} across, {one.names[1]} upward: of {one.allowed.size} places "
            f"{counts[0]} are kept with confidence, {counts[1]} not decided, {counts[2]} missed."
        )
    return "Maps of where two inputs may lie. " + " ".join(lines)
