"""``Band``: what travels. Concentration against time, many lanes side by side."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from tailrace.quantities.arrays import BoolArray, FloatArray, IntArray


@dataclass(frozen=True)
class Band:
    """Equally spaced samples of a signal, one start and one step a lane.

    Sums over the samples stand for integrals over time; lanes shorter than others end in zeros.

    Parameters
    ----------
    values : (lanes, times) array, 1/s
        Amount per time over the amount injected: an intact band has area one.
    start : (lanes,) array, s
        Time of the first sample, from the start of the injection.
    step : (lanes,) array, s
    upstream : Upstream or None
        Where it comes from, if the next part takes over its profile over the section.
    jumps : Jumps or None
        Where the curve that the samples stand for jumps; None of a curve without a jump.
    curve : Band or None
        Of a signal that is recorded by points: what they are taken of. None elsewhere, and where
        they are too close to matter.
    """

    values: FloatArray
    start: FloatArray
    step: FloatArray
    upstream: "Upstream | None" = field(default=None, kw_only=True)
    jumps: "Jumps | None" = field(default=None, kw_only=True)
    curve: "Band | None" = field(default=None, kw_only=True)

    @property
    def lanes(self) -> int:
        """Number of lanes."""
        return int(self.values.shape[0])

    @property
    def times(self) -> FloatArray:
        """(lanes, times) array, s: the time of each sample."""
        return np.asarray(
            self.start[:, None] + self.step[:, None] * np.arange(self.values.shape[1])
        )

    @property
    def area(self) -> FloatArray:
        """(lanes,) array, 1: the amount in the band."""
        return np.asarray(self.values.sum(axis=1) * self.step)

    def lane(self, index: int) -> "Band":
        """One lane as a band of its own, without the zeros at its end."""
        return self.picked(slice(index, index + 1))

    def picked(self, lanes: slice | IntArray) -> "Band":
        """Some lanes as a band of their own, without the zeros that end all of them."""
        rows = self.values[lanes]
        filled = np.flatnonzero(rows.any(axis=0))
        last = filled[-1] + 1 if filled.size else 1
        return Band(
            rows[:, :last].copy(),
            self.start[lanes].copy(),
            self.step[lanes].copy(),
            upstream=None if self.upstream is None else self.upstream.picked(lanes),
            jumps=None if self.jumps is None else self.jumps.picked(lanes),
            curve=None if self.curve is None else self.curve.picked(lanes),
        )

    @property
    def each(self) -> "list[Band]":
        """Every lane as a band of its own."""
        return [self.lane(at) for at in range(self.lanes)]

    def delayed(self, time: FloatArray) -> "Band":
        """The same band later by some time, (lanes,) array, s."""
        before = self.upstream
        return Band(
            self.values,
            self.start + time,
            self.step,
            upstream=before and Upstream(before.band.delayed(time), before.ways),
            jumps=self.jumps and Jumps(self.jumps.at + time[:, None], self.jumps.by),
        )

    @classmethod
    def joined(cls, bands: Sequence["Band"]) -> "Band":
        """One band of all lanes of several, in their order."""
        longest = max(one.values.shape[1] for one in bands)
        values = [np.pad(one.values, ((0, 0), (0, longest - one.values.shape[1]))) for one in bands]
        starts, steps = [one.start for one in bands], [one.step for one in bands]
        curve = None
        if any(one.curve is not None for one in bands):
            curve = cls.joined([one.curve or one for one in bands])
        upstream = None
        if any(one.upstream is not None for one in bands):
            upstream = Upstream.joined([one.upstream or Upstream.here(one) for one in bands])
        return cls(
            np.concatenate(values),
            np.concatenate(starts),
            np.concatenate(steps),
            upstream=upstream,
            jumps=Jumps.joined(bands),
            curve=curve,
        )


@dataclass(frozen=True, eq=False)
class Jumps:
    """Where a band jumps, exactly at samples; each sample there is half of both sides.

    Parameters
    ----------
    at : (lanes, jumps) array, s
    by : (lanes, jumps) array, 1/s
        Upwards; 0 where a lane has fewer of them.
    """

    at: FloatArray
    by: FloatArray

    def picked(self, lanes: slice | IntArray | BoolArray) -> "Jumps":
        """Of some lanes."""
        return Jumps(self.at[lanes], self.by[lanes])

    @classmethod
    def joined(cls, bands: Sequence[Band]) -> "Jumps | None":
        """Of all lanes of several bands, in their order; None where none jumps."""
        several = [one.jumps or cls(one.start[:, None], np.zeros((one.lanes, 1))) for one in bands]
        if all(one.jumps is None for one in bands):
            return None
        most = max(one.at.shape[1] for one in several)
        rooms = [((0, 0), (0, most - one.at.shape[1])) for one in several]
        at = [np.pad(one.at, room, "edge") for one, room in zip(several, rooms, strict=True)]
        by = [np.pad(one.by, room) for one, room in zip(several, rooms, strict=True)]
        return cls(np.concatenate(at), np.concatenate(by))


@dataclass(frozen=True, eq=False)
class Upstream:
    """The last place where a band was uniform over the section, and the tubes since.

    ``band`` is what entered there; ``ways`` holds for each lane what it passed since then, in the
    terms of the parts that made it.
    """

    band: Band
    ways: tuple[tuple[Any, ...], ...]

    def picked(self, lanes: slice | IntArray) -> "Upstream":
        """Of some lanes."""
        rows = np.arange(len(self.ways))[lanes]
        return Upstream(self.band.picked(lanes), tuple(self.ways[row] for row in rows))

    @classmethod
    def here(cls, band: Band) -> "Upstream":
        """Of a band that is uniform where it stands."""
        return cls(band, ((),) * band.lanes)

    @classmethod
    def joined(cls, several: Sequence["Upstream"]) -> "Upstream":
        """Of all lanes of several, in their order."""
        return cls(
            Band.joined([one.band for one in several]),
            tuple(way for one in several for way in one.ways),
        )
