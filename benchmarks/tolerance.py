"""A tolerance study: ten thousand samples, seven parts, two solutes, as the product makes it.

Time and memory of the whole study in a process of its own; then some of the same samples, side by
side in blocks and one by one, for the ratio of the two.

    python benchmarks/tolerance.py --samples 10000
"""

import timing

# isort: split
import argparse
import json
import os
import resource
import subprocess
import sys
import time
from pathlib import Path

import tailrace
from tailrace.journey import travel
from tailrace.studies.batch import ALIKE_LANES, Batch
from tailrace.studies.runner import Runner
from tailrace.studies.samples import sampled
from tailrace.studies.tolerance import answer, plan

SCENARIO = Path(__file__).parents[1] / "scenarios" / "tolerance" / "column-test.toml"
FULL_SIZE = 10_000
MOST_SECONDS, MOST_BYTES, LEAST_GAIN = 240.0, 2e9, 1.0
SAMPLE = 48


def work(samples):
    """A whole study: the samples, those of each kind alone, and the union in place of the column.

    Parameters
    ----------
    samples : int

    Returns
    -------
    dict
        Times in s, memory in bytes, the mean of the first figure.
    """
    scenario = tailrace.load(SCENARIO)
    travel(scenario.itinerary())
    began, used, passed = time.perf_counter(), time.process_time(), []

    def told(done, total):
        if done == samples + 1 and not passed:  # the scenario as it stands comes first
            passed.append((time.perf_counter() - began, time.process_time() - used))

    made = answer(plan(scenario, samples=samples), Runner(progress=told))
    (seconds, processor), *_ = passed
    return {
        "seconds": seconds,
        "processor_seconds": processor,
        "study_seconds": time.perf_counter() - began,
        "bytes": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024,
        "plates": made.outcomes[0].spread.mean,
    }


def in_process(samples):
    """``work`` in a fresh process on all processors. dict."""
    command = [sys.executable, __file__, "--worker", f"--samples={samples}"]
    environment = {**os.environ, "NUMBA_NUM_THREADS": str(os.cpu_count())}
    done = subprocess.run(command, env=environment, check=True, capture_output=True, text=True)
    return json.loads(done.stdout)


def gain():
    """Processor time of a sample one by one over that side by side. Float, 1."""
    scenario = tailrace.load(SCENARIO)
    itineraries = sampled(scenario, SAMPLE, 1).itineraries(scenario)
    travel(itineraries[0])
    began = time.process_time()
    Runner().run(Batch("samples", itineraries, lanes=ALIKE_LANES))
    together = time.process_time() - began
    began = time.process_time()
    for one in itineraries:
        travel(one)
    return (time.process_time() - began) / together


def main():
    """Read the options, run, print."""
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--samples", type=int, default=FULL_SIZE)
    options.add_argument("--json", action="store_true")
    options.add_argument("--worker", action="store_true", help=argparse.SUPPRESS)
    given = options.parse_args()
    if given.worker:
        print(json.dumps(work(given.samples)))
        return
    found = in_process(given.samples)
    ratio = gain()
    bars = [
        timing.Bar(
            name=f"seconds for {FULL_SIZE} samples on this machine",
            measured=found["seconds"] * FULL_SIZE / given.samples,
            bound=MOST_SECONDS,
            at_least=False,
        ),
        timing.Bar(
            name="peak GB", measured=found["bytes"] / 1e9, bound=MOST_BYTES / 1e9, at_least=False
        ),
        timing.Bar(name="one by one over side by side", measured=ratio, bound=LEAST_GAIN),
    ]
    rows = [
        {
            "samples": given.samples,
            "seconds": found["seconds"],
            "processor s": found["processor_seconds"],
            "ms a sample": 1e3 * found["seconds"] / given.samples,
            "seconds, whole study": found["study_seconds"],
            "peak GB": found["bytes"] / 1e9,
            "one by one over side by side": ratio,
            "mean plates": found["plates"],
        }
    ]
    load = os.getloadavg()[0]
    notes = [
        f"{os.cpu_count()} processors, load at the end {load:.1f}; the whole study holds the "
        "samples of each kind alone and the journeys without the column, too"
    ]
    timing.finish("Tolerance study", rows, bars, given.json, notes)


if __name__ == "__main__":
    main()
