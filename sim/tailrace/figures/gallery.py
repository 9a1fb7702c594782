"""The figures of the gallery: from exhibits to pictures; a function for each, none computes."""

import textwrap
from collections.abc import Callable
from typing import Any

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.axis import Axis
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator, Locator, LogLocator, MaxNLocator, NullFormatter

from tailrace.figures.families import draw_family, name_curves, name_ends, shaded
from tailrace.figures.layout import BOLD, LETTER, filled
from tailrace.figures.plume import draw as _plume
from tailrace.figures.section import draw_straight_bent_coiled
from tailrace.figures.sizes import SIZES, Size, size_of
from tailrace.figures.style import (
    DASHES,
    FAINT,
    GRID,
    INK,
    SERIES,
    WAYS,
    Picture,
    sheet,
    short,
    sized,
)
from tailrace.figures.writing import placed
from tailrace.quantities.arrays import AnyArray, FloatArray
from tailrace.studies.gallery.exhibit import Exhibit
from tailrace.wording import say

MICROLITRE, MICROMETRE, BAR, MILLILITRE_A_MINUTE = 1e-9, 1e-6, 1e5, 1e-6 / 60
MARKERS = "osD^"
SEEN = 0.015
"""Share of the highest peak down to which tails are shown."""
WASHED = "#9db1c5"
"""Of bars between the first and the last, which are in SERIES."""


def _beside(size: Size, count: int, tall: float, **shared: Any) -> tuple[Figure, AnyArray]:
    """Panels beside each other, or below where that is too narrow, ``tall`` times the height."""
    figure = sheet(size.width, tall * size.height if size.narrow else size.height)
    shape = (count, 1) if size.narrow else (1, count)
    axes: AnyArray = figure.subplots(*shape, **shared)
    return figure, axes


def _below(figure: Figure, panel: Axes, columns: int, **look: float) -> None:
    """The legend of a panel, below all of them."""
    handles, labels = panel.get_legend_handles_labels()
    figure.legend(handles, labels, loc="outside lower center", ncols=columns, **look)


def _ticks(axis: Axis, locator: Locator) -> None:
    """Plain numbers at some places of a logarithmic scale."""
    axis.set_major_locator(locator)
    axis.set_major_formatter("{x:g}")
    axis.set_minor_formatter(NullFormatter())


def _cell_volumes(exhibit: Exhibit, size: Size) -> Figure:
    """One peak in a series of flow cells."""

    def label(volume: float, curve: dict[str, FloatArray]) -> str | None:
        if volume == 0:
            return None
        share, kept = volume / curve["peak_volume"][0], 100 * curve["plates_kept"][0]
        one = volume / MICROLITRE
        return say("{one:g} µL ({share:.2g}): {kept:.0f} %", one=one, share=share, kept=kept)

    title = say("Cell volume (over the peak's):\nplates kept. Grey: at its inlet")
    return _series(exhibit, size, "cell_volume", label, title)


def _time_constants(exhibit: Exhibit, size: Size) -> Figure:
    """One peak through a series of time constants."""

    def label(constant: float, curve: dict[str, FloatArray]) -> str:
        kept = 100 * curve["plates_kept"][0]
        return say("{constant:g} s: {kept:.0f} %", constant=constant, kept=kept)

    return _series(exhibit, size, "time_constant", label, say("Time constant: plates kept"))


def _series(
    exhibit: Exhibit,
    size: Size,
    by: str,
    label: Callable[[float, dict[str, FloatArray]], str | None],
    title: str,
) -> Figure:
    """A peak at ever larger values of a column; one without a label is the ground behind them."""
    figure = sheet(size.width, 1.25 * size.height if size.narrow else size.height)
    panel = figure.subplots()
    curves = []
    for value, curve in exhibit.groups(by):
        text = label(value, curve)
        if text is None:
            shaded(panel, curve["time"], curve["signal"])
        else:
            curves.append((text, curve["time"], curve["signal"]))
    draw_family(panel, curves)
    panel.set(
        ylim=(0, None),
        xlabel=say("Time from the start of the injection, s"),
        ylabel=say("Signal over amount, 1/s"),
    )
    panel.margins(x=0.01)
    top = max(float(values.max()) for _, _, values in curves)
    panel.set_xlim(right=max(times[values > SEEN * top].max() for _, times, values in curves))
    if size.narrow:
        panel.set_ylim(top=1.3 * panel.get_ylim()[1])
    name_curves(panel, size, title)
    return figure


def _outlet_signals(exhibit: Exhibit, size: Size) -> Figure:
    """What leaves a tube, a panel for each Fourier number."""
    rows, columns = (4, 2) if size.narrow else (2, 4)
    figure = sheet(size.width, 1.75 * size.height if size.narrow else size.height)
    axes = figure.subplots(rows, columns, sharex=True, sharey=True).ravel()
    for panel, (fourier, curve) in zip(axes, exhibit.groups("fourier_number"), strict=False):
        panel.plot(curve["time"], curve["signal"], color=SERIES[0], label=say("simulated"))
        panel.plot(
            curve["time"],
            curve["long_tube_theory"],
            color=SERIES[1],
            linestyle=(0, (3.5, 1.5)),
            label=say("long-tube\ntheory"),
        )
        panel.text(
            0.97,
            0.95,
            say("X = {fourier:g}", fourier=fourier),
            transform=panel.transAxes,
            ha="right",
            va="top",
        )
    last = axes[-1]
    last.legend(*axes[0].get_legend_handles_labels(), loc="center", handlelength=1.6)
    last.set_axis_off()
    above = axes[-1 - columns]
    above.tick_params(labelbottom=True)
    axes[0].set(xlim=(0, 3), ylim=(0, None), xticks=[0, 1, 2], yticks=[0, 2, 4, 6])
    figure.supxlabel(say("Time over residence time"), fontsize=size.font)
    figure.supylabel(say("Signal × residence time"), fontsize=size.font)
    return figure


def _joint(exhibit: Exhibit, size: Size) -> Figure:
    """A peak behind a joint, on a linear and on a logarithmic scale."""
    figure, axes = _beside(size, 2, 1.9)
    curves = [(name, curve["time"], curve["signal"]) for name, curve in exhibit.groups("joint")]
    for panel in axes:
        draw_family(panel, curves)
        panel.set(
            xlabel=say("Time from the middle of the peak, s"), ylabel=say("Signal over amount, 1/s")
        )
    top = max(values.max() for _, _, values in curves)
    axes[0].set(yscale="log", ylim=(2e-5 * top, 1.5 * top), xlim=(-1.5, 12))
    axes[0].yaxis.set_major_formatter("{x:g}")
    axes[1].set(xlim=(-1.1, 1.5), ylim=(0, None))
    axes[0].legend(loc="upper right", handlelength=2.6, borderaxespad=0.0, labelspacing=0.3)
    return figure


FOURIER_PANELS = (
    ("variance_exact", "variance_simulated", "Variance over\nlong-tube theory"),
    ("skewness_exact", "skewness_simulated", "Skewness"),
    (None, "plates_ratio", "Plates, half height\nover moments"),
)


def _fourier_number(exhibit: Exhibit, size: Size) -> Figure:
    """Variance, skewness and plates of a tube's peak against the Fourier number."""
    figure, axes = _beside(size, 3, 2.2, sharex=True)
    fourier = exhibit.column("fourier_number")
    for panel, (exact, simulated, title) in zip(axes, FOURIER_PANELS, strict=True):
        if exact is not None:
            lined = exhibit.column(exact)
            order = np.argsort(fourier)
            panel.plot(fourier[order], lined[order], color=SERIES[0], label=say("closed form"))
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
            label=say("simulated"),
        )
        panel.set_title(say(title), fontweight="normal")
        panel.set(xscale="log", xlim=(0.0016, 190))
        _ticks(panel.xaxis, FixedLocator([0.01, 0.1, 1, 10, 100]))
    axes[0].set(ylim=(0, 1.06))
    axes[1].set(ylim=(0, None))
    axes[2].set(yscale="log")
    _ticks(axes[2].yaxis, LogLocator(subs=(1, 3)))
    for panel in (axes[0], axes[2]):
        panel.axhline(1, color=FAINT, linewidth=0.8 * size.font / 10)
    axes[0].legend(loc="lower right", handlelength=1.4, borderaxespad=0.1)
    ratio = np.where(np.isfinite(points), points, np.inf)
    dip = int(np.argmin(ratio))
    axes[2].annotate(
        say("two humps:\nthe width at\nhalf height\nspans both"),
        (fourier[dip], ratio[dip]),
        xytext=(0.45, 0.34),
        textcoords="axes fraction",
        fontsize=0.9 * size.font,
        # from its lower left corner straight down, past the circles beside
        arrowprops={"arrowstyle": "-", "color": INK, "shrinkB": 4, "relpos": (0, 0)},
    )
    figure.supxlabel(say("Fourier number X = πDL/F"), fontsize=size.font)
    return figure


def _retention(exhibit: Exhibit, size: Size) -> Figure:
    """Plates recorded and share kept against the retention factor, a line for each column."""
    figure, axes = _beside(size, 2, 2.1, sharex=True)
    last = axes[-1]
    for order, (name, line) in enumerate(exhibit.groups("column")):
        look = {
            "color": SERIES[order],
            "linestyle": DASHES[order],
            "marker": MARKERS[order],
            "markersize": 0.4 * size.font,
            "label": name.replace(", ", ",\n"),
        }
        axes[0].plot(line["retention_factor"], line["plates_recorded"] / 1000, **look)
        last.plot(line["retention_factor"], 100 * line["kept"], **look)
    for panel in axes:
        panel.set(xscale="log", xlabel=say("Retention factor k"))
        _ticks(panel.xaxis, FixedLocator([0.5, 1, 2, 5, 10, 20]))
        panel.xaxis.set_minor_locator(FixedLocator([]))
    axes[0].set(ylim=(0, None), ylabel=say("Plates recorded, thousands"))
    last.set(ylim=(0, 103), ylabel=say("Share of the column's own, %"))
    if size.narrow:
        axes[0].set_xlabel("")
        _below(figure, axes[0], 2, handlelength=3.2)
    else:
        name_ends(last, size, 0.24)
    return figure


NOISE_LINES = (
    ("height_kept", "height kept"),
    ("plates_kept", "plates kept"),
    ("clear", "signal over noise"),
)


def _noise(exhibit: Exhibit, size: Size) -> Figure:
    """Noisy traces one below the other, and what each time constant keeps."""
    figure, (left, right) = _beside(size, 2, 2.0)
    traces = [one for one in exhibit.groups("time_constant") if len(one[1]["time"]) > 2]
    tall = max(float(curve["signal"][1:].max()) for _, curve in traces)
    for order, (constant, curve) in enumerate(traces):
        time, down = curve["time"], -1.25 * order * tall
        left.plot(time, curve["noisy"] + down, color=FAINT, linewidth=0.08 * size.font)
        left.plot(time, curve["signal"] + down, color=INK)
        words = say("{constant:.2g} s", constant=constant)
        at = 0.98 * time[-1] + 0.02 * time[1], 0.45 * tall + down
        left.text(*at, words, ha="right")
    left.set(xlabel=say("Time from the start of the injection, s"), yticks=[])
    left.set_ylabel(say("Signal over amount, 1/s"))
    left.margins(x=0)
    whole = np.isfinite(exhibit.column("clear"))
    constants = exhibit.column("time_constant")[whole]
    for order, (name, words) in enumerate(NOISE_LINES):
        share = 100 * exhibit.column(name)[whole]
        right.plot(constants, share, color=SERIES[order], linestyle=DASHES[order], label=say(words))
    right.set(xscale="log", ylim=(0, 109), xlabel=say("Time constant, s"), ylabel=say("Share, %"))
    _ticks(right.xaxis, LogLocator(subs=(1, 2, 5)))
    best = int(np.argmax(exhibit.column("clear")[whole]))
    right.axvline(constants[best], color=FAINT, linewidth=0.1 * size.font, zorder=0)
    words = say("best:\n{best:.2g} s", best=constants[best])
    right.annotate(words, (constants[best], 66), (0.5 * size.font, 0), textcoords="offset points")
    right.legend(loc="lower left", borderaxespad=0.1)
    return figure


LABELLED = -5
"""Place of the point at which a curve is named: where both are well apart."""


def _plate_height(exhibit: Exhibit, size: Size) -> Figure:
    """Plate height against flow, of the column alone and recorded."""
    figure = sheet(size.width, size.height)
    panel = figure.subplots()
    flow = exhibit.column("flow_rate") / MILLILITRE_A_MINUTE
    for name, colour, marker, words, steep in (
        ("height_recorded", SERIES[1], "s", say("recorded"), True),
        ("height_column", SERIES[0], "o", say("column alone"), False),
    ):
        height = exhibit.column(name) / MICROMETRE
        panel.plot(flow, height, color=colour, marker=marker, markerfacecolor="white")
        named = max(LABELLED, -len(flow))
        panel.annotate(
            words,
            (flow[named], height[named]),
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
        xlabel=say("Flow, mL/min"),
        ylabel=say("Plate height H, µm"),
    )
    panel.yaxis.set_major_locator(MaxNLocator(6))
    panel.xaxis.set_major_formatter("{x:g}")
    _beyond(panel, exhibit, flow, size)
    return figure


def _beyond(panel: Axes, exhibit: Exhibit, flow: FloatArray, size: Size) -> None:
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
        say("above {limit:.0f} bar →", limit=limit / BAR),
        (reached, 0.03),
        xycoords=("data", "axes fraction"),
        xytext=(-0.4 * size.font, 0),
        textcoords="offset points",
        ha="right",
        color=INK,
    )


def _staircase(exhibit: Exhibit, size: Size) -> Figure:
    """Plates left as bars that become shorter by what each part takes."""
    names = [*exhibit.column("part"), say("recorded")]
    plates = exhibit.column("plates")[[*range(len(names) - 1), -1]]
    lost = np.append(exhibit.column("lost"), 0.0)
    rows = np.arange(len(names))
    tall = max(size.height, (len(rows) + 2) * 0.032 * size.font)
    figure = sheet(size.width, tall)
    panel = figure.subplots()
    panel.barh(rows, plates, 0.66, color=[SERIES[0], *[WASHED] * (len(rows) - 2), SERIES[1]])
    panel.barh(
        rows,
        np.maximum(lost, 0.0),
        0.66,
        left=plates,
        facecolor="white",
        hatch=WAYS["gaussian_theory"]["hatch"],
        edgecolor=INK,
        linewidth=0.5,
        label=say("what the part takes (Shapley value)"),
    )
    panel.plot(
        *(plates[-1] + exhibit.column("back")[1:], rows[1:-1], "D"),
        color=INK,
        markerfacecolor="white",
        label=say("recorded, if this part alone were ideal"),
    )
    ends = plates + np.maximum(lost, 0.0)
    ends[1:-1] = np.maximum(ends[1:-1], plates[-1] + exhibit.column("back")[1:])
    for row, end in enumerate(ends):
        words = f"−{_counted(lost[row])}" if 0 < row < rows[-1] else _counted(plates[row])
        _behind(panel, words, end, row, size)
    longest = 16 if size.narrow else 19
    panel.set_yticks(rows, [textwrap.fill(short(str(name), 40), longest) for name in names])
    panel.set(xlim=(0, 1.14 * plates.max()), ylim=(len(rows) - 0.4, -0.6))
    panel.set_xlabel(say("Plates left"))
    panel.locator_params(axis="x", nbins=4 if size.narrow else 5)
    panel.tick_params(axis="y", length=0)
    panel.grid(visible=False, axis="y")
    _below(figure, panel, 1 if size.narrow else 2, handlelength=1.2)
    return figure


def _behind(panel: Axes, words: str, end: float, row: int, size: Size) -> None:
    """Words right of the end of a bar."""
    panel.annotate(
        words,
        (end, row),
        xytext=(0.6 * size.font, 0),
        textcoords="offset points",
        va="center",
        fontsize=0.9 * size.font,
    )


def _counted(plates: float) -> str:
    return f"{float(f'{plates:.3g}'):.0f}"


def _sum_of_variances(exhibit: Exhibit, size: Size) -> Figure:
    """Sums of variances over what is simulated, one mark for each instrument."""
    figure, axes = _beside(size, 2, 2.0, sharex=True)
    fourier = exhibit.column("fourier_number")
    for panel, (quantity, over, label) in zip(
        axes,
        (
            ("variance", "simulated", "Variance outside the column,\nsum over simulated"),
            ("plates", "recorded", "Plates at half height,\nfrom the sum over simulated"),
        ),
        strict=True,
    ):
        for way, words, look in (
            ("textbook", "textbook sum", {"marker": "o", "markerfacecolor": "none"}),
            ("exact", "exact sum", {"marker": "x"}),
        ):
            ratio = exhibit.column(f"{quantity}_{way}") / exhibit.column(f"{quantity}_{over}")
            colour = SERIES[1 if way == "textbook" else 0]
            panel.plot(fourier, ratio, color=colour, linestyle="none", label=say(words), **look)
        panel.axhline(1, color=FAINT, linewidth=0.1 * size.font, zorder=1)
        panel.set(xscale="log", ylabel=say(label))
        _ticks(panel.xaxis, LogLocator(subs=(1, 3)))
    axes[0].legend(loc="best", handlelength=1, borderaxespad=0.2)
    label = say("Fourier number X = πDL/F of the tube that adds most")
    figure.supxlabel(textwrap.fill(label, 45) if size.narrow else label, fontsize=size.font)
    return figure


DRAWINGS = {
    "plume": lambda exhibit, size: _plume(exhibit.subject, size),
    "cell-volumes": _cell_volumes,
    "time-constants": _time_constants,
    "noise": _noise,
    "outlet-signals": _outlet_signals,
    "joint": _joint,
    "fourier-number": _fourier_number,
    "straight-bent-coiled": draw_straight_bent_coiled,
    "retention": _retention,
    "plate-height": _plate_height,
    "staircase": _staircase,
    "sum-of-variances": _sum_of_variances,
}
"""By name of the exhibit."""


def draw(exhibit: Exhibit, size: str | Size = "page") -> Picture:
    """Draw one figure.

    ``size``: as of ``tailrace.figures.style.size_of``. On a slide the title stands above the
    figure.
    """
    size = size_of(size) if isinstance(size, str) else size
    with sized(size) as chosen:
        figure = DRAWINGS[exhibit.name](exhibit, chosen)
        if size == SIZES["slide"]:
            letters = int(BOLD * size.width / (0.11 * size.font * LETTER))
            figure.suptitle(filled(exhibit.title, letters), x=0.01, ha="left", fontweight="bold")
        for panel in figure.axes:
            # Ticks that are made later, when a file is written, must be of this size, too.
            panel.tick_params(labelsize=matplotlib.rcParams["xtick.labelsize"], which="both")
        placed(figure)
        return Picture(figure, exhibit.title, exhibit.alt)
