"""Bent tubes packed for a page: the whole table, or what a page's sliders ask of it.

Rows of p and q of ``parts/tube/bent/spectrum.py``, counted as they count in T, are
sums of the same curves over u. What is packed are the amounts of these and, before them,
the logarithm of variance or skewness: every ``FAR``-th column as it differs from the one before,
those halfway between by what they differ from the polynomial through POINTS neighbours, and so on;
in whole numbers, by an arithmetic code whose odds go with the numbers around. Columns that only
rows of less C ask for, which count less there, are coarser. ``engine/bent_rows.js`` reads it.
"""

import itertools
from collections.abc import Mapping

import numpy as np

from tailrace.parts.tube.bent import spectrum
from tailrace.parts.tube.bent.spectrum import ACROSS, ALONG, LEAST_PASSED, ROWS, turning
from tailrace.quantities.arrays import FloatArray, IntArray
from tailrace.web.bends import (
    COARSER,
    FAR,
    FAST,
    LARGE,
    LEVELS,
    LOG_STEP,
    LONGEST,
    POINTS,
    QUICK,
    SIZES,
    STEP,
    weights,
)

Spans = Mapping[int, tuple[int, int]]
"""Of the table: first column and how many, by row."""

DEAD = 0.15
"""Of a step, by which a number may be beyond half of it and is taken as nothing more."""
SAMPLES, SPARE = 200, 1.0
"""Between two tubes; rows and columns more than they ask for."""


def strength_of(row: int) -> float:
    """C."""
    return float(spectrum.STIRRED * np.sinh(spectrum.STEP_STRENGTH * row))


def everything() -> dict[int, tuple[int, int]]:
    """All that tubes with a transfer function ask for."""
    entries, first, starts = spectrum.table()
    ends = first + np.diff(starts, append=len(entries))
    begin = [earliest(row, ACROSS // 2) for row in range(ROWS)]
    return {row: (begin[row], int(ends[row]) - begin[row]) for row in range(ROWS)}


def earliest(row: int, away: int) -> int:
    """First column that tubes with a transfer function ask for, at C as many rows before this."""
    turned = LEAST_PASSED * turning(strength_of(max(row - away, 0)))
    return int(np.floor(spectrum.columns(turned))) - ALONG // 2 + 1


def coarseness(row: int, first: int, count: int) -> tuple[list[int], FloatArray]:
    """How many columns are coarser, by COARSER, and by how much each is. (count,) array."""
    many = [max(earliest(row, away) - first, 0) for away in (1, 2, 3)]
    steps = np.ones(count)
    for times, ends in zip(COARSER, many, strict=True):
        steps[:ends] = times
    return many, steps


def curves(rows: FloatArray) -> tuple[IntArray, IntArray]:
    """Whole numbers and powers of two: the curves of which rows are sums, one below another."""
    basis = np.linalg.svd(rows, full_matrices=False)[2]
    basis *= np.sign(basis[np.arange(len(basis)), np.abs(basis).argmax(axis=1)])[:, None]
    powers = np.rint(np.log2(np.abs(rows @ basis.T).max(axis=0) / (STEP / 4))).astype(int)
    return np.rint(basis * 2.0 ** powers[:, None]).astype(int), powers


def amounts(spans: Spans) -> tuple[list[FloatArray], IntArray, IntArray]:
    """Of each row by column, still or fast, p or q: logarithm and amounts, in steps; the curves."""
    entries, first, starts = spectrum.table()
    kept = [
        entries[starts[row] + begin - first[row] :][:count] for row, (begin, count) in spans.items()
    ]
    counted = [one[:, :, 2:].reshape(-1, 2, 2, spectrum.RATES) * weights() for one in kept]
    shares = [
        one / coarseness(row, *span)[1][:, None, None, None]
        for (row, span), one in zip(spans.items(), counted, strict=True)
    ]
    whole, powers = curves(np.concatenate(shares).reshape(-1, spectrum.RATES))
    back = np.linalg.pinv(whole * 0.5 ** powers[:, None])
    found = [
        np.concatenate([one[:, :, :2, None] / LOG_STEP, parts @ back / STEP], axis=-1)
        for one, parts in zip(kept, counted, strict=True)
    ]
    return found, whole, powers


def levels(count: int) -> list[tuple[IntArray, FloatArray]]:
    """Columns by the order in which they are made, and weights of all columns for each of them."""
    found = []
    apart = FAR
    while apart > 1:
        known = (count - 1) // apart + 1
        points = min(POINTS, known)
        new = np.arange(apart // 2, count, apart)
        begin = np.clip(new // apart - POINTS // 2 + 1, 0, known - points)
        shares = np.zeros((new.size, count))
        for share, one, at in zip(shares, begin, new / apart - begin, strict=True):
            own = spectrum._lagrange(np.array([at]), points)[0]
            share[(one + np.arange(points)) * apart] = own
        found.append((new, shares))
        apart //= 2
    return found


def whole_numbers(values: FloatArray, coarse: FloatArray) -> IntArray:
    """What is packed of one row, (columns, numbers) array."""
    made, packed = np.zeros_like(values), np.zeros(values.shape, dtype=int)
    before = made[0]
    for at in range(0, len(values), FAR):
        packed[at] = np.rint((values[at] - before) / coarse[at])
        before = made[at] = before + packed[at] * coarse[at]
    for new, shares in levels(len(values)):
        foreseen, size = shares @ made, coarse[new, None]
        away = (values[new] - foreseen) / size
        packed[new] = np.sign(away) * np.floor(np.abs(away) + 0.5 - DEAD)
        made[new] = foreseen + packed[new] * size
    return packed


def level_of(count: int) -> IntArray:
    """How often the distance was halved until a column was made. (count,) array."""
    at = np.arange(count)
    halved = [at % (FAR >> k) == 0 for k in range(LEVELS)]
    return np.asarray(np.argmax(halved, axis=0))


def odds_asked(packed: IntArray) -> IntArray:
    """Which odds hold for each number, by the size of those before it, in its own column and in the
    two before that were made as late. As ``packed``."""
    size = np.pad(np.minimum(np.abs(packed), LARGE), ((0, 0), (2, 0)))
    around, level = 2 * size[:, 1:-1] + size[:, :-2], level_of(len(packed))
    for one in range(LEVELS):
        same = size[level == one, 2:]
        around[level == one] += 2 * np.pad(same, ((1, 0), (0, 0)))[:-1]
        around[level == one] += np.pad(same, ((2, 0), (0, 0)))[:-2]
    bits = bit_lengths((1 + np.minimum(around, LARGE)) ** 2 - 1)
    found = np.minimum(bits, SIZES - 1) + SIZES * level[:, None]
    found[:, 0] = SIZES * LEVELS + level
    return found


def bit_lengths(numbers: IntArray) -> IntArray:
    """Of sizes below 2^53; as ``numbers``."""
    return np.asarray(np.frexp(np.abs(numbers).astype(float))[1])


def odds_of(rows: list[list[IntArray]]) -> IntArray:
    """Of 256, how often a number ends at each length, as things begin. (kinds, LONGEST) array."""
    counts = np.full((SIZES * LEVELS + LEVELS, LONGEST, 2), 0.4)
    for packed in itertools.chain(*rows):
        asked = odds_asked(packed).ravel()
        lengths = bit_lengths(packed).ravel()
        for length in range(LONGEST):
            for more, here in enumerate((lengths == length, lengths > length)):
                counts[:, length, more] += np.bincount(asked[here], minlength=len(counts))
    share = counts[..., 0] / counts.sum(axis=-1)
    return np.asarray(np.clip(np.rint(share * 256), 1, 255).astype(int))


class Coder:
    """A range coder of 32 bits that hands carries on; each yes or no by odds that are learnt."""

    def __init__(self, odds: list[int]) -> None:
        self.odds = [256 * one for one in odds]
        self.low, self.range, self.held, self.waiting = 0, 2**32 - 1, 0, 1
        self.out = bytearray()

    def number(self, value: int, asked: int) -> None:
        """A whole number: its length one by one, its lower bits and its sign as they are."""
        length = abs(value).bit_length()
        for at in range(min(length + 1, LONGEST)):
            self._weighed(LONGEST * asked + at, at < length)
        if length:
            self._even(abs(value) - (1 << length - 1), length - 1)
            self._even(value < 0, 1)

    def bytes(self) -> bytes:
        """All that was packed."""
        for _ in range(5):
            self._shift()
        return bytes(self.out[1:])

    def _weighed(self, at: int, longer: bool) -> None:
        odds = self.odds[at]
        bound = (self.range >> 16) * odds
        if longer:
            self.low, self.range = self.low + bound, self.range - bound
            self.odds[at] -= odds >> QUICK
        else:
            self.range = bound
            self.odds[at] += (65536 - odds) >> QUICK
        self._settle()

    def _even(self, value: int, bits: int) -> None:
        for bit in range(bits - 1, -1, -1):
            self.range >>= 1
            self.low += self.range * (value >> bit & 1)
            self._settle()

    def _settle(self) -> None:
        while self.range < 1 << 24:
            self.range <<= 8
            self._shift()

    def _shift(self) -> None:
        if self.low < 0xFF000000 or self.low >> 32:
            carry = self.low >> 32
            self.out += bytes([self.held + carry & 255]) + bytes([255 + carry & 255]) * (
                self.waiting - 1
            )
            self.held, self.waiting = self.low >> 24 & 255, 0
        self.waiting, self.low = self.waiting + 1, self.low << 8 & 0xFFFFFFFF


def packed(spans: Spans) -> dict[str, np.ndarray]:
    """The arrays of a part of the table."""
    rows, whole, powers = amounts(spans)
    coarse, numbers = [], []
    for (row, span), values in zip(spans.items(), rows, strict=True):
        many, steps = coarseness(row, *span)
        coarse.append(many)
        numbers.append(
            [whole_numbers(values[:, k, j], steps * FAST**k) for k in (0, 1) for j in (0, 1)]
        )
    odds = odds_of(numbers)
    chunks = []
    for row_numbers in numbers:
        coder = Coder(odds.ravel().tolist())
        for one in row_numbers:
            pairs = zip(one.ravel().tolist(), odds_asked(one).ravel().tolist(), strict=True)
            for value, asked in pairs:
                coder.number(value, asked)
        chunks.append(coder.bytes())
    return {
        "curves": whole.astype(np.int32),
        "powers": powers.astype(np.int8),
        "odds": odds.astype(np.uint8),
        "rows": np.array(list(spans), dtype=np.int16),
        "spans": np.array(list(spans.values()), dtype=np.int16),
        "coarse": np.array(coarse, dtype=np.int16),
        "ends": np.cumsum([len(one) for one in chunks]).astype(np.int32),
        "bytes": np.frombuffer(b"".join(chunks), dtype=np.uint8),
    }


def asked_for(bends: FloatArray) -> dict[int, tuple[int, int]]:
    """What tubes between some ask of the table: C and X of each, (tubes, 2) array.

    Fields that sliders move are most often factors of C and X: what lies between tubes lies on the
    straight lines between their logarithms.
    """
    ends = np.log(np.maximum(np.unique(bends, axis=0), 1e-6))
    share = np.linspace(0, 1, SAMPLES)[:, None, None]
    one, other = np.triu_indices(len(ends))
    strength, length = np.exp(ends[one] + share * (ends[other] - ends[one])).reshape(-1, 2).T
    across = np.arcsinh(strength / spectrum.STIRRED) / spectrum.STEP_STRENGTH
    turned = np.minimum(length, spectrum.LONG) * turning(strength)
    sooner = np.where(length > spectrum.LONG, turned / 2, turned)
    found = {}
    for row, (begin, count) in everything().items():
        # beyond the last rows the same are asked
        behind = row + ACROSS // 2 if row < ROWS - ACROSS else np.inf
        here = (across >= row - ACROSS // 2 - SPARE) & (across <= behind + SPARE)
        if np.any(here):
            least, most = spectrum.columns(np.array([np.min(sooner[here]), np.max(turned[here])]))
            first = max(int(least - SPARE) - ALONG // 2 + 1, begin)
            last = min(int(most + SPARE) + ALONG // 2 + 1, begin + count)
            first = min(first, last - ALONG)
            found[row] = (first, last - first)
    return found
