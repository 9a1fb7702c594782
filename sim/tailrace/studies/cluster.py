"""The same blocks on the workers of a Dask scheduler that is already there.

Whoever can reach a scheduler can run anything on its workers: it belongs in a trusted network.
"""

import asyncio
import contextlib
import itertools
import logging
import platform
import time
from concurrent.futures import CancelledError, ThreadPoolExecutor
from importlib.metadata import PackageNotFoundError, version

from tailrace.errors import AccuracyError, TailraceError
from tailrace.studies.journeys import travelled

PATIENCE = 5.0
"""s; so long a scheduler may take to answer, and to have a worker."""

LONELY = 60.0
"""s; so long a study waits for a new worker where all have gone."""

AHEAD = 3
"""Blocks at hand for each thread of a worker: none waits for us, and few are sent in vain."""

DECIDING = ("tailrace", "numpy", "scipy", "numba", "llvmlite")
"""Libraries whose versions must be ours on every worker, lest the last digits differ."""


class ClusterError(TailraceError):
    """There is no cluster to work on; the message says what to start or to install."""


def on_cluster(address):
    """A way to carry blocks: to the workers of a Dask scheduler and back.

    Parameters
    ----------
    address : str
        ``tcp://host:8786``, or the host and the port alone.

    Returns
    -------
    callable
        For ``tailrace.studies.journeys.figures_of_all(carry=...)``. The figures are those of
        ``in_threads``, to the last digit on like processors. A block whose worker dies is sent to
        another; one that has outlived several workers ends the study with AccuracyError.

    Raises
    ------
    ClusterError
        Where the extra is not installed, no scheduler answers within a few seconds, it has no
        worker, or a worker has other versions of what computes.
    """
    with _connected(address) as client:
        _compare_versions(client, address)

    def carry(blocks):
        if not blocks:
            return
        with _connected(address) as client:
            yield from _carried(client, blocks, address)

    return carry


@contextlib.contextmanager
def _connected(address):
    """A client of the scheduler that has at least one worker."""
    distributed = _library()
    with _quiet():
        _knock(distributed, address)
        with distributed.Client(address, timeout=PATIENCE, set_as_default=False) as client:
            try:
                client.wait_for_workers(1, timeout=PATIENCE)
            except OSError as problem:
                raise ClusterError(
                    f"--cluster {address}: expected a scheduler with workers, found none within "
                    f"{PATIENCE:g} s; start one with `dask worker {address}`"
                ) from problem
            yield client


def _knock(distributed, address):
    """Ask who is there: a client whose scheduler never answers cannot be put away cleanly."""

    async def asked():
        async with distributed.rpc(address) as scheduler:
            return await asyncio.wait_for(scheduler.identity(), PATIENCE)

    try:
        # In a thread of its own: whoever calls from a notebook has a loop running already.
        with ThreadPoolExecutor(1) as aside:
            found = f"a {aside.submit(asyncio.run, asked()).result()['type']}"
    except (OSError, ValueError, RuntimeError, ImportError, LookupError, TypeError) as problem:
        lines = str(problem).strip().splitlines()
        silent = isinstance(problem, OSError) or not lines
        found = "no answer" if silent else lines[0].rstrip(".")
    if found != "a Scheduler":
        raise ClusterError(
            f"--cluster {address}: expected the address of a Dask scheduler such as "
            f"tcp://host:8786, found {found}; start one with `dask scheduler`, or correct the "
            "address"
        )


def _library():
    try:
        import distributed
    except ImportError as problem:
        raise ClusterError(
            "--cluster: expected the libraries of the extra `cluster`, found none; install them "
            "with `pip install tailrace[cluster]`"
        ) from problem
    return distributed


def _carried(client, blocks, address):
    """Figures of blocks as they come in; only a few are under way at a time."""
    waiting, sent = iter(blocks.items()), {}
    ahead = AHEAD * max(1, sum(client.nthreads().values()))

    def send(count):
        for index, block in itertools.islice(waiting, count):
            sent[client.submit(travelled, block, pure=False)] = index

    send(ahead)
    try:
        while sent:
            done = _done(client, sent, address)
            for future in done:
                yield sent.pop(future), _result(future, address)
            send(len(done))
    finally:
        # After an interrupt the workers have nothing more to do for us.
        with contextlib.suppress(OSError, CancelledError):
            client.cancel(list(sent), force=True)


def _done(client, sent, address):
    """Blocks that are done, at least one; does not wait for ever where no worker is left."""
    import distributed

    seen = time.monotonic()
    while time.monotonic() - seen < LONELY:
        try:
            with client.as_current():
                return distributed.wait(list(sent), PATIENCE, "FIRST_COMPLETED").done
        except TimeoutError:
            if client.nthreads():
                seen = time.monotonic()
        except (OSError, CancelledError) as problem:
            raise _lost(address, "the scheduler") from problem
    raise _lost(address, "every worker")


def _lost(address, who):
    return ClusterError(
        f"--cluster {address}: expected it to be there until the study ends, found {who} gone; "
        "start it again and repeat the command (with --out what is done is kept)"
    )


def _result(future, address):
    import distributed

    try:
        return future.result()
    except distributed.scheduler.KilledWorker as problem:
        raise AccuracyError(
            f"a block could not be computed on the cluster: {problem.allowed_failures + 1} workers "
            "died over it; give the workers more memory, or leave out --cluster"
        ) from problem
    except CancelledError as problem:
        raise _lost(address, "the scheduler") from problem


def _compare_versions(client, address):
    """Stop where a worker would compute with something else."""
    ours = _versions()
    for worker, theirs in client.run(_versions).items():
        for name, number in ours.items():
            if theirs[name] != number:
                raise ClusterError(
                    f"--cluster {address}: expected {name} {number} on every worker, found "
                    f"{theirs[name]} at {worker}; install the same versions everywhere"
                )


def _versions():
    found = {"Python": ".".join(platform.python_version_tuple()[:2])}
    for name in DECIDING:
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            found[name] = "none"
    return found


@contextlib.contextmanager
def _quiet():
    """What the library tells of lost connections while it tries again is nothing for a user."""
    named = [one for one in logging.root.manager.loggerDict if one.split(".")[0] == "distributed"]
    levels = {one: logging.getLogger(one).level for one in ("distributed", *named)}
    try:
        for one in levels:
            logging.getLogger(one).setLevel(logging.CRITICAL)
        yield
    finally:
        for one, level in levels.items():
            logging.getLogger(one).setLevel(level)
