"""Hypotheses by how probable they are; what a plan should show."""

import math
import textwrap
from collections.abc import Callable, Sequence

from tailrace.figures.layout import filled, panels
from tailrace.figures.sizes import on_narrow
from tailrace.figures.style import INK, SERIES, Look, Picture, short
from tailrace.studies.measured.diagnosis import Hypothesis
from tailrace.studies.measured.protocol import Protocol
from tailrace.wording import number, say

MOST, WIDTH = 10, 42


def draw_hypotheses(found: Sequence[Hypothesis], label: Callable[[str], str]) -> Picture:
    """A bar each, the most probable on top; ``label``: of a hypothesis, by its name."""
    rows = found[:MOST]
    names = ["\n".join(textwrap.wrap(short(label(one.name), 90), WIDTH)) for one in rows]
    values = [100 * one.probability for one in rows]
    with panels(1, 1, (0, 7.4), (0.8, 0.29 * len(rows))) as figure:
        (panel,) = figure.axes
        places = range(len(rows))
        panel.barh(places, values, 0.62, color=SERIES[0], edgecolor=INK, linewidth=0.6)
        for at, value in zip(places, values, strict=True):
            panel.annotate(
                _share(value),
                (value, at),
                xytext=(4, 0),
                textcoords="offset points",
                va="center",
                fontsize=8.5,
            )
        panel.set_yticks(list(places), names, fontsize=8.5)
        panel.invert_yaxis()
        panel.grid(axis="y", visible=False)
        panel.set_xlim(0, 115)
        panel.set_xticks(range(0, 101, 20))
        panel.set_xlabel(say("Probability, %"))
    bars = "; ".join(
        f"{label(one.name)} {_share(value)}" for one, value in zip(rows, values, strict=True)
    )
    text = say("Bars of probability: {told}.", told=bars)
    return Picture(figure, say("What is at fault, by probability"), text)


def _share(value: float) -> str:
    return say("{share:.1f} %" if value >= 0.05 else "< 0.1 %", share=value)


def _banded(value: float, off: float) -> str:
    """A variance with half of its band, which has two digits."""
    if not off > 0:
        return say("{variance:.3g}", variance=value)
    digits = max(0, 1 - math.floor(math.log10(off)))
    return number(f"{value:.{digits}f} ± {off:.{digits}f}")


def draw_plan(study: Protocol) -> Picture:
    """The variance that each measurement should show, with its band."""
    rows = study.measurings
    names = ["\n".join(textwrap.wrap(short(one.name, 90), WIDTH)) for one in rows]
    values = [one.variance * 1e18 for one in rows]
    ends = [
        [(one.variance - one.variance_low) * 1e18 for one in rows],
        [(one.variance_high - one.variance) * 1e18 for one in rows],
    ]
    told = [_banded(value, sum(two) / 2) for value, *two in zip(values, *ends, strict=True)]
    with panels(1, 1, (0, 7.4), (0.8, 0.29 * len(rows))) as figure:
        (panel,) = figure.axes
        places = list(range(len(rows)))
        panel.errorbar(values, places, xerr=ends, fmt="o", markersize=4, color=SERIES[0], capsize=5)
        for at, value, above, words in zip(places, values, ends[1], told, strict=True):
            look: Look = {"textcoords": "offset points", "va": "center", "fontsize": 8.5}
            panel.annotate(words, (value + above, at), xytext=(8, 0), **look)
        panel.set_yticks(places, names, fontsize=8.5)
        panel.invert_yaxis()
        panel.set_xlim(
            0, (1.6 if on_narrow() else 1.18) * max(one.variance_high * 1e18 for one in rows)
        )
        label = "Variance, µL², with the band of the uncertain inputs (95 %)"
        label = say(label if any(ends[1]) else "Variance, µL²")
        panel.set_xlabel(filled(label, 24) if on_narrow() else label)
    bars = "; ".join(
        say("{what} {variance} µL²", what=one.name, variance=words)
        for one, words in zip(rows, told, strict=True)
    )
    bands = "A point for each measurement, with the band of the uncertain inputs (95 %): {told}."
    text = say(bands if any(ends[1]) else "A point for each measurement: {told}.", told=bars)
    return Picture(figure, say("What the plan should show"), text)
