"""Parts where they stand on a path: what flows there, and what they must know of those before."""

from collections.abc import Sequence

from tailrace.eluent.stream import Stream
from tailrace.parts.base import Passage
from tailrace.quantities.arrays import Number


def placed(passages: Sequence[Passage]) -> tuple[Passage, ...]:
    """Give every part the flow that arrives, and tell it what volume lies before it.

    To be done once, with parts and streams as ``[[path]]`` and ``[method]`` give them. A passage
    of which nothing changes stays the same object.
    """
    found: list[Passage] = []
    before: Number = 0.0
    first: Number | None = None
    arrives: Stream | None = None
    for pair in passages:
        part, stream = pair
        if part.separates and first is None:
            first = before
        if arrives is not None:
            stream = stream.at(arrives.flow_rate, arrives.share)
        stands = part.standing(before, 0.0 if first is None else before - first)
        found.append(pair if stands is part and stream is pair[1] else (stands, stream))
        if part.carries_flow:
            before = before + part.volume
        onward = part.passes_on(stream)
        if onward is not stream:
            arrives = onward
    return tuple(found)
