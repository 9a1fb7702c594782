"""How often the criteria are kept as tolerances are made wider."""

import math

import numpy as np

from tailrace.figures.picture import Picture
from tailrace.figures.style import DASHES, FAINT, INK, SERIES, short
from tailrace.figures.tolerance.panels import MOST, panels, shown_of


def draw_widths(study) -> Picture:
    """A panel for each question of `--widen`: share kept against how wide the tolerance is.

    Parameters
    ----------
    study : tailrace.records.tolerance_study.Study
        With widenings.

    Returns
    -------
    Picture
        Of at most MOST questions, the first ones.
    """
    shown = study.widenings[:MOST]
    with panels(len(shown), head=0.8) as (figure, axes):
        for panel, widening in zip(axes, shown, strict=True):
            _panel(panel, widening, study.acceptance)
        figure.supxlabel(
            "Width of the tolerance, over the stated one" + shown_of(len(study.widenings), MOST),
            fontsize=10,
        )
        figure.supylabel("All criteria kept, % of samples", fontsize=10)
        handles, labels = axes[0].get_legend_handles_labels()
        figure.legend(handles, labels, loc="outside upper left", ncols=3)
    return Picture(figure, "Acceptance against the width of a tolerance", _words(shown))


def _panel(panel, widening, stated):
    """Scales that were tried in the search, the fresh samples, and the study's own at 1."""
    tried = [*widening.tried, *([(1.0, stated)] if stated is not None else [])]
    scales = np.array([scale for scale, _ in tried])
    judged = [one for _, one in tried]
    kept = 100 * np.array([one.probability for one in judged])
    low = 100 * np.array([one.interval.low for one in judged])
    high = 100 * np.array([one.interval.high for one in judged])
    bound = 100 * np.array([one.lower_bound for one in judged])
    panel.errorbar(
        *(scales, kept),
        yerr=np.clip([kept - low, high - kept], 0, None),
        fmt="o",
        color=SERIES[0],
        markersize=4,
        elinewidth=1.4,
        capsize=2.5,
        label="kept, with its interval",
    )
    panel.plot(scales, bound, "v", color=SERIES[2], markersize=5, label="one-sided lower bound")
    required = 100 * judged[0].required if judged else math.nan
    panel.axhline(required, color=SERIES[1], linestyle=DASHES[1], linewidth=1.4, label="required")
    if widening.fresh is not None:
        look = {"color": SERIES[3], "markersize": 6, "fillstyle": "none"}
        kept = 100 * widening.fresh.probability
        panel.plot(widening.scale, kept, "s", label="kept by fresh samples", **look)
    if widening.scale > 0:
        panel.axvline(widening.scale, color=INK, linewidth=1.6, label="widest that was accepted")
    panel.axvline(1, color=FAINT, linestyle=DASHES[2], linewidth=1.4, label="as stated")
    margin = 0.06 * np.ptp([1.0, *scales]) or 0.1
    panel.set_xlim(min(1.0, *scales) - margin, max(1.0, *scales) + margin)
    panel.set_ylim(top=101)
    panel.set_title(f"{short(widening.title, 34)}: {_answer(widening)}", fontsize=9.5)
    panel.locator_params(axis="both", nbins=6)


def _answer(widening):
    return f"{widening.scale:.3g} times" if widening.scale > 0 else "none"


def _words(shown):
    return "Share of samples that keep all criteria against the width of a tolerance. " + " ".join(
        one.sentence for one in shown
    )
