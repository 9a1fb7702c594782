"""The threads of this machine: how many, and the one pool that all work is given to."""

import os
import threading
from collections.abc import Callable, Collection, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from typing import Any, TypeVar

Given = TypeVar("Given")
Made = TypeVar("Made")

THREADS = "NUMBA_NUM_THREADS"


def thread_count() -> int:
    """Threads to work on: NUMBA_NUM_THREADS, or the number of processors."""
    return int(os.environ.get(THREADS, os.cpu_count() or 1))


def threads_left() -> int:
    """As ``thread_count``, but one within a thread that is itself one of many."""
    return thread_count() if threading.current_thread() is threading.main_thread() else 1


@contextmanager
def thread_pool(threads: int | None = None) -> Iterator[ThreadPoolExecutor]:
    """A pool of threads (``thread_count()`` without a number); by default of all executors.

    While it is there linear algebra has no threads of its own: they would wait in line, spinning.
    """
    pool = ThreadPoolExecutor(thread_count() if threads is None else threads)
    try:
        with linear_algebra_alone():
            yield pool
    finally:
        # An interrupt waits for what is under way, not for what has not begun.
        pool.shutdown(cancel_futures=True)


class _Alone:
    """Those who need one thread of linear algebra: the last to leave gives back what was taken."""

    def __init__(self) -> None:
        self._lock, self._inside = threading.Lock(), 0
        self._taken: list[Any] = []

    def enter(self) -> None:
        from threadpoolctl import ThreadpoolController

        with self._lock:
            self._inside += 1
            found = ThreadpoolController().select(user_api="blas")
            if any(library["num_threads"] != 1 for library in found.info()):
                self._taken.append(found.limit(limits=1))

    def leave(self) -> None:
        with self._lock:
            self._inside -= 1
            while not self._inside and self._taken:
                self._taken.pop().restore_original_limits()


_ALONE = _Alone()


@contextmanager
def linear_algebra_alone() -> Iterator[None]:
    """Linear algebra in one thread: with more of them sums come out otherwise in their last bit.

    Holds for the whole process and the libraries that it has loaded; any number of threads may be
    in here at the same time.
    """
    _ALONE.enter()
    try:
        yield
    finally:
        _ALONE.leave()


def in_threads(act: Callable[[Given], Made], items: Collection[Given]) -> list[Made]:
    """What ``act`` makes of each item, in their order; on all threads that are left."""
    threads = min(threads_left(), len(items))
    if threads <= 1:
        return [act(item) for item in items]
    with thread_pool(threads) as pool:
        return list(pool.map(act, items))
