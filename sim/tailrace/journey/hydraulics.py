"""Pressure along the path."""

import numpy as np

from tailrace.journey.result import Pressure
from tailrace.parts.base import Passages


def pressure(passages: Passages) -> Pressure:
    """Pressure drop of every part of the path, their sum, and the recording cell's inlet.

    Parameters
    ----------
    passages : list of (part, Stream)

    Returns
    -------
    Pressure
        Of the first lane: the flow is the same for all solutes. NaN where the viscosity is.
    """
    drops = _drops(passages)
    total = float(sum(drops.values()))
    inlets = at_cells(passages)
    recording = [part.name for part, _ in passages if part.observes and not part.behind]
    inlet = inlets[recording[-1]] if recording else float("nan")
    return Pressure(total=total, parts=drops, cell_inlet=inlet)


def at_cells(passages: Passages) -> dict[str, float]:
    """Pressure at the inlet of every flow cell, Pa, by its name: its own drop and all behind it."""
    left, found = list(_drops(passages).items()), {}
    cells = {part.name for part, _ in passages if part.observes}
    for at, (name, _) in enumerate(left):
        if name in cells:
            found[name] = float(sum(drop for _, drop in left[at:]))
    return found


def _drops(passages: Passages) -> dict[str, float]:
    return {
        part.name: float(np.ravel(part.pressure_drop(stream))[0])
        for part, stream in passages
        if part.carries_flow
    }
