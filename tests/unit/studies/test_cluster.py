"""Blocks on a real scheduler with two worker processes: the same figures, even if one dies."""

import contextlib
import json
import os
import signal
import socket
import subprocess
import sys
import time

import numpy as np
import pytest
from reference.improving import CELL, FAST, TUBE, loaded

from tailrace.errors import TailraceError
from tailrace.studies import cluster
from tailrace.studies.cluster import ClusterError, on_cluster
from tailrace.studies.improving.planning import planned
from tailrace.studies.runner import Runner
from tailrace.studies.sweeping import plan

pytest.importorskip("distributed", reason="the extra `cluster`")

VARY = ["inlet tube.length = 50 mm .. 150 mm, 100 points"]
"""25 blocks of four cases."""


@contextlib.contextmanager
def running(*arguments):
    """A process of the dask command; killed, not asked, on leaving."""
    command = [sys.executable, "-m", "dask", *map(str, arguments), "--no-dashboard"]
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    process = subprocess.Popen(command, env=os.environ | {"PYTHONWARNINGS": "ignore"}, **quiet)
    try:
        yield process
    finally:
        process.kill()
        process.wait(timeout=30)


@contextlib.contextmanager
def scheduling(folder):
    """Address and process of a scheduler without workers."""
    file = folder / "address.json"
    options = ("--host", "127.0.0.1", "--port", 0, "--scheduler-file", file)
    with running("scheduler", *options) as process:
        until = time.monotonic() + 60
        while time.monotonic() < until:
            with contextlib.suppress(OSError, ValueError):
                yield json.loads(file.read_text())["address"], process
                return
            time.sleep(0.05)
        raise AssertionError("the scheduler did not start")


@pytest.fixture(scope="module")
def scheduler(tmp_path_factory):
    with scheduling(tmp_path_factory.mktemp("scheduler")) as (address, _):
        yield address


@contextlib.contextmanager
def worker(address, folder):
    """A worker process with one thread, without a nanny that would start it again."""
    with running(
        *("worker", address, "--nthreads", 1, "--no-nanny"),
        *("--local-directory", folder, "--host", "127.0.0.1"),
    ) as process:
        yield process


def waited_for(address, count):
    """Wait until the scheduler has so many workers."""
    import distributed

    with distributed.Client(address, timeout=30, set_as_default=False) as client:
        client.wait_for_workers(count, timeout=60)


def enter(address):
    """Connect, and leave at once."""
    with on_cluster(address):
        pass


def test_a_scheduler_without_workers_is_named(scheduler, monkeypatch):
    monkeypatch.setattr(cluster, "PATIENCE", 1.0)
    with pytest.raises(ClusterError, match="expected a scheduler with workers, found none"):
        enter(scheduler)


def test_the_same_figures_though_a_worker_is_killed(scheduler, scenario, tmp_path):
    batch = plan(scenario, VARY).batch
    here = Runner(engine="march").run(batch)
    with worker(scheduler, tmp_path) as one, worker(scheduler, tmp_path) as other:
        waited_for(scheduler, 2)
        reported = []

        def progress(done, total):
            reported.append(done)
            if len(reported) == 5:
                one.send_signal(signal.SIGKILL)

        with on_cluster(scheduler) as executor:
            there = Runner(executor, progress=progress, engine="march").run(batch)
        assert one.wait(timeout=30) == -signal.SIGKILL
        assert other.poll() is None
    assert reported[-1] == 100
    assert here.keys() == there.keys()
    for name, values in here.items():
        np.testing.assert_array_equal(there[name], values, err_msg=name, strict=True)


def test_changes_that_share_beginnings_go_to_workers_too(scheduler, tmp_path):
    asked = planned(loaded(tmp_path, CELL, TUBE, FAST))
    here = Runner().run(asked.batch)
    with worker(scheduler, tmp_path), on_cluster(scheduler) as executor:
        there = Runner(executor).run(asked.batch)
    assert here.keys() == there.keys()
    for name, values in here.items():
        np.testing.assert_array_equal(there[name], values, err_msg=name, strict=True)


@pytest.mark.parametrize(("lost", "text"), [(0, "the scheduler gone"), (1, "every worker gone")])
def test_a_cluster_that_is_lost_is_told(scenario, tmp_path, monkeypatch, lost, text):
    monkeypatch.setattr(cluster, "PATIENCE", 1.0)
    monkeypatch.setattr(cluster, "LONELY", 2.0)
    batch = plan(scenario, VARY).batch
    with scheduling(tmp_path) as (address, process), worker(address, tmp_path) as only:
        waited_for(address, 1)

        def progress(done, total):
            if done == 12:
                (process, only)[lost].send_signal(signal.SIGKILL)

        with pytest.raises(ClusterError, match=text) as reported, on_cluster(address) as executor:
            Runner(executor, progress=progress, engine="march").run(batch)
        assert len(str(reported.value).splitlines()) == 1


def test_another_version_on_a_worker_is_named(scheduler, tmp_path, monkeypatch):
    with worker(scheduler, tmp_path):
        waited_for(scheduler, 1)
        ours = cluster._versions() | {"numba": "0.1"}

        monkeypatch.setattr(cluster, "_versions", Pretended(ours))
        with pytest.raises(ClusterError, match=r"expected numba 0\.1 on every worker, found \d"):
            enter(scheduler)


class Pretended:
    """Says other versions here; sent to a worker it is the function as it is."""

    def __init__(self, versions):
        self.versions = versions

    def __call__(self):
        return self.versions

    def __reduce__(self):
        return getattr, (cluster, "_versions")


@pytest.mark.parametrize("address", ["nonsense", "", "foo://here:1", "127.0.0.1:99999"])
def test_what_is_no_address_is_refused(address, monkeypatch):
    monkeypatch.setattr(cluster, "PATIENCE", 0.5)
    with pytest.raises(TailraceError, match=r"--cluster .*: expected the address") as refused:
        enter(address)
    assert len(str(refused.value).splitlines()) == 1
    assert refused.value.exit_code == 2


def test_a_port_that_never_answers_is_refused(monkeypatch):
    monkeypatch.setattr(cluster, "PATIENCE", 0.5)
    with (
        socket.create_server(("127.0.0.1", 0)) as silent,
        pytest.raises(ClusterError, match="found no answer"),
    ):
        enter(f"tcp://127.0.0.1:{silent.getsockname()[1]}")


def test_without_the_extra_one_sentence_says_what_to_install(monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(ClusterError, match=r"pip install tailrace\[cluster\]"):
        enter("tcp://127.0.0.1:8786")
