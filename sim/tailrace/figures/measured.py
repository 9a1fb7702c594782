"""A measured signal: what was read, where its peaks and their baselines are."""

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes

from tailrace.figures.layout import panels
from tailrace.figures.style import DASHES, FAINT, INK, MARKED, SERIES, Look, Picture, short
from tailrace.measurements.result import Measurement
from tailrace.measures.registry import APEX, HEIGHT
from tailrace.studies.measured.result import Overlay
from tailrace.wording import say

MOST_POINTS, MOST_NAMES = 4000, 30
"""Of a line, beyond which the least and greatest of neighbours stand for them; of peaks named."""
LOW = 2
"""Per cent of all points that may lie below what is drawn near the baseline."""
BESIDE = 3
"""Signals side by side."""
ROOM = 1.15
"""Half of what is left between the curves is drawn in, over its largest value."""


def draw_measurement(file: Measurement) -> Picture:
    """The signal above, and near its baseline below."""
    unit = file.signal.signal_unit or say("unit not said")
    upward = say("Signal, {unit}", unit=unit)
    ratios: Look = {"sharex": True, "height_ratios": (3, 2)}
    with panels(2, 1, (0, 7.4), (0, 1.3), upward=upward, **ratios) as figure:
        top, low = figure.axes
        for panel in (top, low):
            _signal(panel, file)
        _names(top, file)
        noise = max(file.noise.peak_to_peak, 1e-9 * float(np.ptp(file.signal.values)))
        held = file.level[np.isfinite(file.level)]
        lowest, highest = (held.min(), held.max()) if held.size else (0.0, 0.0)
        lowest = min(lowest, np.percentile(file.signal.values, LOW))  # of a baseline that drifts
        room = max(4 * noise, 0.04 * float(np.ptp(file.signal.values)), highest - lowest)
        low.set_ylim(lowest - 0.3 * room, highest + room)
        low.set_title(say("The same near its baseline"))
        top.set_title(short(file.name, 60))
        low.set_xlabel(say("Time, s"))
        top.legend(loc="upper right")
    title = say("The signal of {file}", file=short(file.name, 60))
    return Picture(figure, title, _words(file))


def _signal(panel: Axes, file: Measurement) -> None:
    for start, end in zip(file.window_start, file.window_end, strict=True):
        panel.axvspan(start, end, color=MARKED, zorder=0)
    times, values = thinned(file.signal.times, file.signal.values)
    panel.plot(times, values, color=SERIES[0], linewidth=1.2, label=say("signal"))
    grid = file.signal.times[0] + file.interval * np.arange(file.level.size)
    panel.plot(grid, file.level, color=SERIES[1], linestyle=DASHES[1], label=say("baseline"))


def thinned(times: np.ndarray, values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """A line of at most about MOST_POINTS points that looks the same."""
    every = times.size // (MOST_POINTS // 2)
    if every < 2:
        return times, values
    count = times.size // every
    rows = values[: count * every].reshape(count, every)
    ends = np.stack([rows.min(axis=1), rows.max(axis=1)], axis=1).ravel()
    middles = times[: count * every].reshape(count, every).mean(axis=1)
    return np.repeat(middles, 2), ends


def _names(panel: Axes, file: Measurement) -> None:
    """The number of each peak above it."""
    for at, name in enumerate(file.peaks[:MOST_NAMES]):
        apex = file.metrics[APEX][at]
        if np.isfinite(apex):
            nearest = int(np.argmin(np.abs(file.signal.times - apex)))
            panel.annotate(
                name,
                (apex, file.signal.values[nearest]),
                xytext=(0, 3),
                textcoords="offset points",
                ha="center",
                color=INK,
                fontsize=8.5,
            )
    panel.margins(y=0.12)
    panel.plot([], [], color=MARKED, linewidth=7, label=say("window"))
    if not file.peaks:
        panel.plot([], [], color=FAINT)


def _words(file: Measurement) -> str:
    unit = file.signal.signal_unit or f"({say('unit not said')})"
    text = "peak {name} at {apex:.5g} s, {height:.4g} {unit} high"
    found = [
        say(text, name=name, apex=apex, height=height, unit=unit)
        for name, apex, height in zip(
            file.peaks, file.metrics[APEX], file.metrics[HEIGHT], strict=True
        )
        if np.isfinite(apex)
    ]
    peaks = "; ".join(found[:MOST_NAMES])
    if len(found) > MOST_NAMES:
        peaks += say(" and {count} more", count=len(found) - MOST_NAMES)
    text = "The signal with {count} windows, and below it the same near its baseline: {peaks}."
    if len(file.peaks) == 1:
        text = "The signal with one window, and below it the same near its baseline: {peaks}."
    elif not file.peaks:
        text = "The signal, and below it the same near its baseline; no peak was found."
    noise = " Noise from peak to peak: {noise:.2g} {unit}."
    whole = say(text, count=len(file.peaks), peaks=peaks)
    return whole + say(noise, noise=file.noise.peak_to_peak, unit=unit)


def _apart(one: Overlay) -> float:
    return float(np.max(np.abs(one.signal - one.simulated)))


def draw_overlay(one: Overlay) -> Picture:
    """Measured and simulated above, what is left between them below."""
    with panels(2, 1, (0, 7.4), (0, 1.5), sharex=True, height_ratios=(3, 1.4)) as figure:
        top, low = figure.axes
        _lay(one, top, low)
        top.legend(loc="upper right")
        top.set_title(short(one.name, 60))
        low.set_title(say("Measured minus simulated (band: ± 2 standard deviations of the noise)"))
        low.set_xlabel(say("Time in the file, s"))
    title = say("{file}: measured (line) and simulated (dashes)", file=short(one.name, 60))
    return Picture(figure, title, _words_on_overlay(one))


def draw_overlays(found: Sequence[Overlay]) -> Picture:
    """Several signals side by side, each as of ``draw_overlay``; one key for all."""
    if len(found) == 1:
        return draw_overlay(found[0])
    across = say("Time in the file, s")
    key = ("lower center", 3)
    with panels(len(found), BESIDE, (0, 2.45), (0.7, 2.8), across=across, key=key) as figure:
        for one, place in zip(found, figure.axes, strict=True):
            spec = place.get_subplotspec()
            assert spec is not None
            place.remove()
            rows = spec.subgridspec(2, 1, height_ratios=(3, 1.4))
            top = figure.add_subplot(rows[0])
            low = figure.add_subplot(rows[1], sharex=top)
            _lay(one, top, low)
            top.tick_params(labelbottom=False)
            top.set_title(short(one.name, 40))
            low.set_title(say("Measured − simulated"), fontweight="normal")
            low.locator_params(axis="x", nbins=6)
            look: Look = {"color": MARKED, "linewidth": 7}
            top.plot([], [], label=say("± 2 standard deviations of the noise"), **look)
    title = say("Each signal measured (line) and simulated (dashes), and what is left between them")
    told = (f"{one.name}: {_words_on_overlay(one)}" for one in found)
    return Picture(figure, title, " ".join(told))


def _lay(one: Overlay, top: Axes, low: Axes) -> None:
    """One signal and its simulation, and below what is left between them."""
    unit = one.signal_unit or say("unit not said")
    top.plot(one.times, one.signal, color=SERIES[0], linewidth=1.2, label=say("measured"))
    look: Look = {"color": SERIES[1], "linestyle": DASHES[1], "label": say("simulated")}
    top.plot(one.times, one.simulated, **look)
    top.set_ylabel(say("Signal, {unit}", unit=unit))
    noise: Look = {"facecolor": MARKED, "edgecolor": FAINT, "linewidth": 0.6, "zorder": 0}
    low.axhspan(-2 * one.noise_left, 2 * one.noise_left, **noise)
    low.plot(one.times, one.signal - one.simulated, color=INK, linewidth=0.8)
    low.set_ylabel(unit)
    if room := ROOM * max(_apart(one), 2 * one.noise_left):
        low.set_ylim(-room, room)


def _words_on_overlay(one: Overlay) -> str:
    unit, left = one.signal_unit or f"({say('unit not said')})", _apart(one)
    text = (
        "The measured signal, highest with {measured:.3g} {unit}, and the simulated one laid upon "
        "it, highest with {simulated:.3g} {unit} at {time:.3g} s. Below, what is left between "
        "them: at most {left:.3g} {unit}"
    )
    noise = ", {times:.3g} times the standard deviation of the noise"
    tops = {"measured": float(one.signal.max()), "simulated": float(one.simulated.max())}
    time = float(one.times[np.argmax(one.simulated)])
    whole = say(text, unit=unit, left=left, time=time, **tops)
    return whole + (say(noise, times=left / one.noise_left) if one.noise_left > 0 else "") + "."
