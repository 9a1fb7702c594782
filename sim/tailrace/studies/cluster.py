"""The workers of a Dask scheduler that is already there, as an executor.

Whoever can reach a scheduler can run anything on its workers: it belongs in a trusted network.
"""

import asyncio
import contextlib
import logging
import platform
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import CancelledError, Executor, Future
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version
from queue import Empty, SimpleQueue
from typing import Any

from tailrace.errors import AccuracyError, TailraceError
from tailrace.identity import code_sha256
from tailrace.threads import thread_pool

PATIENCE = 5.0
"""s; so long a scheduler may take to answer, and to have a worker."""
LONELY = 60.0
"""s; so long a study waits for a new worker where all have gone."""
AHEAD = 3
"""Bundles at hand for each thread of a worker: none waits for us, and few are sent in vain."""
BUNDLE = 4
"""Tasks that are sent and come back as one, where there are many: each way costs milliseconds."""
TICK = 1.0
"""s; so often it is looked whether the cluster is there, where nothing is done or new."""
DECIDING = ("numpy", "scipy", "numba", "llvmlite")
"""Libraries whose versions must be ours on every worker, lest the last digits differ."""


class ClusterError(TailraceError):
    """There is no cluster to work on; the message says what to start or to install."""


@contextlib.contextmanager
def on_cluster(address: str) -> Iterator["ClusterExecutor"]:
    """An executor on the workers of a Dask scheduler.

    ``address``: ``tcp://host:8786``, or host and port alone. The numbers are those of threads,
    to the last digit on like processors. Raises ClusterError where the extra is not installed, no
    scheduler answers within a few seconds, it has no worker, or a worker has other versions of what
    computes.
    """
    with _connected(address) as client:
        _compare_versions(client, address)
        with ClusterExecutor(client, address) as executor:
            yield executor


@dataclass(frozen=True)
class _Task:
    """What was given, and the future that was returned for it."""

    future: Future[Any]
    act: Callable[..., Any]
    arguments: tuple[Any, ...]
    named: dict[str, Any]


def _together(
    bundle: Sequence[tuple[Callable[..., Any], tuple[Any, ...], dict[str, Any]]],
) -> list[tuple[Any, Exception | None]]:
    """What comes of each task of a bundle, and what was raised."""
    found = list[tuple[Any, Exception | None]]()
    for act, arguments, named in bundle:
        try:
            found.append((act(*arguments, **named), None))
        except Exception as problem:
            found.append((None, problem))
    return found


class ClusterExecutor(Executor):
    """A Dask client as an executor that says in a sentence what became of a lost cluster.

    A task whose worker dies is sent to another; one that has outlived several workers ends with
    AccuracyError, all of them with ClusterError where the cluster is gone. Only a few tasks are
    under way at a time. ``address``: of its scheduler, for messages.
    """

    def __init__(self, client: Any, address: str) -> None:
        self._client, self._address = client, address
        self._ahead = AHEAD * max(1, sum(client.nthreads().values()))
        self._given: SimpleQueue[_Task] = SimpleQueue()
        self._sent: dict[Any, list[Future[Any]]] = {}
        self._closed, self._woken = threading.Event(), threading.Event()
        self._problem: Exception | None = None
        self._asked = self._seen = time.monotonic()
        self._carrier = threading.Thread(target=self._carry, daemon=True)
        self._carrier.start()

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        """As of any executor; what is given has to be such as can be sent."""
        if self._problem is not None:
            raise self._problem
        if self._closed.is_set():
            raise RuntimeError("expected an executor that is open, found one that was shut down")
        task = _Task(Future(), fn, args, kwargs)
        self._given.put(task)
        self._woken.set()
        return task.future

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """Give up what is not done: the workers have nothing more to do for us."""
        self._closed.set()
        self._woken.set()
        if wait:
            self._carrier.join(PATIENCE)

    def _carry(self) -> None:
        """Send what is given and pass on what comes back, in a thread of its own."""
        try:
            while not self._closed.is_set():
                self._woken.clear()
                self._send()
                for done in self._done():
                    self._pass_on(done, self._sent.pop(done))
        except Exception as problem:
            self._problem = problem
        with contextlib.suppress(OSError, CancelledError):
            self._client.cancel(list(self._sent), force=True)
        while not self._given.empty():
            self._sent[object()] = [self._given.get().future]
        for future in (one for bundle in self._sent.values() for one in bundle):
            if not future.cancel():
                future.set_exception(self._problem or CancelledError())

    def _send(self) -> None:
        """Send what there is room for; only a few bundles are under way at a time."""
        while len(self._sent) < self._ahead and not self._given.empty():
            bundle = list[_Task]()
            size = max(1, min(BUNDLE, self._given.qsize() // (BUNDLE * self._ahead)))
            with contextlib.suppress(Empty):
                while len(bundle) < size:
                    task = self._given.get_nowait()
                    if task.future.set_running_or_notify_cancel():
                        bundle.append(task)
            if bundle:
                work = [(one.act, one.arguments, one.named) for one in bundle]
                sent = self._client.submit(_together, work, pure=False)
                self._sent[sent] = [one.future for one in bundle]
                sent.add_done_callback(lambda _: self._woken.set())

    def _done(self) -> list[Any]:
        """Tasks that are done, if any; does not wait for ever where no worker is left."""
        done = [one for one in self._sent if one.done()]
        now = time.monotonic()
        if done or not self._sent:
            self._asked = self._seen = now
        elif now - self._asked > PATIENCE:
            self._asked = now
            try:
                if self._client.nthreads():
                    self._seen = now
            except (OSError, CancelledError) as problem:
                raise _lost(self._address, "the scheduler") from problem
        if now - self._seen > LONELY:
            raise _lost(self._address, "every worker")
        if not done:
            self._woken.wait(TICK)
        return done

    def _pass_on(self, done: Any, bundle: Sequence[Future[Any]]) -> None:
        import distributed

        found: Sequence[tuple[Any, Exception | None]]
        try:
            found = done.result()
        except distributed.scheduler.KilledWorker as problem:
            lost = AccuracyError(
                "a block could not be computed on the cluster: "
                f"{problem.allowed_failures + 1} workers died over it; give the workers more "
                "memory, or leave out --cluster"
            )
            found = [(None, lost)] * len(bundle)
        except CancelledError:
            found = [(None, _lost(self._address, "the scheduler"))] * len(bundle)
        except Exception as problem:
            found = [(None, problem)] * len(bundle)
        for future, (value, raised) in zip(bundle, found, strict=True):
            if raised is None:
                future.set_result(value)
            else:
                future.set_exception(raised)


@contextlib.contextmanager
def _connected(address: str) -> Iterator[Any]:
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


def _knock(distributed: Any, address: str) -> None:
    """Ask who is there: a client whose scheduler never answers cannot be put away cleanly."""

    async def asked() -> Any:
        async with distributed.rpc(address) as scheduler:
            return await asyncio.wait_for(scheduler.identity(), PATIENCE)

    try:
        # In a thread of its own: whoever calls from a notebook has a loop running already.
        with thread_pool(1) as aside:
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


def _library() -> Any:
    try:
        import distributed
    except ImportError as problem:
        raise ClusterError(
            "--cluster: expected the libraries of the extra `cluster`, found none; install them "
            "with `pip install tailrace[cluster]`"
        ) from problem
    return distributed


def _lost(address: str, who: str) -> ClusterError:
    return ClusterError(
        f"--cluster {address}: expected it to be there until the study ends, found {who} gone; "
        "start it again and repeat the command (with --out what is done is kept)"
    )


def _compare_versions(client: Any, address: str) -> None:
    """Stop where a worker would compute with something else."""
    ours = _versions()
    try:
        workers = client.run(_versions)
    except (ImportError, AttributeError) as problem:
        raise ClusterError(
            f"--cluster {address}: expected tailrace on every worker, found a worker without it; "
            "install the same version everywhere"
        ) from problem
    for worker, theirs in workers.items():
        for name, number in ours.items():
            if theirs[name] != number:
                raise ClusterError(
                    f"--cluster {address}: expected {name} {number[:12]} on every worker, found "
                    f"{theirs[name][:12]} at {worker}; install the same versions everywhere"
                )


def _versions() -> dict[str, str]:
    found = {"Python": ".".join(platform.python_version_tuple()[:2]), "code": code_sha256()}
    for name in DECIDING:
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            found[name] = "none"
    return found


@contextlib.contextmanager
def _quiet() -> Iterator[None]:
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
