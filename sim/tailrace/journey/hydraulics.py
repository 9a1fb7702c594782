"""Pressure along the path."""

from dataclasses import replace

import numpy as np

from tailrace.journey.result import Pressure
from tailrace.parts.base import Passages
from tailrace.quantities.arrays import FloatArray


def pressure(passages: Passages) -> Pressure:
    """Pressure drop of every part of the path, their sum, and the recording cell's inlet.

    Of the first lane: the flow is the same for all solutes. NaN where the viscosity is.
    """
    drops = drops_of(passages)
    inlets = at_cells(passages)
    recording = [part.name for part, _ in passages if part.observes and not part.behind]
    inlet = inlets[recording[-1]] if recording else np.full(1, np.nan)
    return Pressure(
        total=float(sum(drop[0] for drop in drops.values())),
        parts={name: float(drop[0]) for name, drop in drops.items()},
        cell_inlet=float(inlet[0]),
    )


def limited(found: Pressure, limit: float) -> Pressure:
    """With the pressure that must not be exceeded, Pa; NaN: none is given."""
    return found if np.isnan(limit) else replace(found, limit=limit)


def at_cells(passages: Passages) -> dict[str, FloatArray]:
    """Pressure at the inlet of every flow cell by its name: its own drop and all behind it.

    (lanes,) arrays, Pa.
    """
    left, found = list(drops_of(passages).items()), {}
    cells = {part.name for part, _ in passages if part.observes}
    for at, (name, _) in enumerate(left):
        if name in cells:
            found[name] = np.asarray(sum(drop for _, drop in left[at:]))
    return found


def drops_of(passages: Passages) -> dict[str, FloatArray]:
    """Pressure drop of every part of the path by its name, (lanes,) arrays, Pa."""
    return {
        part.name: np.broadcast_to(part.pressure_drop(stream), (stream.lanes,))
        for part, stream in passages
        if part.carries_flow
    }
