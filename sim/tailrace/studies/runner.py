"""The runner: carries batches on an executor, and stores each block that is done."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Executor, Future
from contextlib import contextmanager
from dataclasses import replace
from functools import partial
from itertools import islice
from queue import SimpleQueue
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
    Gathering,
    Given,
    Key,
    Made,
    Metrics,
    gathered,
    reason_of,
)
from tailrace.studies.cases import kinship
from tailrace.studies.engine import (
    Engine,
    against_products,
    as_products,
    check_of,
    differing,
    once_more,
    sample_of,
    solving,
)
from tailrace.studies.stored import Stored
from tailrace.threads import linear_algebra_alone, thread_pool

MOST_MARCHED = 100_000
"""Journeys that are marched where products turn out not to agree: hours of work."""
TOLD = 1.2
"""Times what was foretold before, from which on it is told again."""
AHEAD = 256
"""Blocks that are handed out at a time: memory holds no more of what is done than these."""


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
        threads of this machine if it is left out. The numbers do not depend on it, to the last
        digit on like processors.
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
        foretell: Callable[[float], object] | None = None,
    ) -> None:
        if engine not in ENGINES:
            raise StudyError(f"{unknown('engine', str(engine), ENGINES)}")
        self._executor, self._checkpoint, self._progress = executor, checkpoint, progress
        self.passed, self.engine = 0, engine  # cases, and stems, of all batches so far
        self._foretell, self._told = foretell, 0.0
        self._marched: dict[tuple[Any, ...], dict[tuple[str, bool], float]] = {}
        self.stored: Stored | None = None
        """Where the last batch was not gathered as a whole: all of its metrics."""
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
        self._tell_of(batch)
        products = as_products(batch)
        metrics, own, marched = self.travelled(products, needed=False), Metrics(), Metrics()
        self.stored = self._left_stored(products)
        left = np.flatnonzero(~metrics["computed"])
        if left.size < len(batch.itineraries):
            known = self._marched.setdefault(kinship(batch.itineraries[0]), {})
            sample, cases = sample_of(batch, metrics, known)
            marched = self.travelled(sample, needed=False) if cases.size else marched
            own = {name: values[cases] for name, values in metrics.items()}
            own |= self.stored.picked(cases.tolist()) if self.stored else {}
            unlike = differing(own, marched) if cases.size else cases
            if unlike.size:
                finer = self.travelled(once_more(sample, unlike), needed=False)
                for name in finer if finer["computed"].all() else ():
                    marched[name][unlike] = finer[name]
        check = check_of(metrics, own, marched)
        self.computed = self.computed.beside(check)
        if check.marched + check.unresolved > MOST_MARCHED:
            raise AccuracyError(
                f"{check.reason or reason_of(metrics, int(left[0]))}, and "
                f"{check.marched + check.unresolved} journeys are too many to march; ask for "
                f"{MOST_MARCHED} or fewer"
            )
        if check.reason:
            self._marched.clear()
            return self.travelled(batch)
        if not left.size:
            return metrics
        others = np.flatnonzero(metrics["computed"])
        rest = self.travelled(batch.some("unresolved", left, batch.lanes), needed=False)
        if self.stored:
            self.stored = replace(self.stored, cases=left, rest=rest)
            rest = {name: values for name, values in rest.items() if name in metrics}
        settled = {name: values[others] for name, values in metrics.items()}
        return gathered([settled, rest], [others.tolist(), left.tolist()])

    def _tell_of(self, batch: Batch) -> None:
        """What was told for one batch serves the next that asks for much the same."""
        if self._foretell is None:
            return
        seconds = sum(solving(batch).values())
        if seconds > TOLD * self._told:
            self._foretell(seconds)
            self._told = seconds

    def _left_stored(self, batch: Batch) -> Stored | None:
        if self._checkpoint is None or batch.gather is None or batch.engine != PRODUCT:
            return None
        return Stored(batch, self._checkpoint.stored(batch))

    def travelled(self, batch: Batch, needed: bool = True) -> Metrics:
        """Travel every case of a batch, the way that it says.

        Raises AccuracyError where no case at all can be computed, if any is ``needed``.

        Returns
        -------
        dict of str to array
            As of ``tailrace.studies.lanes.metrics_of``, in the order of the cases. NaN where a case
            could not be computed: ``computed`` is False then and ``warnings`` says why.
        """
        whole, left = Gathering(len(batch.itineraries)), list[int]()
        stored = () if self._checkpoint is None else self._checkpoint.stored(batch)
        gather = batch.gather if self._left_stored(batch) else None
        for index, block in enumerate(batch.blocks):
            one = stored[index] if stored else None
            if one is None:
                left.append(index)
            else:
                whole.put(_some(one, gather), block)
        total = len(batch.itineraries) + batch.shared(left)
        done = len(batch.itineraries) - sum(len(batch.blocks[index]) for index in left)
        self._report(done, total)
        with self._at_work() as executor:
            for step in batch.travel(left, partial(each, executor)) if left else ():
                if step.block is not None and step.metrics is not None:
                    whole.put(_some(step.metrics, gather), batch.blocks[step.block])
                    if self._checkpoint is not None:
                        self._checkpoint.write(batch, step.block, step.metrics)
                done += step.count
                self._report(done, total)
        self.passed += total
        metrics = whole.metrics
        if needed and not metrics["computed"].any():
            raise AccuracyError(
                f"no case could be computed; the first, {batch.where(0)}: {reason_of(metrics, 0)}"
            )
        return metrics

    def solved(self, work: Callable[[Given], Made], items: Mapping[Key, Given]) -> dict[Key, Made]:
        """What ``work`` makes of each item, in their order, on the executor; nothing is stored."""
        found: dict[Key, Made] = {}
        with self._at_work() as executor:
            for key, value in each(executor, work, items.items()):
                found[key] = value
                self._report(len(found), len(items))
        self.passed += len(items)
        return {key: found[key] for key in items}

    @contextmanager
    def _at_work(self) -> Iterator[Executor]:
        if self._executor is None:
            with thread_pool() as pool:
                yield pool
        else:
            with linear_algebra_alone():  # an executor may be threads of this process
                yield self._executor

    def _report(self, done: int, total: int) -> None:
        if self._progress is not None:
            self._progress(self.passed + done, self.passed + total)


def _some(metrics: Metrics, gather: Callable[[str], bool] | None) -> Metrics:
    return {name: one for name, one in metrics.items() if gather is None or gather(name)}


def each(
    executor: Executor, work: Callable[[Given], Made], items: Iterable[tuple[Key, Given]]
) -> Iterator[tuple[Key, Made]]:
    """Key of each item and what ``work`` makes of it, as they are done; AHEAD of them at a time."""
    running, done = dict[Future[Made], Key](), SimpleQueue[Future[Made]]()
    left = iter(items)
    try:
        while True:
            for key, item in islice(left, AHEAD - len(running)):
                future = executor.submit(work, item)
                running[future] = key
                future.add_done_callback(done.put)
            if not running:
                return
            future = done.get()
            yield running.pop(future), future.result()
    finally:
        # After an interrupt or a failure nobody waits for the others.
        for future in running:
            future.cancel()
