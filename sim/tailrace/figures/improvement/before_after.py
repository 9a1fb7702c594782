"""The recorded peaks before the changes, where to stop, and after all of them."""

import numpy as np

from tailrace.figures.curves import curve, view
from tailrace.figures.improvement.words import heading, plain
from tailrace.figures.picture import Picture
from tailrace.figures.style import DASHES, FAINT, SERIES, chosen_lanes, sheet, short, styled
from tailrace.records.losses import worst_first

LOOKS = (
    {"color": SERIES[1], "linestyle": DASHES[1]},
    {"color": SERIES[2], "linestyle": DASHES[3]},
    {"color": SERIES[0], "linestyle": DASHES[0]},
)
"""Before, where to stop, after everything; with two results the first and the last."""


def draw_before_after(results, solutes=None):
    """The recorded peaks of several states of an instrument over each other.

    Parameters
    ----------
    results : dict of str to Result
        Two or three with their bands, by what they are called; the first is the start.
    solutes : sequence of str, optional
        At most four; by default those that lose most at the start.

    Returns
    -------
    Picture
    """
    first = next(iter(results.values()))
    lanes = chosen_lanes(worst_first(first), first.lanes, solutes)
    columns = 1 if len(lanes) == 1 else 2
    rows = -(-len(lanes) // columns)
    with styled():
        figure = sheet(6.8 if columns == 1 else 10.4, 1.3 + 3.3 * rows)
        axes = figure.subplots(rows, columns, squeeze=False).ravel()
        for panel, lane in zip(axes, lanes, strict=False):
            _panel(panel, results, lane)
        for spare in axes[len(lanes) :]:
            spare.remove()
        figure.supxlabel("Time from the start of the injection, s", fontsize=10)
        figure.supylabel("Signal over the amount injected, 1/s", fontsize=10)
        heading(figure, finding(results, lanes[0]), 62 if columns == 1 else 100)
        handles, labels = axes[0].get_legend_handles_labels()
        figure.legend(handles, labels, loc="outside lower left", ncols=2)
    return Picture(figure, "The peaks before and after", _words(results, lanes))


def finding(results, lane) -> str:
    """How much higher and narrower the last peak is than the first, without a point.

    Parameters
    ----------
    results : dict of str to Result
    lane : int
        Of the solute that is told.
    """
    first, last = (list(results.values())[place] for place in (0, -1))
    name = short(first.lanes[lane], 40)
    if last is first:
        return f"No change is worth making: the peak of {name} stays as it is"
    width = last.recorded["width_half"][lane] / first.recorded["width_half"][lane]
    height = last.recorded["height"][lane] / first.recorded["height"][lane]
    if not (np.isfinite(width) and np.isfinite(height)):
        return f"The peaks before and after, {name} first"
    return (
        f"After all steps the peak of {name} is {plain(height, 3)} times as high and "
        f"{100 * width:.0f} % as wide"
    )


def _looks(results):
    return LOOKS if len(results) == len(LOOKS) else (LOOKS[0], LOOKS[-1])[: len(results)]


def _panel(panel, results, lane):
    spans = []
    own = next(reversed(results.values()))
    if own.column_band is not None:
        times, heights = curve(own.column_band, lane)
        spans.append(view(times, heights))
        panel.fill_between(
            times, heights, color=FAINT, alpha=0.25, linewidth=0, label="the column alone"
        )
    for (name, result), look in zip(results.items(), _looks(results), strict=True):
        times, heights = curve(result.recorded_band, lane)
        spans.append(view(times, heights))
        panel.plot(times, heights, label=name, **look)
    left, right = min(span[0] for span in spans), max(span[1] for span in spans)
    panel.set_xlim(left - 0.04 * (right - left), right + 0.04 * (right - left))
    panel.set_ylim(bottom=0)
    panel.locator_params(axis="x", nbins=7)
    name, what = _read(own)
    figures = [_told(result.recorded[name][lane]) for result in results.values()]
    panel.set_title(f"{short(own.lanes[lane], 30)}: {' → '.join(figures)} {what}")


def _read(result):
    """Measure that is told, and its name; plates mean nothing in a gradient."""
    if "peak_capacity" in result.recorded:
        return "peak_capacity", "peak capacity"
    return "plates_half_height", "plates"


def _told(value):
    return plain(value) if np.isfinite(value) else "none"


def _words(results, lanes):
    said = []
    for lane in lanes:
        states = []
        for state, result in results.items():
            name, what = _read(result)
            states.append(f"{state} {_told(result.recorded[name][lane])} {what}")
        said.append(f"{result.lanes[lane]}: {'; '.join(states)}.")
    return f"{finding(results, lanes[0])}. " + " ".join(said)
