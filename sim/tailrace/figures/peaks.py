"""The recorded peaks over those that the column alone would give: one by one, and on one trace."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D

from tailrace.figures.curves import curve, framed, view
from tailrace.figures.layout import panels
from tailrace.figures.sizes import on_narrow
from tailrace.figures.style import (
    DASHES,
    FAINT,
    MARKED,
    SERIES,
    Look,
    Picture,
    chosen_lanes,
    counted,
    own_stands,
    pale,
    short,
    shown_of,
)
from tailrace.journey.result import Result
from tailrace.journey.validity import ESTIMATED
from tailrace.measures.chromatogram import overlaid
from tailrace.measures.registry import (
    CAPACITY,
    PLATES,
    PLATES_OWN,
    RELATIVE_SIGNAL,
    TAILING,
    leading,
)
from tailrace.quantities.arrays import FloatArray
from tailrace.records.record import as_result
from tailrace.records.separation import Separation, separation, weights, worst_first
from tailrace.signals.band import Band
from tailrace.signals.cubic import sample
from tailrace.wording import say

if TYPE_CHECKING:
    from xarray import DataTree

FEW = 60
"""Recorded points in view up to which each is marked."""


def _across(result: Result) -> str:
    """Name of the axis of time: that of a Gaussian injection is counted from its middle."""
    first = result.parts[0]
    if np.any((first.mean_closed_form == 0) & (first.variance_gaussian_theory > 0)):
        return say("Time from the middle of the injection, s")
    return say("Time from the start of the injection, s")


def draw_peaks(record: DataTree | Result, solutes: Sequence[str] | None = None) -> Picture:
    """The recorded peak and the column's own, a panel for each solute.

    ``solutes``: at most four names; by default those that lose most.
    """
    result = as_result(record)
    lanes = chosen_lanes(worst_first(result), result.lanes, solutes)
    across = _across(result) + shown_of(result.lanes, solutes)
    across += own_stands(result.column_band is not None)
    labels: Look = {"across": across, "upward": say("Signal over the amount injected, 1/s")}
    key = ("upper left", 2)
    with panels(len(lanes), 3, (0.5, 2.3), (1.0, 2.35), **labels, key=key) as figure:
        for panel, lane in zip(figure.axes, lanes, strict=True):
            _both(panel, result, lane)
    return Picture(figure, say("The recorded peak"), _words_on_peaks(result, lanes))


def _both(panel: Axes, result: Result, lane: int) -> None:
    """Both peaks of one solute, what they amount to above them."""
    times, heights = curve(result.recorded_band, lane)
    spans = [view(times, heights)]
    if result.column_band is not None:
        own = curve(result.column_band, lane)
        spans.append(view(*own))
        panel.fill_between(*own, color=pale(FAINT, 0.25), linewidth=0)
        panel.plot(*own, color=FAINT, linestyle=DASHES[1], label=say("column alone"))
    left, right = framed(spans)
    seen = np.count_nonzero((times >= left) & (times <= right))
    panel.plot(
        times,
        heights,
        color=SERIES[0],
        label=say("recorded"),
        marker="o" if seen <= FEW else None,
        markersize=3,
    )
    panel.set_xlim(left, right)
    panel.set_ylim(bottom=0)
    panel.locator_params(axis="x", nbins=7)
    kept = "\u00a0".join(_kept(result, lane).rsplit(" ", 1))  # the last number behind its word
    panel.set_title(f"{short(result.lanes[lane], 40)}\n{kept}")


def _kept(result: Result, lane: int) -> str:
    """What is recorded, of what the column alone would give."""
    recorded, own = result.recorded, result.column_alone or {}
    metric = leading(recorded)
    most = own.get(PLATES if metric.name == PLATES_OWN else metric.name)
    if most is None or not np.isfinite([recorded[metric.name][lane], most[lane]]).all():
        return _metrics(recorded, lane)
    values = {"value": counted(recorded[metric.name][lane], 3), "own": counted(most[lane], 3)}
    form = "{what} {value} of {own}" if metric.name == CAPACITY else "{value} of {own} {what}"
    return say(form, what=say(metric.label), **values) + _tail(recorded[TAILING][lane])


def _own_label(result: Result, lane: int) -> str:
    # its retention is its own, so that both kinds of plates are one
    own = {name: one for name, one in (result.column_alone or {}).items() if name != PLATES_OWN}
    return say("column alone: {metrics}", metrics=_metrics(own, lane))


def _recorded_label(result: Result, lane: int) -> str:
    return say("recorded: {metrics}", metrics=_metrics(result.recorded, lane))


def _metrics(metrics: Mapping[str, FloatArray], lane: int) -> str:
    metric = leading(metrics)
    form, none = "{value:.0f} {what}", "no plates"
    if metric.name == CAPACITY:
        form, none = "{what} {value:.0f}", "no peak capacity"
    value, what = metrics[metric.name][lane], say(metric.label)
    known = np.isfinite(value)
    shown = say(form, value=float(f"{value:.3g}"), what=what) if known else say(none)
    return shown + _tail(metrics[TAILING][lane])


def _tail(tailing: float) -> str:
    return say(
        ", tailing {tailing:.2f}" if np.isfinite(tailing) else ", no tailing", tailing=tailing
    )


def _words_on_peaks(result: Result, lanes: list[int]) -> str:
    sentences = []
    for lane in lanes:
        text = f"{result.lanes[lane]}, {_recorded_label(result, lane)}"
        if result.column_band is not None:
            text += f"; {_own_label(result, lane)}"
        sentences.append(text + ".")
    text = "The peak as recorded, over the one that the column alone would give. {peaks}"
    return say(text, peaks=" ".join(sentences))


Mark: TypeAlias = tuple[str, float, float]
"""Text, time in s, and height of what stands above a peak."""
MOST_NUMBERED = 12
"""Peaks up to which each has a number and a line in the key."""
CHARACTER = 0.009
"""Width of a digit over that of the axis; numbers that would touch are written as one."""
BAR = 1e5
"""Pa"""


def draw_chromatogram(record: DataTree | Result) -> Picture:
    """The sum of all solutes, as the column alone would give it and as it is recorded.

    Both panels share their axes, so that the loss of height is seen as well as that of
    resolution; the ground between the critical pair is tinted.
    """
    result = as_result(record)
    lanes = [int(lane) for lane in np.argsort(result.recorded["apex"], kind="stable")]
    bands = [result.recorded_band]
    if result.column_band is not None:
        bands.insert(0, result.column_band)
    share, pairs = weights(result), separation(result)
    traces = [overlaid(band, share) for band in bands]
    scale = 100 / traces[0].values.max()
    key = _key(result, lanes)
    across = _across(result)
    across += own_stands(result.column_band is not None)
    upward = say("Signal, % of the highest peak in the first panel")
    tall = (1.1 + 0.2 * math.ceil(len(key) / 2), 2.0 if on_narrow() else 1.45)
    alike: Look = {"sharex": True, "sharey": True}
    with panels(len(bands), 1, (0, 7.4), tall, across=across, upward=upward, **alike) as figure:
        axes = figure.axes
        for panel, band, trace in zip(axes, bands, traces, strict=True):
            _curves(panel, band, trace, share * scale, scale)
        marks = [[band.times[k, np.argmax(band.values[k])] for k in lanes] for band in bands]
        _view(axes[0], bands, scale * max(trace.values.max() for trace in traces))
        for panel, trace, at in zip(axes, traces, marks, strict=True):
            _pair(panel, result, pairs, lanes, at)
            if key:
                _numbers(panel, at, scale * sample(trace, np.array([at]))[0])
        for panel, title in zip(axes, _titles(result, pairs)[-len(bands) :], strict=True):
            panel.set_title(title)
        if key:
            handles = [Line2D([], [], linestyle="none") for _ in key]
            look: Look = {"ncols": 1 if on_narrow() else 2, "handlelength": 0}
            figure.legend(handles, key, loc="outside upper left", **look)
    return Picture(figure, say("The chromatogram"), _words_on_trace(result, pairs, lanes))


def _curves(panel: Axes, band: Band, trace: Band, scales: FloatArray, scale: float) -> None:
    """The trace, and the single peaks under it."""
    for lane, height in enumerate(scales):
        times, heights = curve(band, lane)
        panel.plot(times, height * heights, color=FAINT, linestyle=DASHES[2], linewidth=1.0)
    times, heights = curve(trace, 0)
    panel.plot(times, scale * heights, color=SERIES[0])


def _view(panel: Axes, bands: list[Band], highest: float) -> None:
    """All peaks, with room for the numbers above them."""
    spans = [view(*curve(band, lane)) for band in bands for lane in range(band.lanes)]
    panel.set_xlim(framed(spans, 0.03, 0.03))
    panel.set_ylim(0, 1.15 * highest)
    panel.set_yticks(range(0, 101, 25))
    panel.locator_params(axis="x", nbins=9)


def _pair(
    panel: Axes, result: Result, pairs: Separation, lanes: list[int], marks: list[float]
) -> None:
    """Tint the ground between the critical pair."""
    if pairs.critical is None:
        return
    names = (pairs.first[pairs.critical], pairs.second[pairs.critical])
    ends = [marks[lanes.index(result.lanes.index(name))] for name in names]
    panel.axvspan(*ends, color=MARKED, zorder=0)


def _numbers(panel: Axes, marks: list[float], heights: FloatArray) -> None:
    """A number on each peak; those that would touch stand as one, above the highest."""
    left, right = panel.get_xlim()
    groups: list[Mark] = []
    for number, (at, height) in enumerate(zip(marks, heights, strict=True), 1):
        one = (str(number), at, height)
        while groups and _touch(groups[-1], one, CHARACTER * (right - left)):
            before = groups.pop()
            one = (f"{before[0]}, {one[0]}", (before[1] + one[1]) / 2, max(before[2], one[2]))
        groups.append(one)
    for text, at, height in groups:
        panel.annotate(
            text, (at, height), (0, 3), textcoords="offset points", ha="center", fontsize=9
        )


def _touch(one: Mark, other: Mark, character: float) -> bool:
    return other[1] - one[1] < character * ((len(one[0]) + len(other[0])) / 2 + 0.5)


def _key(result: Result, lanes: list[int]) -> list[str]:
    """A line for each number: the name, what is kept of the height, signal to noise."""
    if len(lanes) > MOST_NUMBERED:
        return []
    lines = []
    for number, lane in enumerate(lanes, 1):
        line = f"{number}  {short(result.lanes[lane], 30)}"
        kept, clear = (_known(result, name, lane) for name in (RELATIVE_SIGNAL, "signal_to_noise"))
        if math.isfinite(kept):
            line += say(", {kept:.3g} % of the column's height", kept=100 * kept)
        if math.isfinite(clear):
            line += say(", signal to noise {clear:.10g}", clear=float(f"{clear:.2g}"))
        lines.append(line)
    return lines


def _known(result: Result, name: str, lane: int) -> float:
    return float(result.signal[name][lane]) if name in result.signal else math.nan


def _titles(result: Result, pairs: Separation) -> tuple[str, str]:
    """Of the column's panel and of the recorded one."""
    own, recorded = say("The column's own"), say("As recorded")
    if pairs.critical is not None:
        pair = ": resolution of the critical pair {resolution:.3g}"
        own += say(pair, resolution=pairs.column_alone[pairs.critical])
        recorded += say(pair, resolution=pairs.half_height[pairs.critical])
    highest = result.pressure.highest
    if math.isfinite(highest):
        path = "; {pressure:.3g} bar ± {about:.0f} % over the whole path"
        if highest > result.pressure.total:
            path = "; at most {pressure:.3g} bar ± {about:.0f} % over the whole path"
        recorded += say(path, pressure=highest / BAR, about=100 * ESTIMATED)
    return own, recorded


def _words_on_trace(result: Result, pairs: Separation, lanes: list[int]) -> str:
    """Order of elution and the critical pair."""
    names = "; ".join(_key(result, lanes)) or ", ".join(
        result.lanes[lane] for lane in lanes[:MOST_NUMBERED]
    )
    if len(lanes) > MOST_NUMBERED:
        names += say(" and {count} more", count=len(lanes) - MOST_NUMBERED)
    text = say("All solutes on one trace, in the order of elution: {names}. ", names=names)
    if pairs.critical is not None:
        first, second = pairs.first[pairs.critical], pairs.second[pairs.critical]
        text += say("The critical pair is {first} and {second}. ", first=first, second=second)
    return text + ". ".join(_titles(result, pairs)) + "."
