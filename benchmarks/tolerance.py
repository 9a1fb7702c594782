"""A tolerance study: ten thousand samples, seven parts, two solutes, as the command makes it.

Time and memory of the whole command in a process of its own, for as many samples as are asked for
and for fewer and more, so that cost can be seen to be linear and memory, but for the results
themselves, flat; then some of the same samples, marched side by side and one by one.

    python benchmarks/tolerance.py --samples 10000 [--sizes 1e3 1e4]
"""

import timing

# isort: split
import argparse
import dataclasses
import os
import subprocess
import sys
import time
from pathlib import Path

import numpy as np

import tailrace
from tailrace.journey import travel
from tailrace.scenario.scenario import Scenario
from tailrace.studies.batch import ALIKE_LANES, Batch
from tailrace.studies.runner import Runner
from tailrace.studies.samples import sampled
from tailrace.studies.tolerance import answer, models, plan

SCENARIO = Path(__file__).parents[1] / "scenarios" / "tolerance" / "column-test.toml"
FULL_SIZE = 10_000
MOST_SECONDS, MOST_GB, MOST_MORE, LEAST_GAIN = 6.0, 2.0, 0.35, 1.0
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


def arrays(one, seen):
    """Bytes of the arrays in a study, each once."""
    if id(one) in seen or isinstance(one, (str, type, Scenario)):
        return 0
    seen.add(id(one))
    if isinstance(one, np.ndarray):
        return one.nbytes
    if dataclasses.is_dataclass(one):
        one = [getattr(one, field.name) for field in dataclasses.fields(one)]
    rows = one.values() if isinstance(one, dict) else one if isinstance(one, (tuple, list)) else ()
    return sum(arrays(row, seen) for row in rows)


def stored():
    """Bytes of results that a sample leaves: of few samples, and where there are many. Pair."""
    few = tailrace.load(SCENARIO)
    bytes_of = [arrays(answer(plan(few, samples=count)), set()) for count in (1000, 2000)]
    kept, models.MANY = models.MANY, 100
    bytes_of += [arrays(answer(plan(few, samples=count)), set()) for count in (1000, 2000)]
    models.MANY = kept
    return (bytes_of[1] - bytes_of[0]) / 1000, (bytes_of[3] - bytes_of[2]) / 1000


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
    of_few, of_many = stored()
    for row in rows:
        row["B stored a sample"] = of_many if row["samples"] > models.MANY else of_few
        row["GB beside"] = row["peak GB"] - row["samples"] * row["B stored a sample"] / 1e9
    beside = [row["GB beside"] for row in rows]
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
        timing.Bar(
            name="GB from the fewest to the most samples, beside what is stored of them",
            measured=max(beside) - min(beside),
            bound=MOST_MORE,
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
