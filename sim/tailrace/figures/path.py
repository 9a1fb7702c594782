"""The path in pictures: where the variance comes from, and the band behind each part."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes

from tailrace.figures.curves import curve, framed, half_width, levelled, middle, view
from tailrace.figures.layout import panels, room_across
from tailrace.figures.style import (
    DASHES,
    FAINT,
    INK,
    MARKED,
    MOST_SOLUTES,
    SERIES,
    WAYS,
    Look,
    Picture,
    chosen_lanes,
    short,
    shown_of,
)
from tailrace.journey.result import PartResult, Result
from tailrace.measures.registry import leading
from tailrace.quantities.arrays import FloatArray
from tailrace.records.record import as_result
from tailrace.records.separation import shares_outside_column, worst_first
from tailrace.wording import number, say

if TYPE_CHECKING:
    from xarray import DataTree

FOCUSED = (
    "Variance added, s²  (per cent: share of what is added outside the column, simulated; what "
    "focusing left of it)"
)
MUCH = 2.0
"""How many times the longest other bar the column's may be without being cut."""

LETTERS = "abcd"
"""Tell solutes apart without their colours."""
NUMBERS, WHOLE = 1.05, 0.7
"""in, of what stands behind a bar; share of an axis that the longest bar takes at most."""
THICK = 0.26
"""Of one bar, where the distance of two parts is 1."""


def draw_sources(record: DataTree | Result, solutes: Sequence[str] | None = None) -> Picture:
    """Bars of the variance that each part adds, in s^2; a panel for each solute.

    The axis ends at what the parts outside the column need; a column's bar that is longer is cut
    there and says its value. Percentages are shares of the variance added outside the column.

    ``solutes``: at most four names; by default those that lose most.
    """
    result = as_result(record)
    lanes = chosen_lanes(worst_first(result), result.lanes, solutes)
    across = "Variance added, s²  (per cent: share of what is added outside the column, simulated)"
    if any(np.isfinite(part.gradient_focusing).any() for part in result.parts):
        across = FOCUSED
    across = say(across)
    across += _back_means(result) + shown_of(result.lanes, solutes)
    wide, tall = (1.9, 1.7), (1.7, 0.37 * len(result.recording))
    key = ("upper left", 3)
    with panels(len(lanes), 4, wide, tall, across=across, key=key, sharey=True) as figure:
        axes = figure.axes
        figure.set_layout_engine("constrained", wspace=0.06)
        for panel, lane in zip(axes, lanes, strict=True):
            _bars(panel, result, lane)
            panel.set_title(short(result.lanes[lane], 34))
        names = [textwrap.fill(short(part.name, 48), 26) for part in result.recording]
        axes[0].set_yticks(range(len(names)), names, fontsize=9.5)
        axes[0].set_ylim(len(names) - 0.4, -0.6)
    return Picture(figure, say("Where the variance comes from"), _words_on_sources(result, lanes))


def _back_means(result: Result) -> str:
    if result.regained is None:
        return ""
    text = "Behind it with a sign: {what} that would come back if this part alone were ideal"
    return "\n" + say(text, what=say(leading(result.recorded).label))


def _variances(part: PartResult, lane: int) -> dict[str, float]:
    return {way: float(getattr(part, f"variance_{way}")[lane]) for way in WAYS}


def _bars(panel: Axes, result: Result, lane: int) -> None:
    """The bars of one solute, with the share of each part at its end."""
    added = [_variances(part, lane) for part in result.recording]
    end = _axis_end(result.recording, added, 1 - NUMBERS / (0.75 * room_across(panel)))
    panel.set_xlim(0, end)
    panel.grid(visible=False, axis="y")
    panel.locator_params(axis="x", nbins=3)
    panel.tick_params(axis="y", length=0)
    for order, (way, look) in enumerate(WAYS.items()):
        lengths = np.array([values[way] for values in added])
        panel.barh(
            np.arange(len(added)) + (order - 1) * THICK,
            np.where(np.isfinite(lengths), np.clip(lengths, 0, end), 0),
            THICK,
            edgecolor=INK,
            linewidth=0.6,
            **(look | {"label": say(look["label"])}),
        )
    shares = shares_outside_column(result, lane)
    for row, (part, values) in enumerate(zip(result.recording, added, strict=True)):
        if part.separates:
            panel.axhspan(row - 0.5, row + 0.5, color=MARKED, zorder=0)
            _column_note(panel, row, values, end)
        elif part.name in shares:
            share = 100 * shares[part.name]
            text = say("< 0.1 %" if 0 < share < 0.05 else "{share:.1f} %", share=share)
            text += _back(result, part.name, lane)
            panel.text(_longest(values) + 0.012 * end, row, text, va="center", fontsize=9)


def _back(result: Result, name: str, lane: int) -> str:
    """What would come back if a part were ideal, to stand behind its share; no digit below its
    discretisation error."""
    values = {} if result.regained is None else result.regained.leading
    if result.regained is None or name not in values or not np.isfinite(values[name][lane]):
        return ""
    rounded = float(f"{values[name][lane]:.2e}")
    error = float(result.regained.numerical_error[name][lane])
    if abs(values[name][lane]) <= error:
        return ""
    if error > 0:
        rounded = round(rounded, -math.floor(math.log10(error)))
    return ";  " + number(f"{rounded:+.0f}" if abs(rounded) >= 100 else f"{rounded:+.3g}")


def _longest(values: dict[str, float]) -> float:
    return max((value for value in values.values() if np.isfinite(value)), default=0.0)


def _axis_end(parts: Sequence[PartResult], added: list[dict[str, float]], share: float) -> float:
    """Where the axis ends: the longest bar that is shown in full takes this share of it at most."""
    lengths = [
        _longest(values) for part, values in zip(parts, added, strict=True) if not part.separates
    ]
    limit = max(lengths, default=0.0)
    column = max(map(_longest, added))
    if column <= MUCH * limit or limit <= 0:
        limit = column
    return limit / min(share, WHOLE) if limit > 0 else 1.0


def _column_note(panel: Axes, row: int, values: dict[str, float], end: float) -> None:
    """The value of the column's bar: behind it, or on it where it is cut."""
    longest = _longest(values)
    text = say("{variance:.3g} s²", variance=values["simulated"])
    if longest <= 0.81 * end:
        panel.text(longest + 0.012 * end, row, text, va="center", fontsize=9)
        return
    ground = {"facecolor": "white", "edgecolor": "none", "pad": 1.5}
    panel.text(
        0.97 * end,
        row,
        f"{text} ({say('bar cut')})",
        va="center",
        ha="right",
        fontsize=9,
        bbox=ground,
    )


def _words_on_sources(result: Result, lanes: list[int]) -> str:
    """The largest shares of each solute drawn."""
    sentences = []
    for lane in lanes:
        shares = list(shares_outside_column(result, lane).items())[:3]
        named = ", ".join(
            say("{part} {share:.1f} %", part=name, share=100 * share) for name, share in shares
        )
        ranked = [] if result.regained is None else result.regained.ranked(lane)
        for part, back in ranked[:1]:
            text = "; most would come back from {part}, if it alone were ideal ({what}: {back:g})"
            what = say(leading(result.recorded).label)
            named += say(text, part=part, what=what, back=float(f"{back:.2e}"))
        sentences.append(f"{result.lanes[lane]}: {named or say('nothing added')}.")
    return say(
        "Bars of the variance that each part adds, by Gaussian theory, exact closed form and "
        "simulation. Largest shares of the variance added outside the column: {shares}",
        shares=" ".join(sentences),
    )


def draw_stages(record: DataTree | Result, solutes: Sequence[str] | None = None) -> Picture:
    """A panel for each part with the band that leaves it, all centred on their maximum.

    Panels before the column share one time scale, those from the column on another, so that
    widths can be compared by eye. With one solute the band that enters is drawn, too.

    ``solutes``: at most four names; by default those that lose most.
    """
    result = as_result(record)
    lanes = chosen_lanes(worst_first(result), result.lanes, solutes)
    across = say("Time from the maximum of the band, s  (in the corners: width at half height)")
    across += shown_of(result.lanes, solutes)
    count, upward, key = len(result.recording), say("Signal over its maximum"), ("upper left", 4)
    # as few empty places as can be; the wider of two
    columns = 3 if count <= 3 else min((3, 4, 5), key=lambda wide: (-count % wide, -wide))
    labels: Look = {"across": across, "upward": upward, "key": key}
    tall = 1.25 if len(lanes) < MOST_SOLUTES else 1.6
    with panels(count, columns, (0.8, 2.1), (1, tall), **labels, sharey=True) as figure:
        axes = figure.axes
        for index, part in enumerate(result.recording):
            _bands(axes[index], result, index, lanes)
            scale = f"  ({say('other time scale')})" if part.separates and index else ""
            axes[index].set_title(
                f"{index + 1}  {short(part.name, 27 - len(scale))}{scale}", fontsize=9.5
            )
        _scales(axes, result, lanes)
    return Picture(figure, say("The band behind each part"), _words_on_stages(result, lanes))


def _bands(panel: Axes, result: Result, index: int, lanes: list[int]) -> None:
    """The bands behind one part; numbers in the corner are their widths at half height."""
    part = result.recording[index]
    if len(lanes) == 1:
        before = result.recording[index - 1] if index else part
        times, heights = _seen(before, lanes[0])
        shown = heights / heights.max() if index else heights * math.nan
        label = say("the band that enters the part")
        panel.plot(
            times - middle(times, heights), shown, color=FAINT, linestyle=DASHES[2], label=label
        )
    many = len(lanes) > 1
    for order, lane in enumerate(lanes):
        times, heights = _seen(part, lane)
        shown_name = short(result.lanes[lane], 30)
        panel.plot(
            times - middle(times, heights),
            heights / heights.max(),
            color=SERIES[order],
            linestyle=DASHES[order],
            label=f"{LETTERS[order]}  {shown_name}" if many else shown_name,
        )
        width = half_width(times, heights)
        panel.annotate(
            f"{LETTERS[order]}  " * many + say("{width:.3g} s", width=width),
            (0.98, 0.97 - 0.17 * order),
            xycoords="axes fraction",
            ha="right",
            va="top",
            fontsize=8.5,
            color=SERIES[order],
        )
    panel.set_ylim(0, 1.06)
    panel.set_yticks([0, 0.5, 1])
    if part.separates:
        panel.set_facecolor(MARKED)


def _scales(axes: Sequence[Axes], result: Result, lanes: list[int]) -> None:
    count = len(result.recording)
    split = next((at for at, part in enumerate(result.recording) if part.separates), count)
    for group in (range(split), range(split, count)):
        spans = [_span(result.recording[index], lane) for index in group for lane in lanes]
        for index in group:
            # room on the right for the widths that stand in the corner
            axes[index].set_xlim(framed(spans, 0.05, 0.25))


def _seen(part: PartResult, lane: int) -> tuple[FloatArray, FloatArray]:
    times, heights = curve(part.band, lane)
    if not part.injects:
        return times, heights
    mean, variance = float(part.mean_closed_form[lane]), float(part.variance_exact[lane])
    if math.isclose(variance, mean**2 / 3, rel_tol=1e-6):
        # a rectangle from the start on, which may be hardly longer than a step of its samples
        return np.array([0, 0, 2 * mean, 2 * mean]), np.array([0.0, 1, 1, 0]) / (2 * mean)
    return times, levelled(heights)


def _span(part: PartResult, lane: int) -> tuple[float, float]:
    times, heights = _seen(part, lane)
    first, last = view(times, heights)
    centre = middle(times, heights)
    return first - centre, last - centre


def _words_on_stages(result: Result, lanes: list[int]) -> str:
    """The widths at half height, part by part."""
    sentences = [say("A panel for each part, in the order of flow, shows the band behind it.")]
    for lane in lanes:
        widths = [
            say("{part} {width:.3g} s", part=part.name, width=half_width(*_seen(part, lane)))
            for part in result.recording
        ]
        text = "Width at half height of {solute}: {widths}."
        sentences.append(say(text, solute=result.lanes[lane], widths=", ".join(widths)))
    return " ".join(sentences)
