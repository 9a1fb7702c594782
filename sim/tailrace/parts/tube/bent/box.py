"""What tells chains of bent stretches apart that are much alike: a box of a few directions.

A chain's numbers are, for each stretch, the logarithms of De, C over De^2, X, and the residence
over that of the first. Where bore, flow, liquid and length vary, they lie in a space of few
directions: each goes with one of the numbers, and others follow. The ranges of these are rounded
outward, so that blocks of one study have boxes in common; a wide one is cut into cells.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from tailrace.parts.tube.bent.stretch import Chain, Stretch
from tailrace.quantities.arrays import FloatArray, IntArray

Row = tuple[float, ...]

NUMBERS, CELLS = 4, (0.3, 0.6, 0.6, 0.6)
"""How many of each stretch; widest range of each in one box: C goes with De twice over."""
SAME, DIGITS, PARTS = 1e-7, 8, 6
"""Below the first numbers count as the same; digits to which they are rounded; about into how many
parts a range is cut, to whole ones of which it is rounded outward."""
APART = 0.3
"""Gap, over the whole range, by which chains are told apart that lie in two boxes."""
DEGREES, STEEP = 3.0, 6.0
"""Of a polynomial that is enough in a narrow range, and by how many more it is in one of CELLS."""


@dataclass(frozen=True)
class Box:
    """Chains of the same kind, of a residence of 1.

    Parameters
    ----------
    kinds : of each stretch whether it is bent, and whether it is turned
    origin, rows : numbers where all directions are 0, and what each adds
    low, wide : range of each direction
    """

    kinds: tuple[tuple[bool, bool], ...]
    origin: Row
    rows: tuple[Row, ...]
    low: Row
    wide: Row

    @property
    def directions(self) -> int:
        """How many."""
        return len(self.rows)

    def chain(self, place: Sequence[float]) -> Chain:
        """The chain at a place, from -1 to 1 in each direction."""
        along = np.array(self.low) + np.array(self.wide) * (np.array(place) + 1) / 2
        numbers = np.array(self.origin) + along @ np.array(self.rows).reshape(-1, len(self.origin))
        each = np.exp(numbers.reshape(-1, NUMBERS))
        residence = each[:, 3] / each[:, 3].sum()
        return tuple(
            Stretch(
                dean=float(dean) if bent else 0.0,
                strength=float(dean**2 * schmidt) if bent else 0.0,
                length=float(length),
                residence=float(time),
                turned=turned,
            )
            for (bent, turned), (dean, schmidt, length, _), time in zip(
                self.kinds, each, residence, strict=True
            )
        )

    def corners(self) -> Iterator[Chain]:
        """The chains at all corners."""
        return map(self.chain, product((-1.0, 1.0), repeat=self.directions))

    def count(self) -> int:
        """About how many chains are solved for; within a factor of two."""
        if not self.rows:
            return 1
        most = [
            DEGREES + STEEP * one / CELLS[row.index(1.0) % NUMBERS]
            for one, row in zip(self.wide, self.rows, strict=True)
        ]
        degrees = np.indices([int(one) + 2 for one in most]).reshape(len(most), -1).T
        return int(np.count_nonzero((degrees / (np.array(most) + 1)).sum(axis=1) <= 1))


def lone(chain: Chain) -> Box:
    """A box without directions."""
    kinds = tuple((one.strength > 0, one.turned) for one in chain)
    return Box(kinds, tuple(_numbers(chain)), (), (), ())


def boxes(chains: Sequence[Chain]) -> Iterator[tuple[IntArray, Box, FloatArray]]:
    """Which chains lie in which box, and their (chains, directions) places in it."""
    kinds: dict[tuple[tuple[bool, bool], ...], list[int]] = {}
    for lane, chain in enumerate(chains):
        kind = tuple((one.strength > 0, one.turned) for one in chain)
        kinds.setdefault(kind, []).append(lane)
    for kind, lanes in kinds.items():
        numbers = np.array([_numbers(chains[lane]) for lane in lanes])
        for some in _clusters(numbers, np.arange(len(lanes))):
            for few, box, places in _cells(kind, numbers[some]):
                yield np.array(lanes)[some[few]], box, places


def _clusters(numbers: FloatArray, some: IntArray) -> Iterator[IntArray]:
    """Rows in groups between which there are no wide gaps."""
    for column in numbers[some].T:
        order = np.argsort(column, kind="stable")
        gaps = np.diff(column[order])
        if gaps.size and gaps.max() > max(APART * np.ptp(column), SAME):
            at = int(np.argmax(gaps)) + 1
            yield from _clusters(numbers, np.sort(some[order[:at]]))
            yield from _clusters(numbers, np.sort(some[order[at:]]))
            return
    yield some


def _cells(
    kind: tuple[tuple[bool, bool], ...], numbers: FloatArray
) -> Iterator[tuple[IntArray, Box, FloatArray]]:
    """Rows, their box, and their places in it."""
    rows, pivots = _directions(numbers - numbers[0])
    along = numbers[:, pivots]
    origin = np.round(numbers[0] - along[0] @ rows, DIGITS)
    cells = [
        _rounded(one, CELLS[column % NUMBERS]) for one, column in zip(along.T, pivots, strict=True)
    ]
    low = np.array([one for one, _ in cells]).reshape(len(pivots), len(along)).T
    wide = np.array([one for _, one in cells])
    found, which = np.unique(low, axis=0, return_inverse=True)
    for n, corner in enumerate(found):
        some = np.flatnonzero(which.ravel() == n)
        box = Box(
            kind,
            tuple(origin.tolist()),
            tuple(map(tuple, rows.tolist())),
            tuple(corner.tolist()),
            tuple(wide.tolist()),
        )
        yield some, box, 2 * (along[some] - corner) / wide - 1


def _numbers(chain: Chain) -> list[float]:
    found = []
    for one in chain:
        bent = one.strength > 0
        found += [np.log(one.dean), np.log(one.strength / one.dean**2)] if bent else [0.0, 0.0]
        found += [np.log(one.length), np.log(one.residence / chain[0].residence)]
    return found


def _directions(apart: FloatArray) -> tuple[FloatArray, list[int]]:
    """Rows, each 1 in one column and 0 in those of the others, that make up all; these columns.

    Gauss and Jordan's elimination, in the order of the columns.
    """
    left, rows, pivots = apart.copy(), list[FloatArray](), list[int]()
    for column in range(apart.shape[1]):
        at = int(np.argmax(np.abs(left[:, column])))
        if abs(left[at, column]) < SAME:
            continue
        row = left[at] / left[at, column]
        left = left - left[:, [column]] * row
        rows = [one - one[column] * row for one in rows] + [row]
        pivots.append(column)
    return np.round(np.array(rows).reshape(-1, apart.shape[1]), DIGITS), pivots


def _rounded(along: FloatArray, cell: float) -> tuple[FloatArray, float]:
    """Where the cell of each number begins, and how wide all are."""
    extent = float(np.ptp(along))
    if extent > cell:
        return np.floor(along / cell) * cell, cell
    step = 2.0 ** np.ceil(np.log2(extent / PARTS))
    low = np.floor(along.min() / step) * step
    return np.full(along.size, low), float(np.ceil(along.max() / step) * step - low)
