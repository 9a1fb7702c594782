"""A sweep as lines: the leading metric over what is varied."""

import numpy as np

from tailrace.figures.picture import Picture
from tailrace.figures.style import DASHES, SERIES, sheet, short, styled
from tailrace.measures.registry import leading
from tailrace.studies.sweeping import Sweep


def draw_lines(sweep: Sweep) -> Picture:
    """A line for each solute over the first varied number, or over the cases in their order."""
    scenario = sweep.plan.scenario
    metric = leading(scenario.document.gradient is not None)
    axes = sweep.plan.axes
    one = axes[0] if axes[0].unit and (len(axes) == 1 or sweep.plan.together) else None
    count = len(sweep.plan.itineraries)
    x = np.arange(1, count + 1) if one is None else one.values
    where = "Case" if one is None else f"{one.name}, {one.unit}"
    values = sweep.metrics[f"recorded/{metric.name}"]
    with styled():
        figure = sheet(6.4, 4.2)
        panel = figure.subplots()
        for lane, solute in enumerate(sweep.solutes):
            panel.plot(
                x,
                values[:, lane],
                color=SERIES[lane % len(SERIES)],
                linestyle=DASHES[lane % len(DASHES)],
                marker="o",
                markersize=3,
                label=short(solute, 30),
            )
        panel.set_xlabel(where)
        panel.set_ylabel(f"{metric.label[0].upper()}{metric.label[1:]}")
        panel.legend()
    found = [
        f"{solute} from {np.nanmin(values[:, lane]):.4g} to {np.nanmax(values[:, lane]):.4g}"
        for lane, solute in enumerate(sweep.solutes)
        if np.isfinite(values[:, lane]).any()
    ]
    words = f"{metric.label} over {where} in {count} cases: {', '.join(found) or 'none computed'}."
    return Picture(figure, f"{scenario.title}: {metric.label}", words)
