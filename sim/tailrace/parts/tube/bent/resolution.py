"""How fine a grid a bent tube needs over its section and along its length."""

from dataclasses import dataclass

import numpy as np

from tailrace.parts.tube.bent.stretch import Stretch
from tailrace.quantities.arrays import FloatArray

STEPS = 16
"""Axial steps of equal length in one group of the fine march, eight in that of the coarse one."""
STEPS_PER_WIDTH = 230
"""For each unit, a^2/D, by which the standard deviation grows along the tube."""
MOST_GROUPS = 32
TURNED = 300.0
"""C X from which the liquid has turned about within the tube."""
STEPS_WHERE_STIRRED = 180
"""Axial steps that follow a smooth band then, at C = MUCH; their number goes with its cube root."""
MUCH = 3e4
SHARPEST, MIXED, FEWER = 3e3, 6e3, 0.25
"""C X at which the stirred band is hardest to follow, and from which it has mixed and is smooth:
then this part of the steps."""
FEWEST_RINGS, FEWEST_SECTORS, MOST = 20, 22, 128
SLOWER = 0.6
"""Below a refinement of 1 grids grow coarser by this power of it only: half as fine would lose the
vortices, and the error is estimated from such a run."""
LAYERED = 1e4
"""C from which layers at the wall and between the vortices are thinner than these. Along the angle
they turn about, and along the radius lie within each other: sectors grow faster than rings."""


@dataclass(frozen=True)
class Grid:
    """``rings`` and ``sectors`` of the section, even; ``groups`` of axial steps in each stretch."""

    rings: int
    sectors: int
    groups: tuple[int, ...]


def needed(chain: list[Stretch], sharp: float, refinement: float) -> Grid:
    """Choose the grid for one lane."""
    if refinement < 1:
        refinement **= SLOWER
    residence = sum(s.residence for s in chain)
    length = sum(s.length for s in chain)
    narrow = np.hypot(sharp / residence, 0.15 * min(length, 1.0))
    stirred = [min(s.strength * s.length / TURNED, 1.0) ** 0.5 for s in chain]
    edge = (0.015 / narrow) ** 0.5  # narrower fronts cross more rings while they last
    short = (0.1 / min(length, 0.1)) ** 0.25
    layers = max(max(s.strength for s in chain) / LAYERED, 1.0)
    rings = FEWEST_RINGS * max(edge, short, layers**0.15, 1.0) * refinement
    turned = max(max(edge, short) * max(stirred), layers**0.25, 1.0)
    sectors = FEWEST_SECTORS * turned * refinement
    groups = []
    for stretch, turning in zip(chain, stirred, strict=True):
        width = sharp / stretch.radial_time
        spread = np.hypot(width, np.sqrt(stretch.length / 24)) - width
        front = max((0.02 * residence / sharp) ** 0.5, 1.0)
        turning *= np.cbrt(stretch.strength / MUCH) * front * _hardship(stretch)
        steps = max(STEPS_PER_WIDTH * spread, STEPS_WHERE_STIRRED * turning)
        groups.append(int(np.clip(np.ceil(steps * refinement / STEPS), 1, MOST_GROUPS)))
    return Grid(_even(min(rings, MOST)), _even(min(sectors, MOST)), tuple(groups))


def _hardship(stretch: Stretch) -> float:
    turned = stretch.strength * stretch.length
    hard = 1 + 0.6 * min(turned / SHARPEST, 1.0)
    return float(hard * np.clip((MIXED / max(turned, 1.0)) ** 3, FEWER, 1.0))


def _even(number: float) -> int:
    return max(2 * int(np.ceil(number / 2)), 4)


def group_lengths(stretch: Stretch, sharp: float, groups: int) -> FloatArray:
    """Lengths of the groups, growing as the band spreads. (groups,) array, 1."""
    width = sharp / stretch.radial_time
    far = np.hypot(width, np.sqrt(stretch.length / 24))
    edges = (width + (far - width) * np.linspace(0.0, 1.0, groups + 1)) ** 2
    growth = np.diff(edges)
    return np.asarray(growth * (stretch.length / growth.sum()))
