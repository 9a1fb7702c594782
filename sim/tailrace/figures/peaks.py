"""The recorded peak over the one that the column alone would give."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes

from tailrace.figures.curves import curve, framed, view
from tailrace.figures.picture import Picture
from tailrace.figures.style import (
    DASHES,
    FAINT,
    SERIES,
    chosen_lanes,
    panels,
    short,
    shown_of,
)
from tailrace.journey.result import Result
from tailrace.measures.registry import CAPACITY, PLATES, TAILING
from tailrace.quantities.arrays import FloatArray
from tailrace.records.losses import worst_first
from tailrace.records.record import as_result

if TYPE_CHECKING:
    from xarray import DataTree


FEW = 60
"""Recorded points in view up to which each is marked."""


def draw_peaks(record: DataTree | Result, solutes: Sequence[str] | None = None) -> Picture:
    """The recorded peak and the column's own, a panel for each solute.

    ``solutes``: at most four names; by default those that lose most.
    """
    result = as_result(record)
    lanes = chosen_lanes(worst_first(result), result.lanes, solutes)
    across = "Time from the start of the injection, s" + shown_of(result.lanes, solutes)
    upward = "Signal over the amount injected, 1/s"
    with panels(len(lanes), 2, (2.4, 4.0), (0.6, 3.7), across=across, upward=upward) as figure:
        for panel, lane in zip(figure.axes, lanes, strict=True):
            _panel(panel, result, lane)
    return Picture(figure, "The recorded peak", _words(result, lanes))


def _panel(panel: Axes, result: Result, lane: int) -> None:
    """Both peaks of one solute, the legend above them."""
    times, heights = curve(result.recorded_band, lane)
    spans = [view(times, heights)]
    if result.column_band is not None:
        own = curve(result.column_band, lane)
        spans.append(view(*own))
        panel.fill_between(*own, color=FAINT, alpha=0.25, linewidth=0)
        panel.plot(*own, color=FAINT, linestyle=DASHES[1], label=_own_label(result, lane))
    left, right = framed(spans)
    seen = np.count_nonzero((times >= left) & (times <= right))
    panel.plot(
        times,
        heights,
        color=SERIES[0],
        label=_recorded_label(result, lane),
        marker="o" if seen <= FEW else None,
        markersize=3,
    )
    panel.set_xlim(left, right)
    panel.set_ylim(bottom=0)
    panel.locator_params(axis="x", nbins=7)
    panel.set_title(short(result.lanes[lane], 40), pad=22 if result.column_band is None else 40)
    panel.legend(loc="lower left", bbox_to_anchor=(-0.02, 1.0), borderaxespad=0.2)


def _own_label(result: Result, lane: int) -> str:
    return "column alone: " + _metrics(result.column_alone or {}, lane)


def _recorded_label(result: Result, lane: int) -> str:
    return "recorded: " + _metrics(result.recorded, lane)


def _metrics(metrics: Mapping[str, FloatArray], lane: int) -> str:
    tailing = metrics[TAILING][lane]
    name, form, none = PLATES, "{:.0f} plates", "no plates"
    if CAPACITY in metrics:
        name, form, none = CAPACITY, "peak capacity {:.0f}", "no peak capacity"
    number = metrics[name][lane]
    shown = form.format(float(f"{number:.3g}")) if np.isfinite(number) else none
    return shown + (f", tailing {tailing:.2f}" if np.isfinite(tailing) else ", no tailing")


def _words(result: Result, lanes: list[int]) -> str:
    sentences = []
    for lane in lanes:
        text = f"{result.lanes[lane]}, {_recorded_label(result, lane)}"
        if result.column_band is not None:
            text += f"; {_own_label(result, lane)}"
        sentences.append(text + ".")
    return "The peak as recorded, over the one that the column alone would give. " + " ".join(
        sentences
    )
