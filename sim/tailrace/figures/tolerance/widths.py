"""How often the criteria are satisfied as tolerances are made wider."""

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes

from tailrace.figures.picture import Picture
from tailrace.figures.style import (
    DASHES,
    FAINT,
    INK,
    MOST_PANELS,
    SERIES,
    Look,
    first_of,
    panels,
    short,
)
from tailrace.studies.tolerance.result import Acceptance, Tolerance, Widening


def draw_widths(study: Tolerance, described: Sequence[tuple[str, str]]) -> Picture:
    """A panel for each question of `--widen`: share satisfied against the width of the tolerance.

    ``study``: with widenings; ``described``: title of each widening, and its answer in one
    sentence. Of at most MOST_PANELS questions, the first ones.
    """
    shown = study.widenings[:MOST_PANELS]
    across = f"Width of the tolerance, over the stated one\n{first_of(len(study.widenings))}"
    labels: Look = {"across": across.strip(), "upward": "All criteria satisfied, % of samples"}
    with panels(len(shown), 3, (2, 3.5), (0.8, 2.9), **labels, key=("upper left", 3)) as figure:
        for panel, widening, (title, _) in zip(figure.axes, shown, described, strict=False):
            _panel(panel, widening, study.acceptance, title)
    text = _words(described[:MOST_PANELS])
    return Picture(figure, "Acceptance against the width of a tolerance", text)


def _panel(panel: Axes, widening: Widening, stated: Acceptance | None, title: str) -> None:
    """Scales that were tried in the search, the fresh samples, and the study's own at 1."""
    tried = [(one.scale, one.acceptance) for one in widening.tried]
    tried += [(1.0, stated)] if stated is not None else []
    scales = np.array([scale for scale, _ in tried])
    judged = [one for _, one in tried]
    share = 100 * np.array([one.probability for one in judged])
    low = 100 * np.array([one.interval.low for one in judged])
    high = 100 * np.array([one.interval.high for one in judged])
    bound = 100 * np.array([one.lower_bound for one in judged])
    panel.errorbar(
        *(scales, share),
        yerr=np.clip([share - low, high - share], 0, None),
        fmt="o",
        color=SERIES[0],
        markersize=4,
        elinewidth=1.4,
        capsize=2.5,
        label="satisfied, with its interval",
    )
    panel.plot(scales, bound, "v", color=SERIES[2], markersize=5, label="one-sided lower bound")
    required = 100 * judged[0].required if judged else math.nan
    panel.axhline(required, color=SERIES[1], linestyle=DASHES[1], linewidth=1.4, label="required")
    if widening.fresh is not None:
        look: dict[str, Any] = {"color": SERIES[3], "markersize": 6, "fillstyle": "none"}
        confirmed = 100 * widening.fresh.probability
        panel.plot(widening.scale, confirmed, "s", label="satisfied by fresh samples", **look)
    if widening.scale > 0:
        panel.axvline(widening.scale, color=INK, linewidth=1.6, label="widest that was accepted")
    panel.axvline(1, color=FAINT, linestyle=DASHES[2], linewidth=1.4, label="as stated")
    margin = 0.06 * np.ptp([1.0, *scales]) or 0.1
    panel.set_xlim(min(1.0, *scales) - margin, max(1.0, *scales) + margin)
    panel.set_ylim(top=101)
    panel.set_title(f"{short(title, 34)}: {_answer(widening)}", fontsize=9.5)
    panel.locator_params(axis="both", nbins=6)


def _answer(widening: Widening) -> str:
    return f"{widening.scale:.3g} times" if widening.scale > 0 else "none"


def _words(described: Sequence[tuple[str, str]]) -> str:
    return (
        "Share of samples that satisfy all criteria against the width of a tolerance. "
        + " ".join(sentence for _, sentence in described)
    )
