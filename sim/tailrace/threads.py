"""How many threads there are to work on."""

import os
import threading


def thread_count() -> int:
    """Threads over blocks of lanes: NUMBA_NUM_THREADS, or the number of processors."""
    return int(os.environ.get("NUMBA_NUM_THREADS", os.cpu_count() or 1))


def threads_left() -> int:
    """As ``thread_count``, but one within a thread that is itself one of many."""
    return thread_count() if threading.current_thread() is threading.main_thread() else 1
