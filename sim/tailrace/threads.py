"""The threads of this machine: how many, and the one pool that all work is given to."""

import os
import threading
from collections.abc import Callable, Collection, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from typing import TypeVar

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
    from threadpoolctl import threadpool_limits

    pool = ThreadPoolExecutor(thread_count() if threads is None else threads)
    try:
        with threadpool_limits(1, "blas"):
            yield pool
    finally:
        # An interrupt waits for what is under way, not for what has not begun.
        pool.shutdown(cancel_futures=True)


@contextmanager
def linear_algebra_alone() -> Iterator[None]:
    """Linear algebra in one thread: with more of them sums come out otherwise in their last bit."""
    import scipy.linalg  # noqa: F401  # its library has to be loaded to be told
    from threadpoolctl import threadpool_limits

    with threadpool_limits(1, "blas"):
        yield


def in_threads(act: Callable[[Given], Made], items: Collection[Given]) -> list[Made]:
    """What ``act`` makes of each item, in their order; on all threads that are left."""
    threads = min(threads_left(), len(items))
    if threads <= 1:
        return [act(item) for item in items]
    with thread_pool(threads) as pool:
        return list(pool.map(act, items))
