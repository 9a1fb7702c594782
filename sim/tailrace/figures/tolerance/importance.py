"""Whose uncertainty makes that of the metrics: Sobol' indices with their intervals."""

import textwrap
from typing import Any

import numpy as np
from matplotlib.axes import Axes

from tailrace.figures.picture import Picture
from tailrace.figures.style import FAINT, INK, MOST_PANELS, SERIES, first_of, panels, short
from tailrace.quantities.arrays import IntArray
from tailrace.studies.tolerance.result import Indices, Tolerance

THICK = 0.36
"""Of one bar, where the distance of two inputs is 1."""


def draw_importance(study: Tolerance) -> Picture:
    """Bars for each input, first order and total; a panel for each metric.

    Of at most MOST_PANELS metrics, the first ones; inputs in the order of their greatest total
    index. The study has to have indices.
    """
    found = study.indices
    assert found is not None
    rows = min(len(found.outcomes), MOST_PANELS)
    order = np.argsort(-np.nan_to_num(found.total[:rows]).max(axis=0), kind="stable")
    names = [textwrap.fill(short(found.inputs[column], 48), 26) for column in order]
    across = f"Share of the variance of the metric (bars: {100 * found.confidence:.3g} % interval)"
    across = f"{across}\n{first_of(len(found.outcomes))}".strip()
    wide, tall, key = (1.0, 3.6), (0.5, 0.9 + 0.42 * len(order)), ("upper left", 2)
    with panels(rows, 3, wide, tall, across=across, key=key, sharey=True) as figure:
        for row, panel in enumerate(figure.axes):
            _panel(panel, found, row, order)
            panel.set_title(short(found.outcomes[row], 36))
        figure.axes[0].set_yticks(range(len(names)), names, fontsize=9)
        figure.axes[0].set_ylim(len(order) - 0.4, -0.6)
    return Picture(figure, "Shares of the variance (Sobol' indices)", _words(found, rows, order))


def _panel(panel: Axes, found: Indices, row: int, order: IntArray) -> None:
    places = np.arange(len(order))
    looks: dict[str, tuple[str, dict[str, Any]]] = {
        "first": ("alone (first order)", {"facecolor": SERIES[0]}),
        "total": ("with all it acts with (total)", {"facecolor": "#ffffff", "hatch": "/////"}),
    }
    for step, (name, (label, look)) in enumerate(looks.items()):
        values = np.nan_to_num(getattr(found, name)[row, order])
        low, high = (np.nan_to_num(getattr(found, f"{name}_{end}")[row, order]) for end in ENDS)
        at = places + (step - 0.5) * THICK
        panel.barh(at, values, THICK, edgecolor=INK, linewidth=0.6, label=label, **look)
        arms = np.clip([values - low, high - values], 0, None)
        panel.errorbar(values, at, xerr=arms, fmt="none", ecolor=FAINT, capsize=2.5, elinewidth=1.4)
    panel.set_xlim(left=min(0.0, panel.get_xlim()[0]), right=max(1.05, panel.get_xlim()[1]))
    panel.axvline(0, color=INK, linewidth=0.8)
    panel.grid(visible=False, axis="y")
    panel.tick_params(axis="y", length=0)
    panel.set_xticks([0, 0.25, 0.5, 0.75, 1], ["0", "", "0.5", "", "1"])


ENDS = ("low", "high")


def _words(found: Indices, rows: int, order: IntArray) -> str:
    sentences = []
    for row in range(rows):
        named = ", ".join(
            f"{found.inputs[column]} {found.first[row, column]:.2f} alone and "
            f"{found.total[row, column]:.2f} in total"
            for column in order[:4]
        )
        sentences.append(f"{found.outcomes[row]}: {named}.")
    return "Bars of the Sobol' indices of every input. " + " ".join(sentences)
