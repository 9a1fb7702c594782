"""From a tube and what flows through it to stretches, one list a lane."""

from collections.abc import Callable

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.parts.base import Passages
from tailrace.parts.tube.bent.stretch import Stretch
from tailrace.parts.tube.part import Tube
from tailrace.quantities.arrays import BoolArray, FloatArray
from tailrace.signals.band import Band, Upstream


def ways(passages: Passages, lanes: int) -> list[tuple[Stretch, ...]]:
    """Stretches of tubes behind each other that hand their profile on, for each lane."""
    found: list[tuple[Stretch, ...]] = [() for _ in range(lanes)]
    for part, stream in passages:
        assert isinstance(part, Tube)
        found = [(*way, *chain) for way, chain in zip(found, part.chains(stream), strict=True)]
    return found


def single(tube: Tube, stream: Stream) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """De, C, X and residence, s, of a tube of one stretch. (lanes,) arrays."""
    found = np.array(
        [(one.dean, one.strength, one.length, one.residence) for (one,) in tube.chains(stream)]
    )
    dean, strength, length, residence = found.T
    return dean, strength, length, residence


def each_its_way(
    tube: Tube,
    stream: Stream,
    band: Band,
    straight: Callable[[FloatArray, FloatArray, Band], Band],
    bent: Callable[[list[list[Stretch]], Band], Band],
) -> Band:
    """March lanes that are straight all the way as straight tubes, and the others as bent ones.

    A tube that takes over a profile is marched from where the band was last uniform.

    Parameters
    ----------
    straight : of Fourier numbers and residences (tubes, lanes) of tubes behind each other
    bent : of one list of stretches a lane
    """
    before = band.upstream if tube.carries_over else None
    before = before or Upstream.here(band)
    ways = [
        [*way, *chain]
        for way, chain in zip(before.ways, tube.chains(stream.over(band.lanes)), strict=True)
    ]
    # a straight lane by its number of tubes, a bent one by 0
    kinds = np.array([0 if any(one.strength for one in way) else len(way) for way in ways])
    found = np.unique(kinds)
    ends = []
    for kind in found:
        which = kinds == kind
        some = [way for way, mine in zip(ways, which, strict=True) if mine]
        entering = _picked(before.band, which)
        if kind:
            fourier, residence = np.array(
                [[(one.length, one.residence) for one in way] for way in some]
            ).T
            ends.append(straight(fourier, residence, entering))
        else:
            ends.append(bent(some, entering))
    count = max(one.values.shape[1] for one in ends)
    values, start, step = np.zeros((band.lanes, count)), band.start.copy(), band.step.copy()
    for kind, one in zip(found, ends, strict=True):
        which = kinds == kind
        values[which, : one.values.shape[1]] = one.values
        start[which], step[which] = one.start, one.step
    upstream = Upstream(before.band, tuple(map(tuple, ways))) if tube.hands_on else None
    return Band(values, start, step, upstream=upstream)


def _picked(band: Band, which: BoolArray) -> Band:
    jumps = band.jumps and band.jumps.picked(which)
    return Band(band.values[which], band.start[which], band.step[which], jumps=jumps)
