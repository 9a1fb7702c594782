"""The distribution of every metric over the samples, with its limits and intervals."""

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from tailrace.figures.picture import Picture
from tailrace.figures.style import (
    DASHES,
    INK,
    MOST_PANELS,
    SERIES,
    first_of,
    panels,
    short,
)
from tailrace.quantities.arrays import FloatArray
from tailrace.records.trade import Trade, trade
from tailrace.studies.tolerance.result import Outcome, Tolerance

MOST_BINS = 40
REFUSED: dict[str, Any] = {"facecolor": SERIES[1], "alpha": 0.12, "hatch": "////", "ec": SERIES[1]}
"""Ground that is out of limits."""


def draw_distributions(study: Tolerance) -> Picture:
    """A histogram for each metric; dashed, what first-order propagation says of it.

    Of at most MOST_PANELS metrics, the first ones.
    """
    shown = study.outcomes[:MOST_PANELS]
    across, upward = first_of(len(study.outcomes)), "Density over its maximum"
    with panels(len(shown), 3, (1, 3.5), (0.5, 2.9), across=across, upward=upward) as figure:
        for panel, outcome in zip(figure.axes, shown, strict=True):
            _panel(panel, outcome)
        figure.legend(handles=_key(shown), loc="outside upper left", ncols=3)
    return Picture(figure, "How far the metrics spread", _words(shown))


def _panel(panel: Axes, outcome: Outcome) -> None:
    """One histogram, the interval under it, limits and what lies beyond them."""
    unit = trade(outcome.kind, outcome.unit)
    values = np.asarray(unit.of(outcome.values[np.isfinite(outcome.values)]))
    panel.set_title(short(outcome.name, 36), pad=20)
    panel.set_xlabel(unit.unit or short(outcome.measure, 36))
    panel.annotate(
        _note(outcome), (0, 1.02), xycoords="axes fraction", va="bottom", fontsize=8.5, color=INK
    )
    if values.size < 2 or np.ptp(values) <= 1e-9 * np.abs(values).max():
        panel.text(0.5, 0.5, "does not vary", transform=panel.transAxes, ha="center")
        panel.set_yticks([])
        return
    bins = int(min(MOST_BINS, max(8, math.sqrt(values.size))))
    counts, edges = np.histogram(values, bins)
    panel.stairs(counts / counts.max(), edges, fill=True, color=SERIES[0], alpha=0.75)
    _first_order(panel, outcome, unit, values, counts.max() / (values.size * np.diff(edges)[0]))
    low, high = unit.of(outcome.spread.symmetric.low), unit.of(outcome.spread.symmetric.high)
    panel.plot([low, high], [-0.09, -0.09], color=INK, linewidth=3, solid_capstyle="butt")
    panel.plot(unit.of(outcome.spread.mean), -0.09, "o", color="white", markeredgecolor=INK, ms=5)
    _limits(panel, outcome, unit, values)
    panel.set_ylim(-0.18, 1.1)
    panel.set_yticks([0, 0.5, 1])
    panel.locator_params(axis="x", nbins=5)


def _first_order(
    panel: Axes, outcome: Outcome, unit: Trade, values: FloatArray, peak: float
) -> None:
    """The Gaussian of the closed forms on the same scale of densities."""
    closed = outcome.first_order
    deviation = unit.span(closed.standard_uncertainty)
    if not (math.isfinite(closed.value) and math.isfinite(deviation) and deviation > 0):
        return
    centre = unit.of(closed.value)
    reach = 4 * values.std()
    if abs(centre - values.mean()) > 3 * reach:
        return  # it would squeeze the histogram into a corner
    at = np.linspace(centre - 3.5 * deviation, centre + 3.5 * deviation, 141)
    density = np.exp(-(((at - centre) / deviation) ** 2) / 2) / (deviation * math.sqrt(2 * math.pi))
    panel.plot(at, density / peak, color=SERIES[1], linestyle=DASHES[1], linewidth=1.4)


def _limits(panel: Axes, outcome: Outcome, unit: Trade, values: FloatArray) -> None:
    """Lines at the limits, and hatched ground beyond them."""
    left, right = panel.get_xlim()
    ends = [unit.of(one) for one in (outcome.at_least, outcome.at_most)]
    reach = np.ptp(values)
    near = [one for one in ends if values.min() - 2 * reach < one < values.max() + 2 * reach]
    left = min([left, *(one - 0.08 * reach for one in near)])
    right = max([right, *(one + 0.08 * reach for one in near)])
    panel.set_xlim(left, right)
    for limit, beyond in zip(ends, (left, right), strict=True):
        if limit in near:
            panel.axvline(limit, color=SERIES[1], linewidth=1.6)
            panel.axvspan(*sorted((limit, beyond)), linewidth=0, zorder=0, **REFUSED)


def _note(outcome: Outcome) -> str:
    """How often the limit holds."""
    judged = outcome.acceptance
    if judged is None:
        return "no limit"
    least, asked = 100 * judged.lower_bound, 100 * judged.required
    return f"satisfied by {least:.3g} % or more, {asked:.3g} % asked"


def _key(shown: Sequence[Outcome]) -> list[Artist]:
    handles: list[Artist] = [
        Patch(color=SERIES[0], alpha=0.75, label="simulated samples"),
        Line2D([], [], color=INK, linewidth=3, label="95 % of them (symmetric), and mean"),
    ]
    if any(math.isfinite(one.first_order.value) for one in shown):
        look: dict[str, Any] = {"linestyle": DASHES[1], "label": "first order, closed form"}
        handles.append(Line2D([], [], color=SERIES[1], **look))
    if any(one.acceptance is not None for one in shown):
        handles.append(Patch(**REFUSED, label="out of limits"))
    return handles


def _words(shown: Sequence[Outcome]) -> str:
    sentences = []
    for one in shown:
        unit = trade(one.kind, one.unit)
        low, high = unit.of(one.spread.symmetric.low), unit.of(one.spread.symmetric.high)
        behind = f" {unit.unit}" if unit.unit else ""
        sentences.append(f"{one.name}: 95 % from {low:.4g} to {high:.4g}{behind}, {_note(one)}.")
    return "Histograms of the metrics over the samples. " + " ".join(sentences)
