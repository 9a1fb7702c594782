"""The runner: carries batches on an executor, and stores each block that is done."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Executor, Future, as_completed
from contextlib import nullcontext
from functools import partial
from typing import Any, Protocol

import numpy as np

from tailrace.errors import AccuracyError
from tailrace.scenario.problems import unknown
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.target import StudyError
from tailrace.studies.batch import (
    ENGINES,
    PRODUCT,
    Batch,
    Given,
    Key,
    Made,
    Metrics,
    gathered,
    reason_of,
)
from tailrace.studies.cases import kinship
from tailrace.studies.engine import Engine, against_products, as_products, check_of, sample_of
from tailrace.threads import thread_pool

MOST_MARCHED = 100_000
"""Journeys that are marched where products turn out not to agree: hours of work."""


class Plan(Protocol):
    """A study that has been checked and not been made yet."""

    @property
    def scenario(self) -> Scenario:
        """What is varied."""
        ...

    @property
    def question(self) -> Mapping[str, Any]:
        """What must not change while the study waits, in the order in which it is looked at."""
        ...


class Checkpoint(Protocol):
    """Where blocks that are done are stored; see ``tailrace.records.checkpoint``."""

    def stored(self, batch: Batch) -> Sequence[Metrics | None]:
        """Metrics of each block of a batch; None where it is not done."""
        ...

    def write(self, batch: Batch, block: int, metrics: Metrics) -> None:
        """Store a block, by its number."""
        ...


Progress = Callable[[int, int], object]
"""Called as ``progress(done, total)``; the total grows with each batch of a study."""


class Runner:
    """Carries the batches of one study.

    Parameters
    ----------
    executor : concurrent.futures.Executor, optional
        Of any kind: a pool of processes, ``distributed.Client(...).get_executor(pure=False)``;
        threads of this machine if it is left out. The numbers do not depend on it.
    checkpoint : Checkpoint, optional
        Nothing is stored without one.
    progress : callable, optional
        Called as ``progress(done, total)`` with numbers of cases over all batches so far.
    engine : str
        ``product``: batches of many cases are computed as products of transfer functions where
        they are linear, and some of their cases marched to compare; ``march``: all are marched.
    """

    def __init__(
        self,
        executor: Executor | None = None,
        checkpoint: Checkpoint | None = None,
        progress: Progress | None = None,
        engine: str = PRODUCT,
    ) -> None:
        if engine not in ENGINES:
            raise StudyError(f"{unknown('engine', str(engine), ENGINES)}")
        self._executor, self._checkpoint, self._progress = executor, checkpoint, progress
        self._before, self.engine = 0, engine
        self._marched: dict[tuple[Any, ...], dict[tuple[str, bool], float]] = {}
        self.computed = Engine()
        """How the batches so far were computed."""

    def run(self, batch: Batch) -> Metrics:
        """Compute every case of a batch, as a product where that agrees with the march.

        Returns and raises as ``travelled``.
        """
        if batch.engine == PRODUCT:
            return self.travelled(batch)
        if self.engine != PRODUCT or against_products(batch):
            self.computed = self.computed.beside(Engine(marched=len(batch.itineraries)))
            return self.travelled(batch)
        metrics = self.travelled(as_products(batch), needed=False)
        if metrics["computed"].all():
            marched = self._marched.setdefault(kinship(batch.itineraries[0]), {})
            sample, cases = sample_of(batch, metrics, marched)
            check = check_of(metrics, self.travelled(sample, needed=False), cases)
        else:
            check = check_of(metrics, {}, np.array([], dtype=int))
        self.computed = self.computed.beside(check)
        if check.reason:
            self._marched.clear()
        if check.reason and len(batch.itineraries) > MOST_MARCHED:
            raise AccuracyError(
                f"{check.reason}, and {len(batch.itineraries)} journeys are too many to march; ask "
                f"for {MOST_MARCHED} or fewer"
            )
        return self.travelled(batch) if check.reason else metrics

    def travelled(self, batch: Batch, needed: bool = True) -> Metrics:
        """Travel every case of a batch, the way that it says.

        Raises AccuracyError where no case at all can be computed, if any is ``needed``.

        Returns
        -------
        dict of str to array
            As of ``tailrace.studies.lanes.metrics_of``, in the order of the cases. NaN where a case
            could not be computed: ``computed`` is False then and ``warnings`` says why.
        """
        found: list[Metrics | None] = [None] * len(batch.blocks)
        if self._checkpoint is not None:
            found = list(self._checkpoint.stored(batch))
        left = [index for index, one in enumerate(found) if one is None]
        total = len(batch.itineraries) + batch.shared(left)
        done = len(batch.itineraries) - sum(len(batch.blocks[index]) for index in left)
        self._report(done, total)
        with nullcontext(self._executor) if self._executor else thread_pool() as executor:
            for step in batch.travel(left, partial(each, executor)) if left else ():
                if step.block is not None and step.metrics is not None:
                    found[step.block] = step.metrics
                    if self._checkpoint is not None:
                        self._checkpoint.write(batch, step.block, step.metrics)
                done += step.count
                self._report(done, total)
        self._before += total
        metrics = gathered([one for one in found if one is not None], batch.blocks)
        if needed and not metrics["computed"].any():
            raise AccuracyError(
                f"no case could be computed; the first, {batch.where(0)}: {reason_of(metrics, 0)}"
            )
        return metrics

    def made(self, work: Callable[[Given], Made], items: Mapping[Key, Given]) -> dict[Key, Made]:
        """What ``work`` makes of each item, in their order, on the executor; nothing is stored."""
        found: dict[Key, Made] = {}
        with nullcontext(self._executor) if self._executor else thread_pool() as executor:
            for key, value in each(executor, work, items):
                found[key] = value
                self._report(len(found), len(items))
        self._before += len(items)
        return {key: found[key] for key in items}

    def _report(self, done: int, total: int) -> None:
        if self._progress is not None:
            self._progress(self._before + done, self._before + total)


def each(
    executor: Executor, work: Callable[[Given], Made], items: Mapping[Key, Given]
) -> Iterator[tuple[Key, Made]]:
    """Key of each item and what ``work`` makes of it, as they are done."""
    running: dict[Future[Made], Key] = {
        executor.submit(work, item): key for key, item in items.items()
    }
    try:
        for future in as_completed(running):
            yield running[future], future.result()
    finally:
        # After an interrupt or a failure nobody waits for the others.
        for future in running:
            future.cancel()
