"""Polynomials of several numbers through few points, of whichever degrees are needed.

Newton's form on Leja points, degree by degree: of the degrees that may be next the one that changed
most is gone on from, until none of them changes more than is asked (Chkifa, Cohen and Schwab,
Found. Comput. Math. 14 (2014) 601). What is computed at a point is shared between threads, and
kept.
"""

from collections.abc import Callable, Hashable, Sequence
from concurrent.futures import Future
from dataclasses import dataclass
from functools import lru_cache
from threading import Lock
from typing import Any

import numpy as np

from tailrace.quantities.arrays import FloatArray, IntArray

Degrees = tuple[int, ...]
MOST, FINELY = 24, 4001
"""Points in each direction, chosen from so many."""
MOST_NODES, MOST_HELD = 160, 1 << 13
"""Points of one polynomial; those whose values are kept."""
SURELY, FIRST = 0.02, 0.025
"""Of a change, as which the next one counts at least, for it may be small by chance; as what the
start counts there."""


class Shared:
    """What is computed once, by the thread that asks first; others go on with what is left."""

    def __init__(self, most: int = MOST_HELD) -> None:
        self._held, self._most = dict[Hashable, Future[Any]](), most
        self._lock = Lock()

    def all(self, keys: Sequence[Any], of: Callable[[Any], Any]) -> list[Any]:
        """``of`` each key, in their order."""
        found = list[Future[Any]]()
        for key in keys:
            with self._lock:
                mine = key not in self._held
                found.append(self._held.setdefault(key, Future()))
                if mine and len(self._held) > self._most:
                    self._held.pop(next(iter(self._held)))
            if mine:
                try:
                    found[-1].set_result(of(key))
                except BaseException as error:
                    found[-1].set_exception(error)
                    raise
        return [one.result() for one in found]


SHARED = Shared()


@lru_cache(maxsize=1)
def points() -> FloatArray:
    """Leja points of -1 to 1, from 0 on. (MOST,) array."""
    grid = np.linspace(-1.0, 1.0, FINELY)
    found, size = [0.0], np.abs(grid)
    while len(found) < MOST:
        found.append(float(grid[np.argmax(size)]))
        size = size * np.abs(grid - found[-1])
    return np.array(found)


@dataclass(frozen=True, eq=False)
class Polynomial:
    """Degrees of each term, (terms, numbers) array, and what it adds, (terms, values) array.

    ``left``: the largest change by the last degrees, of what ``fitted`` looks at.
    """

    degrees: IntArray
    terms: FloatArray
    left: float

    def at(self, places: FloatArray) -> FloatArray:
        """Values at (lanes, numbers) places of -1 to 1. (lanes, values) array."""
        weights = np.ones((len(places), len(self.terms)))
        for number, row in enumerate(places.T):
            weights *= _newton(row)[:, self.degrees[:, number]]
        # no library of linear algebra, whose sums depend on its threads
        return np.asarray(np.einsum("lt,tv->lv", weights, self.terms))


def _newton(place: FloatArray) -> FloatArray:
    """Newton's polynomials, each 1 at its own point and 0 at those before. (lanes, MOST) array."""
    at = points()
    found = np.ones((place.size, at.size))
    for k in range(1, at.size):
        found[:, k] = np.prod((place[:, None] - at[:k]) / (at[k] - at[:k]), axis=1)
    return found


def fitted(
    numbers: int,
    of: Callable[[Sequence[Degrees]], Sequence[FloatArray]],
    size: Callable[[FloatArray], float],
    settled: float,
    most: int,
) -> Polynomial:
    """Through as few points as it takes, or the most.

    Parameters
    ----------
    numbers : int
        Directions.
    of : callable
        Gives the values at points with some degrees: the point of each number is that of its
        degree in ``points``.
    size : callable
        Of a term, to be ``settled``.
    """
    table = _newton(points())
    start = (0,) * numbers
    known: dict[Degrees, FloatArray] = {start: of([start])[0]}
    sizes, open_ = {start: np.inf}, {start}
    while open_ and len(known) < most:
        best = max(sorted(open_), key=lambda one: sizes[one])
        if sizes[best] <= settled:
            break
        open_.remove(best)
        news = [
            one for one in _next(best) if one not in known and _below(one) <= known.keys() - open_
        ]
        for one, value in zip(news, of(news), strict=True):
            before = np.array(list(known))
            weights = np.prod(table[list(one), before], axis=1)
            known[one] = value - np.einsum("t,tv->v", weights, np.array(list(known.values())))
            sizes[one] = max(size(known[one]), SURELY * min(sizes[best], FIRST))
            open_.add(one)
    left = max((sizes[one] for one in open_), default=0.0)
    degrees = np.array(list(known), dtype=np.int64).reshape(len(known), numbers)
    return Polynomial(degrees, np.array(list(known.values())), left)


def _next(one: Degrees) -> list[Degrees]:
    found = [(*one[:k], one[k] + 1, *one[k + 1 :]) for k in range(len(one))]
    return [each for each in found if max(each) < MOST]


def _below(one: Degrees) -> set[Degrees]:
    return {(*one[:k], n - 1, *one[k + 1 :]) for k, n in enumerate(one) if n}
