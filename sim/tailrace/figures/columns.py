"""What an instrument leaves of each of several columns, and which change serves which."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import matplotlib
import numpy as np

from tailrace.figures.layout import filled, heading, key_columns, panels
from tailrace.figures.sizes import on_narrow
from tailrace.figures.style import FAINT, INK, Picture, counted, short
from tailrace.figures.writing import micro
from tailrace.measures.registry import METRICS, PLATES, PLATES_OWN
from tailrace.records.record import as_result
from tailrace.studies.improving.result import Improvement
from tailrace.wording import number, say

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from xarray import DataTree

    from tailrace.journey.result import Result

THICK = 0.6
BEFORE = "#e3e0d8"
SHADES = (0.08, 0.92)
"""Ends of the colours of the steps on a scale that is alike for all eyes (cividis)."""
WIDE = 0.028
"""Share of the bar from which on the number of a step finds room in it."""


@dataclass(frozen=True)
class _Bar:
    """One column: what it could give, and the shares of it that are recorded after each step."""

    name: str
    own: float
    kept: Sequence[float]


def draw_columns(record: DataTree | Result) -> Picture:
    """One bar a column of a run: the share of what it could give that is recorded."""
    result: Result = as_result(record)
    bars = [
        _Bar(one.name, float(one.could_give[one.worst]), [float(one.kept[one.worst])])
        for one in result.columns
    ]
    kept = [bar.kept[0] for bar in bars]
    what = _what(result.columns[0].metric)
    finding = "The instrument leaves {kept} of the {what} that the columns could give"
    finding = say(finding, kept=_span(kept), what=what)
    return _drawn(bars, what, [], 0, finding)


def draw_columns_improved(improvement: Improvement) -> Picture:
    """One bar a column: the share that is recorded as it is, and what each step adds to it."""
    found = improvement.combinations.by_column
    assert found is not None
    rows = [step.combination for step in improvement.steps]
    bars = [
        _Bar(name, float(found.ceiling[at]), found.kept[rows, at].tolist())
        for at, name in enumerate(found.names)
    ]
    what = _what(improvement.aim.metric)
    before, after = _span([one.kept[0] for one in bars]), _span([one.kept[-1] for one in bars])
    count = len(rows) - 1
    begin = "Of the {what} that the columns could give, the instrument as it is leaves {before}"
    finding = say(begin, what=what, before=before)
    if count:
        later = ", {after} after one step" if count == 1 else ", {after} after {count} steps"
        finding += say(later, after=after, count=count)
    names = [step.change for step in improvement.steps[1:]]
    return _drawn(bars, what, names, improvement.stop_after, finding)


def _what(metric: str) -> str:
    return say(METRICS[PLATES if metric == PLATES_OWN else metric].label)


def _span(shares: Sequence[float]) -> str:
    low, high = (number(f"{100 * one:.3g}") for one in (min(shares), max(shares)))
    return f"{low} %" if low == high else say("{low} to {high} %", low=low, high=high)


def _drawn(bars: list[_Bar], what: str, steps: list[str], after: int, finding: str) -> Picture:
    tall = 1.75 + 0.6 * len(bars) + 0.22 * ((len(steps) + 3) // 3)
    with panels(1, 1, (0, 7.4), (0, tall)) as figure:
        (panel,) = figure.axes
        for row, bar in enumerate(bars):
            _bar(panel, row, bar, after)
        letters = 17 if on_narrow() else 24
        shown = [textwrap.fill(micro(short(bar.name, 60)), letters) for bar in bars]
        panel.set_yticks(range(len(bars)), shown, fontsize=9.5)
        panel.set_ylim(len(bars) - 0.45, -0.55)
        panel.set_xlim(0, 100)
        panel.grid(visible=False, axis="y")
        panel.tick_params(axis="y", length=0)
        label = say("Recorded share of the {what} that each column could give, %", what=what)
        panel.set_xlabel(filled(label, 30) if on_narrow() else label)
        _key(panel, steps, after)
        handles, labels = panel.get_legend_handles_labels()
        ncols = key_columns(figure, labels, 3)
        figure.legend(handles, labels, loc="outside lower left", ncols=ncols)
        heading(figure, finding, 92)
    spans = "; ".join(
        say(
            "{column}: {kept} of {own}",
            column=bar.name,
            kept=say(" then ").join(say("{kept:.3g} %", kept=100 * one) for one in bar.kept),
            own=counted(bar.own),
        )
        for bar in bars
    )
    named = "; ".join(f"{at} {name}" for at, name in enumerate(steps, 1))
    named = say(" Steps: {steps}.", steps=named) if steps else ""
    whole = "{finding}. A bar for each column, of the solute that keeps least. {told}.{named}"
    text = say(whole, finding=finding, told=spans, named=named)
    return Picture(figure, say("What the instrument leaves of each column"), text)


def _bar(panel: Axes, row: int, bar: _Bar, after: int) -> None:
    edge: dict[str, Any] = {"edgecolor": INK, "linewidth": 0.6}
    whole: dict[str, Any] = {"facecolor": "white", "edgecolor": FAINT, "linewidth": 0.8}
    panel.barh(row, 100, THICK, **whole)
    panel.barh(row, 100 * bar.kept[0], THICK, color=BEFORE, **edge)
    if bar.kept[0] > (0.3 if on_narrow() else 0.1):
        at: dict[str, Any] = {"ha": "center", "va": "center", "fontsize": 9}
        panel.text(50 * bar.kept[0], row, say("{kept:.3g} %", kept=100 * bar.kept[0]), **at)
    count = len(bar.kept) - 1
    for step in range(1, count + 1):
        low, high = bar.kept[step - 1], bar.kept[step]
        if high <= low:
            continue
        colour = _shade(step, count)
        hatch = "/////" if step > after else None
        panel.barh(row, 100 * (high - low), THICK, 100 * low, facecolor=colour, hatch=hatch, **edge)
        if high - low > (2 if on_narrow() else 1) * WIDE:
            ink = "white" if np.dot(colour[:3], (0.3, 0.59, 0.11)) < 0.5 else INK
            place: dict[str, Any] = {"ha": "center", "va": "center", "fontsize": 9, "color": ink}
            panel.text(50 * (low + high), row, str(step), **place)
    values = [counted(share * bar.own) for share in dict.fromkeys((bar.kept[0], bar.kept[-1]))]
    panel.annotate(
        say("{values}\nof {own}", values=" → ".join(values), own=counted(bar.own)),
        (100, row),
        (7, 0),
        textcoords="offset points",
        va="center",
        fontsize=9,
        annotation_clip=False,
    )


def _shade(step: int, count: int) -> tuple[float, ...]:
    low, high = SHADES
    place = low + (high - low) * (step - 1) / max(count - 1, 1)
    return tuple(matplotlib.colormaps["cividis"](place))


def _key(panel: Axes, steps: list[str], after: int) -> None:
    """Bars of no length, for one entry each in the legend."""
    edge: dict[str, Any] = {"edgecolor": INK, "linewidth": 0.6}
    panel.barh(0, 0, 0, color=BEFORE, label=say("recorded as it is"), **edge)
    for step, name in enumerate(steps, 1):
        hatch = "/////" if step > after else None
        colour = _shade(step, len(steps))
        label = f"{step} {micro(short(name, 34))}"
        panel.barh(0, 0, 0, facecolor=colour, hatch=hatch, label=label, **edge)
    lost = say("lost in the instrument")
    panel.barh(0, 0, 0, facecolor="white", edgecolor=FAINT, label=lost)
