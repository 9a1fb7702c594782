"""Large arrays in pieces that lie together, in the order of their numbers."""

import math
from collections.abc import Iterator, Sequence
from typing import TypeAlias

import numpy as np

Slab: TypeAlias = tuple[int | slice, ...]
"""Indices: single ones, then a slice; all of the axes behind."""


def slabs(shape: Sequence[int], most: int) -> Iterator[tuple[Slab, int]]:
    """Slabs of ``most`` numbers or fewer, which follow each other, with the numbers of each."""
    axis = _cut_axis(shape, most)
    if axis < 0:
        yield (), math.prod(shape)
        return
    behind = math.prod(shape[axis + 1 :])
    step = max(1, most // behind)
    for outer in np.ndindex(*shape[:axis]):
        for begin in range(0, shape[axis], step):
            end = min(begin + step, shape[axis])
            yield (*outer, slice(begin, end)), (end - begin) * behind


def chunks(shape: Sequence[int], most: int) -> tuple[int, ...]:
    """Shape of the largest of these slabs."""
    axis = _cut_axis(shape, most)
    if axis < 0:
        return tuple(shape)
    step = max(1, most // math.prod(shape[axis + 1 :]))
    return (*(1 for _ in shape[:axis]), step, *shape[axis + 1 :])


def _cut_axis(shape: Sequence[int], most: int) -> int:
    """The axis that is cut; -1 where none has to be."""
    axis = len(shape)
    while axis > 0 and math.prod(shape[axis - 1 :]) <= most:
        axis -= 1
    return axis - 1
