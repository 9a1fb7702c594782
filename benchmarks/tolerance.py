"""A tolerance study: ten thousand samples, seven parts, two solutes, as the command makes it.

Time and memory of the whole command in a process of its own, for as many samples as are asked for
and for fewer and more, so that cost can be seen to be linear and what a sample holds in memory;
then some of the same samples, marched side by side in blocks and one by one, for the ratio of the
two.

    python benchmarks/tolerance.py --samples 10000 [--sizes 1e3 1e4]
"""

import timing

# isort: split
import argparse
import os
import subprocess
import sys
import time
from pathlib import Path

import tailrace
from tailrace.journey import travel
from tailrace.studies.batch import ALIKE_LANES, Batch
from tailrace.studies.runner import Runner
from tailrace.studies.samples import sampled

SCENARIO = Path(__file__).parents[1] / "scenarios" / "tolerance" / "column-test.toml"
FULL_SIZE = 10_000
MOST_SECONDS, MOST_GB, LEAST_GAIN = 6.0, 2.0, 1.0
SAMPLE = 48


def command(samples):
    """``tailrace tolerance --samples N`` in a process of its own. dict: s, processor s, bytes."""
    call = [sys.executable, "-m", "tailrace", "tolerance", str(SCENARIO), f"--samples={samples}"]
    environment = {**os.environ, "NUMBA_NUM_THREADS": str(os.cpu_count())}
    began = time.perf_counter()
    with subprocess.Popen(call, env=environment, stdout=subprocess.DEVNULL) as process:
        _, status, used = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
    assert process.returncode in (0, 1), process.returncode
    return {
        "samples": samples,
        "seconds": time.perf_counter() - began,
        "processor s": used.ru_utime + used.ru_stime,
        "ms a sample": 1e3 * (used.ru_utime + used.ru_stime) / samples,
        "peak GB": used.ru_maxrss * 1024 / 1e9,
    }


def gain():
    """Processor time of a sample one by one over that side by side. Float, 1."""
    scenario = tailrace.load(SCENARIO)
    itineraries = sampled(scenario, SAMPLE, 1).itineraries(scenario)
    travel(itineraries[0])
    began = time.process_time()
    Runner(engine="march").run(Batch("samples", itineraries, lanes=ALIKE_LANES))
    together = time.process_time() - began
    began = time.process_time()
    for one in itineraries:
        travel(one)
    return (time.process_time() - began) / together


def main():
    """Read the options, run, print."""
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--samples", type=float, default=FULL_SIZE)
    options.add_argument("--sizes", type=float, nargs="*", default=[1e3, 1e4, 1e5, 1e6])
    options.add_argument("--json", action="store_true")
    given = options.parse_args()
    sizes = sorted({int(given.samples), *(int(one) for one in given.sizes)})
    rows = [command(size) for size in sizes]
    ratio = gain()
    asked = next(row for row in rows if row["samples"] == int(given.samples))
    bars = [
        timing.Bar(
            name=f"seconds for {FULL_SIZE} samples, the whole command",
            measured=asked["seconds"] * FULL_SIZE / given.samples,
            bound=MOST_SECONDS,
            at_least=False,
        ),
        timing.Bar(
            name="peak GB",
            measured=max(row["peak GB"] for row in rows),
            bound=MOST_GB,
            at_least=False,
        ),
        timing.Bar(name="one by one over side by side", measured=ratio, bound=LEAST_GAIN),
    ]
    load = os.getloadavg()[0]
    notes = [
        f"{os.cpu_count()} processors, load at the end {load:.1f}; the whole study holds the "
        "samples of each kind alone and the journeys without the column, too"
    ]
    timing.finish("Tolerance study", rows, bars, given.json, notes)


if __name__ == "__main__":
    main()
