"""A tolerance study: ten thousand draws, seven parts, two solutes, as the product makes it.

Time and memory of the whole study in a process of its own; then a sample of the same draws, side by
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

from tailrace.studies.draws import drawn

import tailrace
from tailrace.journey import travel
from tailrace.studies.journeys import ALIKE_LANES, Journeys, figures_of_all
from tailrace.studies.tolerance import carry_out, plan

SCENARIO = Path(__file__).parents[1] / "scenarios" / "tolerance" / "column-test.toml"
FULL_SIZE = 10_000
MOST_SECONDS, MOST_BYTES, LEAST_GAIN = 240.0, 2e9, 1.0
SAMPLE = 48


def work(draws):
    """A whole study: the draws, those of each kind alone, and the union in place of the column.

    Parameters
    ----------
    draws : int

    Returns
    -------
    dict
        Times in s, memory in bytes, the mean of the first figure.
    """
    scenario = tailrace.load(SCENARIO)
    travel(scenario.itinerary())
    began, used, passed = time.perf_counter(), time.process_time(), []

    def told(done, total):
        if done == draws + 1 and not passed:  # the scenario as it stands comes first
            passed.append((time.perf_counter() - began, time.process_time() - used))

    made = carry_out(plan(scenario, draws=draws), progress=told)
    (seconds, processor), *_ = passed
    return {
        "seconds": seconds,
        "processor_seconds": processor,
        "study_seconds": time.perf_counter() - began,
        "bytes": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024,
        "plates": made.outcomes[0].spread.mean,
    }


def in_process(draws):
    """``work`` in a fresh process on all processors. dict."""
    command = [sys.executable, __file__, "--worker", f"--samples={draws}"]
    environment = {**os.environ, "NUMBA_NUM_THREADS": str(os.cpu_count())}
    done = subprocess.run(command, env=environment, check=True, capture_output=True, text=True)
    return json.loads(done.stdout)


def gain():
    """Processor time of a sample one by one over that side by side. Float, 1."""
    scenario = tailrace.load(SCENARIO)
    itineraries = drawn(scenario, SAMPLE, 1).itineraries(scenario)
    travel(itineraries[0])
    began = time.process_time()
    figures_of_all(Journeys(itineraries, ALIKE_LANES), str)
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
        print(json.dumps(work(given.draws)))
        return
    found = in_process(given.draws)
    ratio = gain()
    bars = [
        timing.Bar(
            name=f"seconds for {FULL_SIZE} draws on this machine",
            measured=found["seconds"] * FULL_SIZE / given.draws,
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
            "draws": given.draws,
            "seconds": found["seconds"],
            "processor s": found["processor_seconds"],
            "ms a draw": 1e3 * found["seconds"] / given.draws,
            "seconds, whole study": found["study_seconds"],
            "peak GB": found["bytes"] / 1e9,
            "one by one over side by side": ratio,
            "mean plates": found["plates"],
        }
    ]
    load = os.getloadavg()[0]
    notes = [
        f"{os.cpu_count()} processors, load at the end {load:.1f}; the whole study holds the draws "
        "of each kind alone and the journeys without the column, too"
    ]
    timing.finish("Tolerance study", rows, bars, given.json, notes)


if __name__ == "__main__":
    main()
