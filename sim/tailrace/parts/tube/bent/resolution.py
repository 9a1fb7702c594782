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
STIRRED, STEPS_WHERE_STIRRED = 300.0, 32
"""From this C on the liquid turns about within the tube, and at least so many steps follow it."""
LEAST_RINGS, MOST_RINGS = 24, 128


@dataclass(frozen=True)
class Grid:
    """``rings`` and ``sectors`` of the section, even; ``groups`` of axial steps in each stretch."""

    rings: int
    sectors: int
    groups: tuple[int, ...]


def needed(chain: list[Stretch], sharp: float, refinement: float) -> Grid:
    """Choose the grid for one lane.

    Parameters
    ----------
    chain : stretches, one section for all
    sharp : standard deviation of the Gaussian that would be as steep as the band that enters, s
    refinement : of the resolution
    """
    residence = sum(s.residence for s in chain)
    length = sum(s.length for s in chain)
    smoothed = np.hypot(sharp / residence, 0.15 * min(length, 1.0))
    edge = np.sqrt(0.012 / smoothed)  # narrower fronts cross more rings while they last
    short = (0.05 / min(length, 0.05)) ** 0.2
    layers = max(max(s.strength for s in chain) / 3e4, 1.0) ** 0.45
    rings = LEAST_RINGS * max(edge, short, layers, 1.0) * refinement
    sectors = LEAST_RINGS * max(layers, 1.0) * refinement
    groups = []
    for stretch in chain:
        width = sharp / stretch.radial_time
        spread = np.hypot(width, np.sqrt(stretch.length / 24)) - width
        steps = max(STEPS_PER_WIDTH * spread, STEPS_WHERE_STIRRED * (stretch.strength > STIRRED))
        groups.append(int(np.clip(np.ceil(steps * refinement / STEPS), 1, MOST_GROUPS)))
    return Grid(_even(min(rings, MOST_RINGS)), _even(min(sectors, MOST_RINGS)), tuple(groups))


def _even(number: float) -> int:
    return max(2 * int(np.ceil(number / 2)), 4)


def group_lengths(stretch: Stretch, sharp: float, groups: int) -> FloatArray:
    """Lengths of the groups, growing as the band spreads. (groups,) array, 1."""
    width = sharp / stretch.radial_time
    far = np.hypot(width, np.sqrt(stretch.length / 24))
    edges = (width + (far - width) * np.linspace(0.0, 1.0, groups + 1)) ** 2
    growth = np.diff(edges)
    return np.asarray(growth * (stretch.length / growth.sum()))
