"""Ten thousand journeys: wall time, memory, threads, and whether threads change the answer.

Every lane is one instrument of a tolerance study: an injection, then three tubes, a joint with a
gap, a column, a cell and a detector, with bores, lengths and volumes drawn at random within 10 %.
Blocks of lanes travel at once, a thread each, as in the product's own studies. Each count of
threads runs in a process of its own; compilation is not counted.

    python benchmarks/study.py --journeys 10000
"""

import timing

# isort: split
import argparse
import hashlib
import json
import os
import resource
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.journey.propagation import pass_through
from tailrace.measures import measure
from tailrace.parts.cell.part import Cell
from tailrace.parts.column.part import Column
from tailrace.parts.detector.part import Detector
from tailrace.parts.fitting.part import Fitting
from tailrace.parts.injector.part import Injector
from tailrace.parts.tube.part import Tube
from tailrace.signals.resolution import Resolution

MOST_SECONDS, MOST_BYTES, LEAST_GAIN = 120.0, 2e9, 1.7
FULL_SIZE = 10_000
SEED = 20240
TOLERANCE = 0.10


DIMENSIONS = 14


def drawn(journeys):
    """Every dimension of every journey over its nominal value. (journeys, DIMENSIONS) array, 1."""
    random = np.random.default_rng(SEED)
    return random.uniform(1 - TOLERANCE, 1 + TOLERANCE, (journeys, DIMENSIONS))


def passages(factors):
    """A path whose dimensions differ from lane to lane.

    Parameters
    ----------
    factors : (lanes, DIMENSIONS) array, 1

    Returns
    -------
    list of (part, Stream)
    """
    columns = iter(factors.T)

    def about(value):
        return value * next(columns)

    def tube(name, bore, length):
        return Tube(name=name, bore=about(bore), length=about(length))

    parts = [
        Injector(shape="plug", volume=about(2e-9)),
        tube("needle seat", 0.17e-3, 0.10),
        tube("heater", 0.12e-3, 0.35),
        Fitting(name="column inlet", gap_bore=about(1.0e-3), gap_length=about(0.2e-3)),
        Column(
            name="column",
            bore=about(2.1e-3),
            length=about(0.10),
            particle_diameter=2.7e-6,
            particle="core-shell",
        ),
        tube("tube to cell", 0.12e-3, 0.30),
        Cell(name="flow cell", volume=about(8e-9), tanks=2),
        Detector(time_constant=about(0.1), interval=0.02),
    ]
    stream = Stream(flow_rate=1e-8, diffusivity=1.1e-9, viscosity=6e-4, retention_factor=2.1)
    return [(part, stream.over(len(factors))) for part in parts]


def block_of_journeys(factors):
    """Make the journeys of one block of lanes and measure every peak.

    Parameters
    ----------
    factors : (lanes, DIMENSIONS) array, 1

    Returns
    -------
    digest : bytes
        Of the recorded points and all figures.
    plates : (lanes,) array, 1
    measuring : float, s
        Time spent on reading peaks.
    """
    bands, _ = pass_through(passages(factors), Resolution())
    began = time.perf_counter()
    figures = measure(bands[-1])
    measuring = time.perf_counter() - began
    digest = hashlib.sha256(np.ascontiguousarray(bands[-1].values))
    for name in sorted(figures):
        digest.update(np.ascontiguousarray(figures[name]))
    return digest.digest(), figures["plates_half_height"], measuring


def work(journeys, block):
    """Make all journeys in this process, with a thread for each block that is under way.

    Parameters
    ----------
    journeys, block : int

    Returns
    -------
    dict
        ``seconds``, ``processor_seconds`` (of all threads), ``bytes`` (peak of the process),
        ``digest``, ``plates`` (median), ``measuring`` (share of the threads' time that went into
        reading peaks).
    """
    factors = drawn(journeys)
    block_of_journeys(factors[:8])
    blocks = [factors[first : first + block] for first in range(0, journeys, block)]
    threads = int(os.environ["NUMBA_NUM_THREADS"])
    began, used = time.perf_counter(), time.process_time()
    with ThreadPoolExecutor(threads) as pool:
        digests, plates, measuring = zip(*pool.map(block_of_journeys, blocks), strict=True)
    seconds = time.perf_counter() - began
    return {
        "seconds": seconds,
        "processor_seconds": time.process_time() - used,
        "bytes": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024,
        "digest": hashlib.sha256(b"".join(digests)).hexdigest(),
        "plates": float(np.median(np.concatenate(plates))),
        "measuring": sum(measuring) / (threads * seconds),
    }


def in_process(threads, journeys, block):
    """``work`` in a fresh process with a number of threads. dict."""
    command = [sys.executable, __file__, "--worker", f"--journeys={journeys}", f"--block={block}"]
    environment = {**os.environ, "NUMBA_NUM_THREADS": str(threads)}
    done = subprocess.run(command, env=environment, check=True, capture_output=True, text=True)
    return json.loads(done.stdout)


def bars_of(found, runs, journeys):
    """The bars of the fastest run by number of threads, and of all runs. List of Bar."""
    whole = found[2]["seconds"] * FULL_SIZE / journeys
    same = float(len({run["digest"] for run in runs}) == 1)
    gain = found[1]["seconds"] / found[2]["seconds"]
    memory = max(run["bytes"] for run in runs) / 1e9
    return [
        timing.Bar(
            name=f"seconds for {FULL_SIZE} journeys, two threads",
            measured=whole,
            bound=MOST_SECONDS,
            at_least=False,
        ),
        timing.Bar(name="peak GB", measured=memory, bound=MOST_BYTES / 1e9, at_least=False),
        timing.Bar(name="two threads over one", measured=gain, bound=LEAST_GAIN),
        timing.Bar(name="same bits with one thread and two", measured=same, bound=1.0),
    ]


def main():
    """Read the options, run, print."""
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--journeys", type=int, default=FULL_SIZE)
    options.add_argument("--block", type=int, default=64, help="lanes that travel together")
    options.add_argument("--rounds", type=int, default=1, help="take the fastest of these")
    options.add_argument("--json", action="store_true")
    options.add_argument("--worker", action="store_true", help=argparse.SUPPRESS)
    given = options.parse_args()
    if given.worker:
        print(json.dumps(work(given.journeys, given.block)))
        return
    runs = [
        (threads, in_process(threads, given.journeys, given.block))
        for _ in range(given.rounds)
        for threads in (1, 2)
    ]
    found = {
        threads: min((run for by, run in runs if by == threads), key=lambda run: run["seconds"])
        for threads in (1, 2)
    }
    rows = [
        {
            "threads": threads,
            "seconds": one["seconds"],
            "processor s": one["processor_seconds"],
            "ms a journey": 1e3 * one["seconds"] / given.journeys,
            "peak GB": one["bytes"] / 1e9,
            "share reading peaks": one["measuring"],
            "median plates": one["plates"],
            "digest": one["digest"][:12],
        }
        for threads, one in found.items()
    ]
    bars = bars_of(found, [run for _, run in runs], given.journeys)
    load = os.getloadavg()[0]
    notes = [
        f"{given.journeys} journeys in blocks of {given.block}, fastest of {given.rounds}; load of "
        f"the machine at the end {load:.1f} on {os.cpu_count()} processors"
    ]
    timing.finish("Ten thousand journeys", rows, bars, given.json, notes)


if __name__ == "__main__":
    main()
