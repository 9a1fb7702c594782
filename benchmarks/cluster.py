"""Blocks on a Dask cluster of this machine: do two workers take half the time of one?

    python benchmarks/cluster.py [--samples 20000]

One scheduler, then one worker process and two, each with one thread. Passes where two are at least
LEAST_RATIO times as fast and the numbers are the same bits.
"""

import timing

# isort: split
import argparse
import os
import time
import warnings
from pathlib import Path

import numpy as np
from distributed import LocalCluster

import tailrace
from tailrace.studies.batch import Batch
from tailrace.studies.cluster import on_cluster
from tailrace.studies.engine import as_products
from tailrace.studies.runner import Runner
from tailrace.studies.samples import sampled

SCENARIO = Path(__file__).parents[1] / "scenarios" / "tolerance" / "column-test.toml"
LEAST_RATIO = 1.7


def run(batch, workers):
    """Seconds on so many workers that are warm, and one metric."""
    options = {"threads_per_worker": 1, "processes": True, "dashboard_address": None}
    with (
        LocalCluster(n_workers=workers, **options) as local,
        on_cluster(local.scheduler_address) as executor,
    ):
        few = Batch("few", batch.itineraries[: 256 * workers], engine=batch.engine, lanes=256)
        Runner(executor).travelled(few)  # loads and compiles
        began = time.perf_counter()
        found = Runner(executor).travelled(batch)
        return time.perf_counter() - began, found["recorded/plates_half_height"]


def main():
    """Read the options, run, print."""
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--samples", type=float, default=20_000)
    options.add_argument("--json", action="store_true")
    given = options.parse_args()
    warnings.simplefilter("ignore")
    scenario = tailrace.load(SCENARIO)
    samples = sampled(scenario, int(given.samples), 1)
    batch = as_products(Batch("samples", samples.itineraries(scenario)))
    (alone, one), (together, other) = (run(batch, workers) for workers in (1, 2))
    rows = [
        {"workers": workers, "seconds": seconds, "ms a sample": 1e3 * seconds / given.samples}
        for workers, seconds in ((1, alone), (2, together))
    ]
    bars = [
        timing.Bar(name="one worker over two", measured=alone / together, bound=LEAST_RATIO),
        timing.Bar(name="the same bits", measured=float(np.array_equal(one, other)), bound=1.0),
    ]
    notes = [f"{os.cpu_count()} processors, load at the end {os.getloadavg()[0]:.1f}"]
    timing.finish("Local Dask workers", rows, bars, given.json, notes)


if __name__ == "__main__":
    main()
