"""What changes to an instrument bring, in pictures: steps, what they cost, and the peaks."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from tailrace.figures.curves import curve, framed, view
from tailrace.figures.layout import LETTER, heading, panels, room_across
from tailrace.figures.sizes import on_narrow
from tailrace.figures.style import (
    DASHES,
    FAINT,
    INK,
    SERIES,
    Picture,
    capital,
    chosen_lanes,
    counted,
    own_stands,
    pale,
    short,
)
from tailrace.journey.result import Result
from tailrace.measures.registry import EXTRA_COLUMN, HEIGHT, WIDTH, leading
from tailrace.records.separation import worst_first
from tailrace.studies.improving.result import Improvement, Step
from tailrace.wording import say

if TYPE_CHECKING:
    from matplotlib.axes import Axes

THICK = 0.62
"""Of a bar, where the distance of two steps is 1."""
DONE, LEFT, BEFORE = SERIES[0], "#9db4cc", "#e3e0d8"
"""What a step brings; the same where it brings too little to be made; what was there before it."""
UNSURE = SERIES[1]
DEMANDS = {
    "cost": ("Cost", 1.0),
    "effort": ("Work, min", 60.0),
    "pressure": ("Pressure, bar", 1e5),
    "signal_to_noise": ("Signal to noise, over the start's", 1.0),
}
"""Label and unit (in SI) of each demand."""
LITTLE = 0.1
"""Share of itself by which a demand has to differ to have a panel."""
TOLD = 6
"""Points of a line of which its words tell at most."""
HALF = 0.5
"""Share of the best gain whose price the title gives."""
LOOKS: tuple[dict[str, Any], ...] = (
    {"color": SERIES[1], "linestyle": DASHES[1]},
    {"color": SERIES[2], "linestyle": DASHES[3], "zorder": 3},  # else the last may hide it
    {"color": SERIES[0], "linestyle": DASHES[0]},
)
"""Before, where to stop, after everything; with two results the first and the last."""


def draw_staircase(improvement: Improvement) -> Picture:
    """One bar a step, from the start up to the column's own metric: what there was, what it brings.

    Steps behind the point where to stop are hatched. A diamond is what the sum of variances gives.
    """
    steps = improvement.steps
    tall = 1.9 + 0.44 * len(steps)
    with panels(1, 1, (0, 7.4), (0, tall), key=("lower left", 3)) as figure:
        panel = figure.axes[0]
        _bars(panel, improvement)
        _ceiling(panel, improvement)
        names = [_name(step) for step in steps]
        panel.set_yticks(range(len(steps)), names, fontsize=9.5)
        panel.set_ylim(len(steps) - 0.4, -0.6)
        panel.grid(visible=False, axis="y")
        panel.tick_params(axis="y", length=0)
        whose = {"what": improvement.aim.label, "whose": _whose(improvement)}
        label = capital(say("{what} of {whose}", **whose))
        panel.set_xlabel(textwrap.fill(label, 26) if on_narrow() else label)
        heading(figure, staircase_finding(improvement), 92)
    described = "; ".join(_told(improvement, row) for row in range(len(steps)))
    whole, finding = "{finding}. A bar for each step. {steps}.", staircase_finding(improvement)
    if np.isfinite([step.gain_low for step in steps]).any():
        whole = (
            "{finding}. A bar for each step, in brackets 95 % of the input uncertainty. {steps}."
        )
    text = say(whole, finding=finding, steps=described)
    return Picture(figure, say("What each step brings"), text)


def _told(improvement: Improvement, row: int) -> str:
    """One bar in words."""
    step = improvement.steps[row]
    value = counted(step.value)
    if row and np.isfinite(step.gain_low):
        low, high = map(counted, _interval(improvement, row))
        value += say(" ({low} to {high})", low=low, high=high)
    return say(
        "{number} {change}: {value}, by the sum of variances {theory}",
        number=step.number,
        change=step.change or say("as it is"),
        value=value,
        theory=counted(step.theory),
    )


def staircase_finding(improvement: Improvement) -> str:
    """What the staircase shows, in a sentence without its point."""
    steps, after = improvement.steps, improvement.stop_after
    words = {"what": improvement.aim.label, "whose": _whose(improvement)}
    words |= {"first": counted(steps[0].value), "last": counted(steps[-1].value)}
    if not after or not improvement.worth_it:
        few = "No step brings {stop:g} %" if improvement.worth_it else "Not worth it"
        text = ": {what} of {whose}: {first} now, {last} after all steps"
        return say(few, stop=100 * improvement.stop) + say(text, **words)
    text = "{count} steps take {what} of {whose} from {first} to {now}"
    if after == 1:
        text = "One step takes {what} of {whose} from {first} to {now}"
    if after < (made := len(steps) - 1):
        text = "The first {count} of {made} steps take {what} of {whose} from {first} to {now}"
        if after == 1:
            text = "The first of {made} steps takes {what} of {whose} from {first} to {now}"
    sentence = say(text, count=after, made=made, now=counted(steps[after].value), **words)
    if np.isfinite(improvement.ceiling):
        most = "; {ideal} would give {ceiling}"
        sentence += say(most, ideal=_ideal(improvement), ceiling=counted(improvement.ceiling))
    return sentence


def _bars(panel: Axes, improvement: Improvement) -> None:
    steps, after = improvement.steps, improvement.stop_after
    values = np.array([step.value for step in steps])
    earlier = np.concatenate([values[:1], values[:-1]])
    low = np.minimum(values, earlier)
    rows = np.arange(len(steps))
    edge: dict[str, Any] = {"edgecolor": INK, "linewidth": 0.6}
    panel.barh(rows, low, THICK, color=BEFORE, **edge)
    for row, step in enumerate(steps):
        if row:
            hatch = None if row <= after else "/////"
            color = DONE if row <= after else LEFT
            width = abs(values[row] - earlier[row])
            panel.barh(row, width, THICK, low[row], facecolor=color, hatch=hatch, **edge)
            if np.isfinite(step.gain_low):
                panel.plot(_interval(improvement, row), (row, row), color=UNSURE, linewidth=2.5)
        _label(panel, row, step, improvement)
    # Bars of no length, for one entry each in the legend.
    panel.barh(0, 0, 0, color=BEFORE, label=say("there before the step"), **edge)
    if after:
        panel.barh(0, 0, 0, color=DONE, label=say("what the step brings"), **edge)
    if after < len(steps) - 1:
        little = say("brings less than {stop:g} %", stop=100 * improvement.stop)
        panel.barh(0, 0, 0, facecolor=LEFT, hatch="/////", label=little, **edge)
    if np.isfinite([step.gain_low for step in steps]).any():
        unsure = say("95 % of the input uncertainty")
        panel.plot([], [], color=UNSURE, linewidth=2.5, label=unsure)
    panel.plot(
        [step.theory for step in steps],
        rows,
        linestyle="none",
        marker="D",
        markersize=5.5,
        markerfacecolor="white",
        markeredgecolor=INK,
        label=say("by the sum of variances"),
    )


def _interval(improvement: Improvement, row: int) -> list[float]:
    """Between which the value lies for the uncertainty of what the step brings."""
    step, before = improvement.steps[row], improvement.steps[row - 1].value
    return sorted(before + improvement.aim.sign * gain for gain in (step.gain_low, step.gain_high))


def _label(panel: Axes, row: int, step: Step, improvement: Improvement) -> None:
    """The value behind the bar, and in brackets what the step brings of the one before."""
    text = counted(step.value)
    before = improvement.steps[max(row - 1, 0)].value
    if row:
        text += say("  ({more:+.2g} %)", more=100 * (step.value - before) / abs(before))
    right = max(step.value, before, step.theory)
    if row and np.isfinite(step.gain_low):
        right = max(right, _interval(improvement, row)[1])
    ground = {"facecolor": "white", "edgecolor": "none", "pad": 1}
    panel.annotate(
        text,
        (right, row),
        (5 if on_narrow() else 8, 0),
        textcoords="offset points",
        va="center",
        fontsize=8 if on_narrow() else 9,
        bbox=ground,
    )


def _ceiling(panel: Axes, improvement: Improvement) -> None:
    """The column's own metric as a line; room for the labels."""
    furthest = max(max(step.value, step.theory) for step in improvement.steps)
    ceiling = improvement.ceiling
    if np.isfinite(ceiling):
        line: dict[str, Any] = {"color": FAINT, "linestyle": (0, (5, 2)), "zorder": 0.5}
        panel.axvline(ceiling, label=_ideal(improvement), **line)
    end = max(1.24 * furthest, 1.04 * ceiling if np.isfinite(ceiling) else 0)
    panel.set_xlim(0, end)
    panel.locator_params(axis="x", nbins=2 if on_narrow() else 7)


def _ideal(improvement: Improvement) -> str:
    """What the ceiling is of."""
    outside = improvement.aim.metric == EXTRA_COLUMN
    return say("an ideal instrument" if outside else "the column alone")


def _name(step: Step) -> str:
    text = f"{step.number}  {short(step.change, 58) if step.number else say('as it is')}"
    return textwrap.fill(text, 22 if on_narrow() else 30)


def _whose(improvement: Improvement) -> str:
    names = list(dict.fromkeys(step.of for step in improvement.steps))
    if len(names) == 1 and not improvement.aim.columns:
        return str(short(names[0], 40))
    pair = improvement.aim.key == "resolution"
    return say("the worst pair" if pair else "the worst solute")


def draw_frontiers(improvement: Improvement) -> Picture:
    """Gain of every combination against each demand; the line joins those that no other beats."""
    upward = say("Gain of {what} over the start", what=improvement.aim.label)
    key = ("lower left", 4)
    shown = demands_that_tell(improvement) or ["cost"]
    columns = 2 if len(shown) in (1, 2, 4) else 3
    size: Any = (0.4, 2.3), (0.8, 2.5)
    with panels(len(shown), columns, *size, upward=upward, key=key, sharey=True) as figure:
        for panel, demand in zip(figure.axes, shown, strict=True):
            _scatter(panel, improvement, demand)
        heading(figure, frontier_finding(improvement), 100)
    text = say(
        "{finding}. A panel for each demand with a point for each combination of changes, and a "
        "line through those whose gain of {what} no other beats for as little. {lines}",
        finding=frontier_finding(improvement),
        what=improvement.aim.label,
        lines=" ".join(_frontier(improvement, demand) for demand in shown),
    )
    return Picture(figure, say("What the gain costs"), text)


def _frontier(improvement: Improvement, demand: str) -> str:
    """Some points of a line in words, the first and the last among them."""
    label, unit = DEMANDS[demand]
    front = improvement.frontiers[demand]
    front = front[np.argsort(improvement.gain(front), kind="stable")]
    spent = getattr(improvement.combinations, demand)[front] / unit
    count = min(TOLD, len(front))
    points = [
        say(
            "{gain} for {price}",
            gain=counted(float(improvement.gain(front)[at]), 3),
            price=counted(float(spent[at]), 3),
        )
        for at in np.linspace(0, len(front) - 1, count).round().astype(int).tolist()
    ]
    whole = "{label}: {points}." if count == len(front) else "{label}, {some} of {all}: {points}."
    points = points or [say("not known")]
    return say(whole, label=say(label), some=count, all=len(front), points=", ".join(points))


def demands_that_tell(improvement: Improvement) -> list[str]:
    """Those that differ enough between combinations to be drawn."""
    found = []
    for demand in DEMANDS:
        values = getattr(improvement.combinations, demand)
        values = values[np.isfinite(values)]
        if values.size and np.ptp(values) > LITTLE * np.abs(values).max():
            found.append(demand)
    return found


def frontier_finding(improvement: Improvement) -> str:
    """What the frontiers show, in a sentence without its point."""
    best, whole = improvement.best, improvement.gain(improvement.best)
    if not whole > 0:
        return say("Nothing within the constraints is better than the instrument as it is")
    prices = []
    for demand, form in (
        ("cost", "costs {some} of {whole}"),
        ("effort", "takes {some} of {whole}"),
    ):
        rows = improvement.frontiers[demand]
        enough = rows[improvement.gain(rows) >= HALF * whole]
        spent = getattr(improvement.combinations, demand) / DEMANDS[demand][1]
        if enough.size and spent[best] > 0:
            some, all_of_it = counted(spent[enough[0]]), counted(spent[best])
            prices.append(say(form, some=some, whole=all_of_it))
    if not prices:
        return say("The best combination gains {whole}", whole=counted(whole))
    if len(prices) > 1:
        text = "Half of the gain {price} and {work} min of work"
        return say(text, price=prices[0], work=prices[1])
    return say("Half of the gain {price}", price=prices[0])


def _scatter(panel: Axes, improvement: Improvement, demand: str) -> None:
    label, unit = DEMANDS[demand]
    across = getattr(improvement.combinations, demand) / unit
    gain = improvement.gain(np.arange(len(across)))
    satisfied = improvement.combinations.satisfied
    for rows, marker, size, what in (
        (satisfied, "o", 13, "a combination of changes"),
        (~satisfied, "x", 20, "breaks a constraint"),
    ):
        if not rows.any():
            continue
        panel.scatter(
            across[rows],
            gain[rows],
            size,
            marker=marker,
            color=SERIES[1] if marker == "x" else FAINT,
            linewidths=0.9,
            alpha=0.9 if rows.sum() < 200 else 0.4,
            label=say(what),
            rasterized=len(gain) > 500,
        )
    front = improvement.frontiers[demand]
    front = front[np.argsort(gain[front], kind="stable")]
    line: dict[str, Any] = {"color": SERIES[0], "marker": "o", "markersize": 5}
    panel.plot(
        across[front],
        gain[front],
        drawstyle="steps-post",
        label=say("no other brings more for less"),
        **line,
    )
    ring: dict[str, Any] = {
        "facecolors": "none",
        "edgecolors": SERIES[2],
        "linewidths": 2,
        "clip_on": False,
    }
    at = slice(improvement.best, improvement.best + 1)
    best = say("the best allowed")
    panel.scatter(across[at], gain[at], 130, label=best, **ring)
    panel.set_xlabel(textwrap.fill(say(label), int(room_across(panel) / LETTER)))
    panel.locator_params(axis="x", nbins=4 if on_narrow() else 7)
    if not np.isfinite(across).any():
        panel.text(0.5, 0.5, say("not known"), ha="center", transform=panel.transAxes)


def draw_before_after(
    results: Mapping[str, Result], solutes: Sequence[str] | None = None
) -> Picture:
    """The recorded peaks of two or three states of an instrument over each other.

    ``results``: with their bands, by what they are called; the first is the start; ``solutes``: at
    most four; by default those that lose most at the start.
    """
    first = next(iter(results.values()))
    lanes = chosen_lanes(worst_first(first), first.lanes, solutes)
    own = [one for one in results.values() if one.column_band is not None]
    across = say("Time from the start of the injection, s") + own_stands(bool(own))
    upward, key = say("Signal over the amount injected, 1/s"), ("lower left", 2)
    wide, tall = (0.5, 2.2), (1.6, 2.5)
    with panels(len(lanes), 3, wide, tall, across=across, upward=upward, key=key) as figure:
        for panel, lane in zip(figure.axes, lanes, strict=True):
            _peaks(panel, results, lane)
        heading(figure, peaks_finding(results, lanes[0]), 62 if len(lanes) == 1 else 100)
    sentences = [f"{peaks_finding(results, lanes[0])}."]
    for lane in lanes:
        states = [f"{_state(one)}: {_plates(result, lane)}" for one, result in results.items()]
        sentences.append(f"{first.lanes[lane]}: {'; '.join(states)}.")
    return Picture(figure, say("The peaks before and after"), " ".join(sentences))


def peaks_finding(results: Mapping[str, Result], lane: int) -> str:
    """How much higher and narrower the last peak of a lane is than the first, without a point."""
    first, last = (list(results.values())[place] for place in (0, -1))
    name = short(first.lanes[lane], 40)
    if last is first:
        return say("No change is worth making: the peak of {name} stays as it is", name=name)
    width, height = (
        last.recorded[key][lane] / first.recorded[key][lane] for key in (WIDTH, HEIGHT)
    )
    if not (np.isfinite(width) and np.isfinite(height)):
        return say("The peaks before and after, {name} first", name=name)
    return say(
        "After all steps the peak of {name} is {height} times as high and {width:.0f} % as wide",
        name=name,
        height=counted(height, 3),
        width=100 * width,
    )


def _state(name: str) -> str:
    """``after step 2, the last``; of one of several columns with its name before it."""
    column, colon, state = name.rpartition(": ")
    step = re.sub(r"\D", "", state)
    return column + colon + say(state.replace(step or "none", "{step}"), step=step)


def _peaks(panel: Axes, results: Mapping[str, Result], lane: int) -> None:
    spans = []
    own = next(reversed(list(results.values())))
    if own.column_band is not None:
        times, heights = curve(own.column_band, lane)
        spans.append(view(times, heights))
        area: dict[str, Any] = {"color": pale(FAINT, 0.25), "linewidth": 0}
        panel.fill_between(times, heights, label=say("the column alone"), **area)
    looks = LOOKS if len(results) == len(LOOKS) else (LOOKS[0], LOOKS[-1])[: len(results)]
    for (name, result), look in zip(results.items(), looks, strict=True):
        times, heights = curve(result.recorded_band, lane)
        spans.append(view(times, heights))
        panel.plot(times, heights, label=_state(name), **look)
    panel.set_xlim(framed(spans))
    panel.set_ylim(bottom=0)
    panel.locator_params(axis="x", nbins=4 if on_narrow() else 7)
    values = [_plates(result, lane).partition(" ")[0] for result in results.values()]
    what = say(leading(own.recorded).label)
    panel.set_title(f"{short(own.lanes[lane], 30)}\n{' → '.join(values)}\n{what}")


def _plates(result: Result, lane: int) -> str:
    """``11470 plates``; plates mean nothing in a gradient."""
    metric = leading(result.recorded)
    value = float(result.recorded[metric.name][lane])
    return f"{counted(value) if np.isfinite(value) else say('none')} {say(metric.label)}"
