"""The band behind each part: how it widens on its way."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from matplotlib.axes import Axes

from tailrace.figures.curves import curve, framed, half_width, levelled, middle, view
from tailrace.figures.picture import Picture
from tailrace.figures.style import (
    DASHES,
    FAINT,
    MARKED,
    SERIES,
    Look,
    chosen_lanes,
    panels,
    short,
    shown_of,
)
from tailrace.journey.result import PartResult, Result
from tailrace.quantities.arrays import FloatArray
from tailrace.records.losses import worst_first
from tailrace.records.record import as_result

if TYPE_CHECKING:
    from xarray import DataTree


def draw_stages(record: DataTree | Result, solutes: Sequence[str] | None = None) -> Picture:
    """A panel for each part with the band that leaves it, all centred on their maximum.

    Panels before the column share one time scale, those from the column on another, so that
    widths can be compared by eye. With one solute the band that enters is drawn, too.

    ``solutes``: at most four names; by default those that lose most.
    """
    result = as_result(record)
    lanes = chosen_lanes(worst_first(result), result.lanes, solutes)
    across = "Time from the maximum of the band, s  (in the corners: width at half height)"
    across += shown_of(result.lanes, solutes)
    count, upward, key = len(result.recording), "Signal over its maximum", ("upper left", 4)
    # as few empty places as can be; the wider of two
    columns = 3 if count <= 3 else min((3, 4, 5), key=lambda wide: (-count % wide, -wide))
    labels: Look = {"across": across, "upward": upward, "key": key}
    with panels(count, columns, (2.1, 2.5), (1, 1.95), **labels, sharey=True) as figure:
        axes = figure.axes
        for index, part in enumerate(result.recording):
            _panel(axes[index], result, index, lanes)
            axes[index].set_title(f"{index + 1}  {short(part.name, 27)}", fontsize=9.5)
        _scales(axes, result, lanes)
    return Picture(figure, "The band behind each part", _words(result, lanes))


def _panel(panel: Axes, result: Result, index: int, lanes: list[int]) -> None:
    """The bands behind one part; numbers in the corner are their widths at half height."""
    part = result.recording[index]
    if len(lanes) == 1:
        before = result.recording[index - 1] if index else part
        times, heights = _seen(before, lanes[0])
        shown = heights / heights.max() if index else heights * math.nan
        label = "the band that enters the part"
        panel.plot(
            times - middle(times, heights), shown, color=FAINT, linestyle=DASHES[2], label=label
        )
    for order, lane in enumerate(lanes):
        times, heights = _seen(part, lane)
        panel.plot(
            times - middle(times, heights),
            heights / heights.max(),
            color=SERIES[order],
            linestyle=DASHES[order],
            label=short(result.lanes[lane], 30),
        )
        width = half_width(times, heights)
        panel.annotate(
            f"{width:.3g} s",
            (0.98, 0.97 - 0.14 * order),
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
    return times, levelled(heights) if part.injects else heights


def _span(part: PartResult, lane: int) -> tuple[float, float]:
    times, heights = _seen(part, lane)
    first, last = view(times, heights)
    centre = middle(times, heights)
    return first - centre, last - centre


def _words(result: Result, lanes: list[int]) -> str:
    """The widths at half height, part by part, of the first solute drawn."""
    lane = lanes[0]
    widths = [f"{part.name} {half_width(*_seen(part, lane)):.3g} s" for part in result.recording]
    return (
        f"A panel for each part shows the band of {', '.join(result.lanes[k] for k in lanes)} "
        f"behind it. Width at half height of {result.lanes[lane]}: {', '.join(widths)}."
    )
