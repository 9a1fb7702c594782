"""What gain can be had for how much money, work and pressure, and at what signal to noise."""

import numpy as np

from tailrace.figures.improvement.words import heading, plain
from tailrace.figures.picture import Picture
from tailrace.figures.style import FAINT, SERIES, sheet, styled

PANELS = {
    "cost": ("Cost", 1.0),
    "effort": ("Work, min", 60.0),
    "pressure": ("Pressure, bar", 1e5),
    "signal_to_noise": ("Signal to noise, over the start's", 1.0),
}
"""Label and unit (in SI) of each demand."""
HALF = 0.5
"""Share of the best gain whose price the title tells."""


def draw_frontiers(improvement):
    """Gain of every combination against each demand; the line joins those that no other beats.

    Parameters
    ----------
    improvement : Improvement

    Returns
    -------
    Picture
    """
    with styled():
        figure = sheet(10.4, 7.2)
        panels = figure.subplots(2, 2, sharey=True)
        for panel, demand in zip(panels.ravel(), PANELS, strict=True):
            _panel(panel, improvement, demand)
        figure.supylabel(f"Gain of {improvement.aim.figure} over the start", fontsize=10)
        heading(figure, finding(improvement), 100)
        handles, labels = panels[0, 0].get_legend_handles_labels()
        figure.legend(handles, labels, loc="outside lower left", ncols=4)
    return Picture(figure, "What the gain costs", _words(improvement))


def finding(improvement) -> str:
    """What the picture shows, in a sentence without its point.

    Parameters
    ----------
    improvement : Improvement
    """
    combinations, best = improvement.combinations, improvement.best
    whole = improvement.gain(best)
    if not whole > 0:
        return "Nothing within the constraints is better than the instrument as it is"
    prices = []
    for demand, form in (("cost", "costs {} of {}"), ("effort", "takes {} of {}")):
        rows = improvement.frontiers[demand]
        enough = rows[improvement.gain(rows) >= HALF * whole]
        if enough.size:
            spent = getattr(combinations, demand) / PANELS[demand][1]
            prices.append(form.format(plain(spent[enough[0]]), plain(spent[best])))
    if not prices:
        return f"The best combination gains {plain(whole)}"
    text = f"Half of the gain {prices[0]}"
    return text + (f" and {prices[1]} min of work" if len(prices) > 1 else "")


def _panel(panel, improvement, demand):
    label, unit = PANELS[demand]
    combinations = improvement.combinations
    across = getattr(combinations, demand) / unit
    gain = improvement.gain(np.arange(len(across)))
    meets = combinations.meets
    for rows, marker, size, what in (
        (meets, "o", 13, "a combination of changes"),
        (~meets, "x", 20, "breaks a constraint"),
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
            label=what,
            rasterized=len(gain) > 500,
        )
    best = improvement.frontiers[demand]
    best = best[np.argsort(gain[best], kind="stable")]
    panel.plot(
        across[best],
        gain[best],
        color=SERIES[0],
        marker="o",
        markersize=5,
        drawstyle="steps-post",
        label="no other brings more for less",
    )
    at = improvement.best
    panel.scatter(
        across[at : at + 1],
        gain[at : at + 1],
        130,
        facecolors="none",
        edgecolors=SERIES[2],
        linewidths=2,
        label="the best",
        zorder=3,
    )
    panel.set_xlabel(label)
    panel.locator_params(axis="x", nbins=7)
    if not np.isfinite(across).any():
        panel.text(0.5, 0.5, "not known", ha="center", transform=panel.transAxes)


def _words(improvement):
    combinations = improvement.combinations
    said = []
    for demand, (label, unit) in PANELS.items():
        rows = improvement.frontiers[demand]
        points = ", ".join(
            f"{plain(improvement.gain(row))} at {plain(getattr(combinations, demand)[row] / unit)}"
            for row in rows[:12]
        )
        said.append(f"{label}: {points or 'not known'}.")
    return f"{finding(improvement)}. Gain that no other combination beats: " + " ".join(said)
