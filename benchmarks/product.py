"""Products of transfer functions: how fast, and how near to the march and to exact answers?

Three questions, each with bars of its own: a million journeys of eight parts, one solute, seven
metrics, in blocks on all threads (``study.py`` says what is drawn); random linear paths against the
march, where a difference beyond its discretisation error is looked at again with a march twice as
fine; random chains against exact answers (``accuracy.py``).

    python benchmarks/product.py --journeys 1000000 --paths 500 --chains 200
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
from dataclasses import replace
from pathlib import Path

import numpy as np
from accuracy import random_set_up, truth
from exact import TubeTable
from study import DIMENSIONS, SEED, TOLERANCE, passages

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from reference.products import BESIDE, apart, random_path

from tailrace.errors import TailraceError
from tailrace.journey import Itinerary
from tailrace.journey.product import LANES, cumulants_of, multiplied, multiply
from tailrace.measures.outlines import Outlines
from tailrace.measures.shape import HALF_HEIGHT
from tailrace.signals.resolution import Resolution
from tailrace.threads import in_threads

SIZES = (1_000, 10_000, 100_000, 1_000_000)
MOST_SECONDS, MOST_BYTES = 60.0, 2e9
EXACT = {"variance": 1e-6, "width_half": 1e-5, "plates_half_height": 1e-5, "tailing_5": 1e-5}


def block(first):
    """Seven metrics of the journeys from ``first`` on. (7, LANES) array."""
    random = np.random.default_rng([SEED, first])
    path = passages(random.uniform(1 - TOLERANCE, 1 + TOLERANCE, (LANES, DIMENSIONS)))
    said = cumulants_of(path)
    outlines = Outlines(multiplied(path, said)[0])
    mean, variance, third = (
        np.sum([getattr(one, name) for one in said], axis=0)
        for name in ("mean", "variance", "third")
    )
    return np.array(
        [
            outlines.apex,
            outlines.width(0.5),
            outlines.plates(0.5, HALF_HEIGHT),
            outlines.tailing(),
            mean,
            variance,
            third / variance**1.5,
        ]
    )


def work(journeys):
    """Make all journeys in this process. dict: times in s, memory in bytes, digest, plates."""
    block(0)
    blocks = list(range(0, journeys, LANES))
    began, used = time.perf_counter(), time.process_time()
    found = np.concatenate(in_threads(block, blocks), axis=1)[:, :journeys]
    return {
        "journeys": journeys,
        "seconds": time.perf_counter() - began,
        "processor_seconds": time.process_time() - used,
        "bytes": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024,
        "digest": hashlib.sha256(found.tobytes()).hexdigest(),
        "plates": float(np.median(found[2])),
    }


def in_process(journeys, threads):
    """``work`` in a fresh process with a number of threads. dict."""
    command = [sys.executable, __file__, "--worker", f"--journeys={journeys}"]
    environment = {**os.environ, "NUMBA_NUM_THREADS": str(threads)}
    done = subprocess.run(command, env=environment, check=True, capture_output=True, text=True)
    return json.loads(done.stdout)


def against_march(paths):
    """Worst difference over what may be, by metric; how often a finer march was asked; notes."""
    random, worst, refused, finer, count = np.random.default_rng(14), {}, [], 0, 0
    while count < paths:
        path = random_path(random)
        try:
            found = apart(path)
        except TailraceError as error:
            refused.append(str(error))
            continue
        count += 1
        if any(abs(one) > allowed for one, allowed, _ in found.values()):
            finer += 1
            found = apart(replace(path, resolution=Resolution(refinement=2.0)))
        for name, (one, allowed, _) in found.items():
            worst[name] = max(worst.get(name, 0.0), abs(one) / allowed)
    again = f"{finer} of {count} paths were marched again, twice as fine"
    return worst, [again, f"{len(refused)} more were no products (Fourier numbers below 0.003)"]


def against_exact(chains):
    """Largest relative error of each figure of EXACT over random chains. dict, and notes."""
    random, table, notes = np.random.default_rng(20240), TubeTable(), []
    worst = dict.fromkeys(EXACT, 0.0)
    for _ in range(chains):
        stream, parts = random_set_up(random)
        path = Itinerary(lanes=("solute",), passages=tuple((part, stream) for part in parts))
        try:
            found = multiply(path).recorded
        except TailraceError as error:
            notes.append(f"refused: {error}")
            continue
        exact = truth(table, stream, parts)
        for name in EXACT:
            worst[name] = max(worst[name], abs(float(found[name][0]) / exact[name] - 1))
    return worst, notes


def main():
    """Read the options, run, print."""
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--journeys", type=int, default=SIZES[-1])
    options.add_argument("--paths", type=int, default=500)
    options.add_argument("--chains", type=int, default=200)
    options.add_argument("--json", action="store_true")
    options.add_argument("--worker", action="store_true", help=argparse.SUPPRESS)
    given = options.parse_args()
    if given.worker:
        print(json.dumps(work(given.journeys)))
        return
    runs = [in_process(size, 2) for size in SIZES if size <= given.journeys]
    bars, notes = [], []

    def bar(name, measured, bound, at_least=False):
        bars.append(timing.Bar(name=name, measured=measured, bound=bound, at_least=at_least))

    if runs:
        alone, longest = in_process(SIZES[0], 1), runs[-1]
        whole = longest["seconds"] * SIZES[-1] / longest["journeys"]
        bar("seconds for a million, two threads", whole, MOST_SECONDS)
        bar("peak GB", longest["bytes"] / 1e9, MOST_BYTES / 1e9)
        same = float(alone["digest"] == runs[0]["digest"])
        bar("same bits with one thread and two", same, 1.0, at_least=True)
    if given.paths:
        worst, said = against_march(given.paths)
        notes += said
        for name, one in worst.items():
            bar(f"difference to the march over its error and {BESIDE:g}, {name}", one, 1.0)
    if given.chains:
        worst, said = against_exact(given.chains)
        notes += said
        for name, one in worst.items():
            bar(f"error against exact chains, {name}", one, EXACT[name])
    rows = [
        {
            "journeys": one["journeys"],
            "seconds": one["seconds"],
            "us a journey": 1e6 * one["seconds"] / one["journeys"],
            "processor s": one["processor_seconds"],
            "peak GB": one["bytes"] / 1e9,
            "median plates": one["plates"],
        }
        for one in runs
    ]
    timing.finish("Products of transfer functions", rows, bars, given.json, notes)


if __name__ == "__main__":
    main()
