"""A sweep in pictures: lines over what is varied, or maps over two numbers."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import ListedColormap, LogNorm, Normalize
from matplotlib.figure import Figure
from matplotlib.patheffects import AbstractPathEffect, withStroke
from matplotlib.ticker import FixedLocator, MaxNLocator, NullFormatter

from tailrace.figures.layout import panels
from tailrace.figures.style import (
    DASHES,
    INK,
    SERIES,
    Dash,
    Look,
    Picture,
    capital,
    short,
)
from tailrace.figures.writing import micro
from tailrace.measures.registry import TAILING
from tailrace.parts import part_class
from tailrace.quantities.arrays import FloatArray
from tailrace.quantities.kinds import KINDS
from tailrace.records.trade import in_words, trade
from tailrace.studies.sweeping import Sweep
from tailrace.wording import number, say

if TYPE_CHECKING:
    from xarray import DataArray, Dataset


def draw_lines(sweep: Sweep) -> Picture:
    """A line for each solute over the first varied number, or over the cases in their order."""
    scenario = sweep.plan.scenario
    metric = scenario.leading
    label = say(metric.label)
    axes = sweep.plan.axes
    one = axes[0] if axes[0].unit and (len(axes) == 1 or sweep.plan.together) else None
    count = len(sweep.plan.itineraries)
    x: FloatArray = np.arange(1.0, count + 1.0)
    where = say("Case")
    if one is not None:
        usual = trade(one.target.kind, one.unit)
        x, where = usual.of(one.values), micro(usual.named(in_words(one.name)))
    values = sweep.metrics[f"recorded/{metric.name}"]
    with panels(1, 1, (0, 7.4), (0, 4.2)) as figure:
        (panel,) = figure.axes
        for lane, solute in enumerate(sweep.solutes):
            panel.plot(
                x,
                values[:, lane],
                color=SERIES[lane % len(SERIES)],
                linestyle=DASHES[lane % len(DASHES)],
                marker="o",
                markersize=3,
                label=short(solute, 30),
            )
        panel.set_xlabel(where)
        panel.set_ylabel(capital(label))
        panel.legend()
    found = [
        _extremes(solute, x, values[:, lane])
        for lane, solute in enumerate(sweep.solutes)
        if np.isfinite(values[:, lane]).any()
    ]
    words = say(
        "{what} over {where} in {count} cases: {found}.",
        what=label,
        where=where,
        count=count,
        found=", ".join(found) or say("none computed"),
    )
    return Picture(figure, f"{scenario.title}: {label}", words)


def _extremes(solute: str, x: FloatArray, values: FloatArray) -> str:
    """The least and the greatest value of a line, and where they are."""
    low, high = int(np.nanargmin(values)), int(np.nanargmax(values))
    return say(
        "{solute} {low:.4g} at {lowest:.4g} to {high:.4g} at {highest:.4g}",
        solute=solute,
        low=values[low],
        lowest=x[low],
        high=values[high],
        highest=x[high],
    )


FOURIER_LINES = (0.001, 0.003, 0.01, 0.03, 0.1, 0.3, 1, 3, 10, 30, 100)
RATIO_LINES = (0.01, 0.02, 0.05, 0.1, 0.2, 0.3, 0.5, 0.7, 0.9, 0.95, 0.99, 1.01, 1.05, 1.2, 1.5)
TAILING_LINES = (0.6, 0.8, 0.9, 1.05, 1.2, 1.5, 2, 3, 4, 6, 8, 12, 20)
INSIDE = 0.42
"""Distance from the middle of a map, over its side, up to which labels of lines stand."""
ROOM = (0.19, 0.12)
"""Of a label to the next, over the sides of the map."""
FEW = 4
"""Points of a line near the frame that is too short for a label."""
COLOURS = ListedColormap(matplotlib.colormaps["cividis"](np.linspace(0.35, 1.0, 256)))
"""Even in lightness, and the same to most who do not tell red from green (Nuñez, Anderton and
Renslow, PLoS ONE 13 (2018) e0199239; from memory). Without its dark end: lines must be seen."""


def draw_maps(dataset: Dataset, solute: str | None = None) -> Picture:
    """Two maps over the two axes of a sweep.

    Left: the recorded variance over the sum of what Gaussian theory says of every part; right: the
    tailing factor at 5 % of the height. Dashed lines: the Fourier number of the tube that has the
    largest Gaussian-theory variance. ``dataset``: of ``tailrace.records.sweep_record``, over two
    fields that are numbers, each with each; ``solute``: by default the first. Raises ValueError
    where the sweep has not two such axes, or no such solute.
    """
    solutes = [str(name) for name in dataset["solute"].values]
    if solute is not None and solute not in solutes:
        raise ValueError(f"no solute {solute!r}; there are: {', '.join(solutes)}")
    chosen = dataset.isel(solute=0 if solute is None else solutes.index(solute))
    across, upward = _axes(chosen)
    chosen = chosen.transpose(upward, across, ...)
    theory = chosen["part_variance_gaussian_theory"].sum("part")
    ratio = (chosen["variance"] / theory).values
    tailing = chosen[TAILING].values
    tube, fourier = _fourier(chosen)
    under: Look = {"across": _label(chosen[across]), "upward": _label(chosen[upward])}
    with panels(2, 2, (0.4, 3.4), (0.7, 3.0), **under, sharey=True) as figure:
        left, right = figure.axes
        _panel(figure, left, chosen[across], chosen[upward], ratio, fourier, RATIO_LINES)
        left.set_title(say("Recorded variance over Gaussian theory"))
        _panel(figure, right, chosen[across], chosen[upward], tailing, fourier, TAILING_LINES)
        right.set_title(say("Tailing factor at 5 % of the height"))
        name = short(str(chosen["solute"].values), 40)
        note = say("{solute}.  Solid lines: values of the map.", solute=name)
        if fourier is not None:
            note += say("  Dashed lines: Fourier number X of {tube}.", tube=short(tube, 30))
        figure.suptitle(note, fontsize=9.5, x=0.01, ha="left")
    words = _words(note, chosen[across], chosen[upward], ratio, tailing)
    return Picture(figure, say("Where Gaussian theory holds"), words)


def _axes(dataset: Dataset) -> list[str]:
    dimensions = [str(name) for name in dataset["variance"].dims if name not in ("solute", "part")]
    numbers = [name for name in dimensions if name in dataset and dataset[name].dtype.kind == "f"]
    if len(numbers) != 2 or len(dimensions) != 2 or min(dataset.sizes[n] for n in numbers) < 2:
        raise ValueError(
            f"a map needs two varied numbers with two values or more each, not {dimensions}"
        )
    return numbers


def _fourier(dataset: Dataset) -> tuple[str, FloatArray | None]:
    """The tube that matters most and its Fourier number over the map; None where it is the same."""
    tubes = np.flatnonzero([part_class(kind).laminar for kind in dataset["kind"].values])
    if not tubes.size:
        return "", None
    added = dataset["part_variance_gaussian_theory"].isel(part=tubes)
    spread = added.mean([name for name in added.dims if name != "part"])
    chosen = dataset.isel(part=int(tubes[np.argmax(spread.values)]))
    fourier = chosen["part_fourier_number"].values
    return str(chosen["part"].values), fourier if np.ptp(fourier) > 0 else None


def _panel(
    figure: Figure,
    panel: Axes,
    across: DataArray,
    upward: DataArray,
    values: FloatArray,
    fourier: FloatArray | None,
    levels: Sequence[float],
) -> None:
    """One map with its lines and its bar."""
    x, y = _usual(across)[0], _usual(upward)[0]
    shown = np.ma.masked_invalid(values)
    low, high = (float(shown.min()), float(shown.max())) if shown.count() else (0.0, 1.0)
    in_ratios = low > 0 and high > 3 * low
    norm = LogNorm(low, high) if in_ratios else Normalize(low, high)
    cells = _edges(x), _edges(y)
    mesh = panel.pcolormesh(*cells, shown, cmap=COLOURS, norm=norm, rasterized=True)
    for axis, along, scale in ((panel.xaxis, x, "x"), (panel.yaxis, y, "y")):
        if _in_ratios(along):
            panel.set(**{f"{scale}scale": "log"})
            axis.set_minor_formatter(NullFormatter())
        panel.set(**{f"{scale}lim": (along.min(), along.max())})
        axis.set_major_formatter("{x:g}")
    panel.grid(visible=False)
    taken: list[FloatArray] = []
    if fourier is not None:
        _lines(panel, x, y, fourier, FOURIER_LINES, (0, (4, 2.5)), "X {:g}", 0.1, taken)
    inside = [one for one in levels if low < one < high]
    lines = inside if len(inside) > 1 else MaxNLocator(5).tick_values(low, high)
    _lines(panel, x, y, values, lines, "-", "{:g}", 0.7, taken)
    bar = figure.colorbar(mesh, ax=panel, pad=0.02)
    if in_ratios:
        bar.ax.yaxis.set_major_locator(FixedLocator(_apart(levels, low, high)))
        bar.ax.yaxis.set_minor_locator(FixedLocator([]))
    bar.ax.yaxis.set_major_formatter("{x:g}")


def _apart(levels: Sequence[float], low: float, high: float, least: float = 0.04) -> list[float]:
    """Levels within a logarithmic scale that leave room for each other's labels."""
    chosen: list[float] = []
    for level in levels:
        within = low <= level <= high
        if within and (not chosen or np.log(level / chosen[-1]) > least * np.log(high / low)):
            chosen.append(level)
    return chosen


def _lines(
    panel: Axes,
    x: FloatArray,
    y: FloatArray,
    values: FloatArray,
    levels: Sequence[float] | FloatArray,
    dashes: Dash,
    form: str,
    along: float,
    taken: list[FloatArray],
) -> None:
    """Labelled lines of equal value.

    ``along``: share of a line's way behind which its label stands, if it can; ``taken``: places
    of labels on the panel, to which these are added.
    """
    shown = np.ma.masked_invalid(values)
    within = [one for one in levels if shown.count() and shown.min() < one < shown.max()]
    if not within:
        return
    drawn = panel.contour(x, y, shown, within, colors=INK, linewidths=0.9, linestyles=[dashes])
    halo: list[AbstractPathEffect] = [withStroke(linewidth=2.5, foreground="white", alpha=0.8)]
    longest = [max(pieces, key=len) for pieces in drawn.allsegs if len(pieces)]
    places = [place for one in longest for place in _on(panel, one, along, taken)]
    words: Look = {"fmt": lambda one: number(form.format(one)), "fontsize": 8.5, "manual": places}
    for label in panel.clabel(drawn, **words):
        label.set_path_effects(halo)


def _on(
    panel: Axes, line: FloatArray, along: float, taken: list[FloatArray]
) -> list[tuple[float, float]]:
    """About a share of the way along a line, neither near the frame nor on another label, which
    joins those ``taken``; none in a corner."""
    apart = panel.transAxes.inverted().transform(panel.transData.transform(line)) - 0.5
    inside = np.flatnonzero(np.all(np.abs(apart) < INSIDE, axis=1))
    if not inside.size and len(line) < FEW:
        return []
    chosen, share = (inside, along) if inside.size > 1 else (np.arange(len(line)), 0.5)
    wanted = round(share * (len(chosen) - 1))
    near = chosen[np.argsort(np.abs(np.arange(len(chosen)) - wanted), kind="stable")]
    free = [
        min((float(np.max(np.abs(apart[at] - one) / ROOM)) for one in taken), default=np.inf)
        for at in near
    ]
    best = near[next((at for at, one in enumerate(free) if one >= 1), int(np.argmax(free)))]
    taken.append(apart[best])
    x, y = line[best]
    return [(float(x), float(y))]


def _edges(values: FloatArray) -> FloatArray:
    """Borders of cells around the values, half-way between them in the axis's own scale."""
    along = np.log(values) if _in_ratios(values) else np.asarray(values, dtype=float)
    middle = (along[1:] + along[:-1]) / 2
    ends = 2 * along[0] - middle[0], 2 * along[-1] - middle[-1]
    borders = np.concatenate([ends[:1], middle, ends[1:]])
    return np.exp(borders) if _in_ratios(values) else borders


def _in_ratios(values: FloatArray) -> bool:
    """Whether values stand in equal ratios rather than in equal steps."""
    if len(values) < 3 or not values.min() > 0:
        return False
    ratios, steps = np.ptp(np.diff(np.log(values))), np.ptp(np.diff(values))
    return bool(ratios < steps / np.abs(values).mean())


def _usual(coordinate: DataArray) -> tuple[FloatArray, str]:
    """Values in the trade's unit where the kind of quantity is known, and that unit."""
    row = KINDS.get(coordinate.attrs.get("quantity", ""))
    if row is None:
        return coordinate.values, coordinate.attrs["units"]
    unit, size = row.units[0]
    return (coordinate.values - row.offset) / size, unit


def _label(coordinate: DataArray) -> str:
    unit = _usual(coordinate)[1]
    name = in_words(str(coordinate.attrs.get("long_name", coordinate.name)))
    return micro(f"{name}, {unit}") if unit not in ("", "1") else name


def _words(
    note: str, across: DataArray, upward: DataArray, ratio: FloatArray, tailing: FloatArray
) -> str:
    text = (
        "{note} Two maps, {across} across and {upward} upward. Recorded variance over that of "
        "Gaussian theory: {ratio}. Tailing factor: {tail}."
    )
    axes = [(_label(one), _usual(one)[0]) for one in (across, upward)]
    span = "{name} from {low:.3g} to {high:.3g}"
    first, second = (say(span, name=name, low=at.min(), high=at.max()) for name, at in axes)
    ways = axes[0][1], axes[1][1]
    found = {"ratio": _span(ratio, *ways), "tail": _span(tailing, *ways)}
    return say(text, note=note, across=first, upward=second, **found)


def _span(values: FloatArray, across: FloatArray, upward: FloatArray) -> str:
    """The least and the greatest value of a map, and where they are."""
    if not np.isfinite(values).any():
        return say("not known")
    ends = (np.unravel_index(find(values), values.shape) for find in (np.nanargmin, np.nanargmax))
    text = "{value:.3g} at {across:.3g} and {upward:.3g}"
    low, high = (
        say(text, value=values[row, column], across=across[column], upward=upward[row])
        for row, column in ends
    )
    return say("from {low} to {high}", low=low, high=high)
