"""Metrics of more cases than memory should hold: they stay in the blocks that are stored."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache

import numpy as np

from tailrace.quantities.arrays import IntArray
from tailrace.studies.batch import Batch, Metrics, gathered


@dataclass(frozen=True, eq=False)
class Stored:
    """Metrics of a batch of products, whose cases stand in their order in its blocks.

    ``blocks`` reads one when it is asked for; ``cases`` of which ``rest`` says more were marched.
    """

    batch: Batch
    blocks: Sequence[Metrics | None]
    cases: IntArray = field(default_factory=lambda: np.array([], dtype=int))
    rest: Metrics = field(default_factory=dict)

    @cached_property
    def _read(self) -> Callable[[int], Metrics | None]:
        return lru_cache(2)(self.blocks.__getitem__)

    def rows(self, first: int, last: int) -> Metrics:
        """Of the cases from ``first`` up to ``last``, which is none of them."""
        size = len(self.batch.blocks[0])
        found, places = list[Metrics](), list[range]()
        for block in range(first // size, -(-last // size)):
            known = self.batch.blocks[block]
            begin, end = max(first, known[0]), min(last, known[-1] + 1)
            metrics = self._read(block) or {}
            found.append(
                {name: one[begin - known[0] : end - known[0]] for name, one in metrics.items()}
            )
            places.append(range(begin - first, end - first))
        whole = gathered(found, places)
        marched = np.flatnonzero((self.cases >= first) & (self.cases < last))
        if not marched.size:
            return whole
        few = {name: values[marched] for name, values in self.rest.items()}
        own = np.setdiff1d(np.arange(first, last), self.cases) - first
        own_values = {name: values[own] for name, values in whole.items()}
        return gathered([own_values, few], [own.tolist(), (self.cases[marched] - first).tolist()])

    def picked(self, cases: Sequence[int]) -> Metrics:
        """Of some cases."""
        return gathered(
            [self.rows(one, one + 1) for one in cases], [[k] for k in range(len(cases))]
        )
