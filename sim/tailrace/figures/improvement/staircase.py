"""What each step brings: a staircase from the instrument as it is up to the column's own figure."""

import textwrap

import numpy as np

from tailrace.figures.improvement.words import heading, plain
from tailrace.figures.picture import Picture
from tailrace.figures.style import FAINT, INK, SERIES, sheet, short, styled

THICK = 0.62
"""Of a bar, where the distance of two steps is 1."""
OWN = "the column alone"
DONE, LEFT, BEFORE = SERIES[0], "#9db4cc", "#e3e0d8"
"""What a step brings; the same where it brings too little to be made; what was there before it."""
DOUBT = SERIES[1]


def draw_staircase(improvement):
    """One bar a step: what was there before it, and what it brings.

    Steps behind the point where to stop are hatched. A diamond is what the sum of variances says.

    Parameters
    ----------
    improvement : Improvement

    Returns
    -------
    Picture
    """
    steps = improvement.steps
    with styled():
        figure = sheet(9.6, 1.9 + 0.52 * len(steps))
        panel = figure.subplots()
        _bars(panel, improvement)
        _ceiling(panel, improvement)
        names = [_name(step) for step in steps]
        panel.set_yticks(range(len(steps)), names, fontsize=9.5)
        panel.set_ylim(len(steps) - 0.4, -0.6)
        panel.grid(visible=False, axis="y")
        panel.tick_params(axis="y", length=0)
        panel.set_xlabel(f"{_capital(improvement.aim.figure)} of {_whose(improvement)}")
        heading(figure, finding(improvement), 92)
        figure.legend(loc="outside lower left", ncols=3)
    return Picture(figure, "What each step brings", _words(improvement))


def finding(improvement) -> str:
    """What the picture shows, in a sentence without its point.

    Parameters
    ----------
    improvement : Improvement
    """
    steps, after = improvement.steps, improvement.stop_after
    figure, whose = improvement.aim.figure, _whose(improvement)
    if not after or not improvement.worth_it:
        best = f"{_told(steps[0])} now, {_told(steps[-1])} after all steps"
        few = f"No step brings {100 * improvement.stop:g} %"
        return f"{few if improvement.worth_it else 'Not worth it'}: {figure} of {whose}: {best}"
    count = "one step takes" if after == 1 else f"{after} steps take"
    text = f"{count} {figure} of {whose} from {_told(steps[0])} to {_told(steps[after])}"
    if np.isfinite(improvement.ceiling):
        text += f"; the column alone would give {plain(improvement.ceiling)}"
    return _capital(text)


def _bars(panel, improvement):
    steps, after = improvement.steps, improvement.stop_after
    figures = np.array([step.figure for step in steps])
    earlier = np.concatenate([figures[:1], figures[:-1]])
    low = np.minimum(figures, earlier)
    rows = np.arange(len(steps))
    panel.barh(rows, low, THICK, color=BEFORE, edgecolor=INK, linewidth=0.6)
    for row, step in enumerate(steps):
        if row:
            made = row <= after
            panel.barh(
                row,
                abs(figures[row] - earlier[row]),
                THICK,
                low[row],
                facecolor=DONE if made else LEFT,
                hatch=None if made else "/////",
                edgecolor=INK,
                linewidth=0.6,
            )
            if np.isfinite(step.gain_low):
                panel.plot(_band(improvement, row), (row, row), color=DOUBT, linewidth=2.5)
        _label(panel, row, step, improvement)
    _entries(panel, improvement)
    theory = [step.theory for step in steps]
    panel.plot(
        theory,
        rows,
        linestyle="none",
        marker="D",
        markersize=5.5,
        markerfacecolor="white",
        markeredgecolor=INK,
        label="by the sum of variances",
    )


def _entries(panel, improvement):
    """Bars of no length, for one entry each in the legend."""
    steps, after = improvement.steps, improvement.stop_after
    panel.barh(0, 0, 0, color=BEFORE, edgecolor=INK, linewidth=0.6, label="there before the step")
    if after:
        panel.barh(0, 0, 0, color=DONE, edgecolor=INK, linewidth=0.6, label="what the step brings")
    if after < len(steps) - 1:
        panel.barh(
            0,
            0,
            0,
            facecolor=LEFT,
            hatch="/////",
            edgecolor=INK,
            linewidth=0.6,
            label=f"brings less than {100 * improvement.stop:g} %",
        )
    if np.isfinite([step.gain_low for step in steps]).any():
        panel.plot([], [], color=DOUBT, linewidth=2.5, label="95 % of the input uncertainty")


def _band(improvement, row):
    """Between which the figure lies for the uncertainty of what the step brings."""
    step, before = improvement.steps[row], improvement.steps[row - 1].figure
    return sorted(before + improvement.aim.sign * gain for gain in (step.gain_low, step.gain_high))


def _label(panel, row, step, improvement):
    """The figure behind the bar, and in brackets what the step brings of the one before."""
    text = _told(step)
    if row:
        before = improvement.steps[row - 1].figure
        text += f"  ({100 * (step.figure - before) / abs(before):+.2g} %)"
    right = max(step.figure, improvement.steps[max(row - 1, 0)].figure, step.theory)
    if row and np.isfinite(step.gain_low):
        right = max(right, _band(improvement, row)[1])
    ground = {"facecolor": "white", "edgecolor": "none", "pad": 1}
    at = {"textcoords": "offset points", "va": "center", "fontsize": 9, "bbox": ground}
    panel.annotate(text, (right, row), (8, 0), **at)


def _ceiling(panel, improvement):
    """The column's own figure as a line; room for the labels."""
    furthest = max(max(step.figure, step.theory) for step in improvement.steps)
    ceiling = improvement.ceiling
    if np.isfinite(ceiling):
        panel.axvline(ceiling, color=FAINT, linestyle=(0, (5, 2)), zorder=0.5, label=OWN)
    end = max(1.24 * furthest, 1.04 * ceiling if np.isfinite(ceiling) else 0)
    panel.set_xlim(0, end)
    panel.locator_params(axis="x", nbins=7)


def _name(step):
    text = f"{step.number}  {short(step.change, 58)}" if step.number else "0  as it is"
    return textwrap.fill(text, 30)


def _told(step):
    return plain(step.figure)


def _whose(improvement):
    named = dict.fromkeys(step.of for step in improvement.steps)
    if len(named) == 1:
        return short(next(iter(named)), 40)
    return "the worst pair" if improvement.aim.key == "resolution" else "the worst solute"


def _capital(text):
    return text[:1].upper() + text[1:]


def _words(improvement):
    steps = "; ".join(
        f"{step.number} {step.change or 'as it is'}: {_told(step)}, by the sum of variances "
        f"{plain(step.theory)}"
        for step in improvement.steps
    )
    return f"{finding(improvement)}. A bar for each step. {steps}."
