"""Parts where they stand on a path: what some of them must know of those before them."""

from collections.abc import Sequence

from tailrace.parts.base import Passage
from tailrace.quantities.arrays import Number


def placed(passages: Sequence[Passage]) -> tuple[Passage, ...]:
    """Tell every part what volume lies before it; a part that does not ask stays the same object.

    To be done once, with parts as ``[[path]]`` gives them.
    """
    found: list[Passage] = []
    before: Number = 0.0
    first: Number | None = None
    for pair in passages:
        part, stream = pair
        if part.separates and first is None:
            first = before
        stands = part.standing(before, 0.0 if first is None else before - first)
        found.append(pair if stands is part else (stands, stream))
        if part.carries_flow:
            before = before + part.volume
    return tuple(found)
