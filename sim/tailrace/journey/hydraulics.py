"""Pressure along the path."""

from dataclasses import replace

import numpy as np

from tailrace.eluent.liquids import Composition
from tailrace.eluent.viscosity import ATMOSPHERE, HIGHEST_PRESSURE, pressure_factor
from tailrace.journey.result import Pressure
from tailrace.parts.base import Passage, Passages
from tailrace.quantities.arrays import FloatArray, Number


def pressure(passages: Passages) -> Pressure:
    """Pressure drop of every part of the path, their sum, and the recording cell's inlet.

    The last two also with the most viscous liquid of a gradient's programme.

    Of the first lane: the flow is the same for all solutes. NaN where the viscosity is.
    """
    drops = drops_of(passages)
    inlets = at_cells(passages)
    recording = [part.name for part, _ in passages if part.observes and not part.behind]
    inlet = float(inlets[recording[-1]][0]) if recording else float("nan")
    total = float(sum(drop[0] for drop in drops.values()))
    most = thickest_of(passages)
    return Pressure(
        total=total,
        parts={name: float(drop[0]) for name, drop in drops.items()},
        cell_inlet=inlet,
        highest=most * total,
        highest_at_cell=most * inlet,
    )


def thickest_of(passages: Passages) -> float:
    """Highest viscosity on the programme of a gradient, over the eluent's; 1 at least."""
    return float(max(np.max(passages[0][1].thickest), 1.0))


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


ROUNDS = 12
"""Of a fixed point whose error falls to a tenth, or less, in each."""
PLACES = (0.5 - 0.5 / 3**0.5, 0.5 + 0.5 / 3**0.5)
"""In a part, of its pressure drop: those of Gauss's rule."""


def under_pressure(passages: Passages, composition: Composition) -> tuple[Passage, ...]:
    """The same parts, each with viscosity and diffusivity at the pressure within.

    The viscosity is the harmonic mean over the pressures in the part, which gives its exact drop,
    by Gauss's rule of two points. The outlet is at 0.1 MPa; diffusivity goes as one over
    viscosity (Stokes and Einstein). Above 100 MPa both stay as there.

    Parameters
    ----------
    passages : sequence of (part, Stream)
        As at low pressure.
    composition : dict of str to float, 1
        Volume fractions before mixing.
    """
    found: list[Passage] = []
    behind: Number = 0.0
    for part, stream in reversed(passages):
        drop = part.pressure_drop(stream) if part.carries_flow else 0.0
        factor: Number = 1.0
        for _ in range(ROUNDS):
            thinner: Number = 0.0
            for place in PLACES:
                here = np.minimum(ATMOSPHERE + behind + place * drop * factor, HIGHEST_PRESSURE)
                thinner += 0.5 / pressure_factor(composition, stream.temperature, here)
            factor = 1 / thinner
        thicker = replace(
            stream, viscosity=stream.viscosity * factor, diffusivity=stream.diffusivity / factor
        )
        found.append((part, thicker))
        behind = behind + drop * factor
    return tuple(reversed(found))
