"""Pressure along the path."""

import numpy as np

from tailrace.journey.result import Pressure
from tailrace.parts.base import Passages


def pressure(passages: Passages) -> Pressure:
    """Pressure drop of every part of the path, their sum, and what stands at the cell's inlet.

    Parameters
    ----------
    passages : list of (part, Stream)

    Returns
    -------
    Pressure
        Of the first lane: the flow is the same for all solutes. NaN where the viscosity is.
    """
    drops: dict[str, float] = {}
    behind = float("nan")
    for part, stream in passages:
        if not part.carries_flow:
            continue
        drop = float(np.ravel(part.pressure_drop(stream))[0])
        if part.observes and np.isnan(behind):
            behind = 0.0
        drops[part.name] = drop
        behind += drop
    return Pressure(total=float(sum(drops.values())), parts=drops, cell_inlet=behind)
