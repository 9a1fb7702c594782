"""Blocks on a Dask cluster of this machine: do two workers take half the time of one?

    python benchmarks/cluster.py [--samples 100000]

One scheduler, then one worker process and two, each with one thread. Passes where the busier of two
takes at most 1 / LEAST_RATIO of the processor time of one alone, and the numbers are the same bits.
Seconds on the clock tell as much only where nothing else runs.
"""

import timing

# isort: split
import argparse
import os
import time
import warnings
from pathlib import Path

import numpy as np
from distributed import Client, LocalCluster

import tailrace
from tailrace.studies.batch import Batch
from tailrace.studies.cluster import on_cluster
from tailrace.studies.engine import as_products
from tailrace.studies.runner import Runner
from tailrace.studies.samples import sampled

SCENARIO = Path(__file__).parents[1] / "scenarios" / "tolerance" / "column-test.toml"
LEAST_RATIO = 1.9


def run(batch, workers):
    """Seconds on so many workers that are warm, processor seconds of each, and one metric."""
    options = {"threads_per_worker": 1, "processes": True, "dashboard_address": None}
    with (
        LocalCluster(n_workers=workers, **options) as local,
        on_cluster(local.scheduler_address) as executor,
    ):
        few = Batch("few", batch.itineraries[: 256 * workers], engine=batch.engine, lanes=256)
        Runner(executor).travelled(few)  # loads and compiles
        with Client(local) as client:
            before, began = client.run(time.process_time), time.perf_counter()
            found = Runner(executor).travelled(batch)
            taken, after = time.perf_counter() - began, client.run(time.process_time)
        worked = [after[worker] - before[worker] for worker in after]
        return taken, worked, found["recorded/plates_half_height"]


def main():
    """Read the options, run, print."""
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--samples", type=float, default=100_000)
    options.add_argument("--json", action="store_true")
    given = options.parse_args()
    warnings.simplefilter("ignore")
    scenario = tailrace.load(SCENARIO)
    samples = sampled(scenario, int(given.samples), 1)
    batch = as_products(Batch("samples", samples.itineraries(scenario)))
    found = [run(batch, workers) for workers in (1, 2)]
    rows = [
        {
            "workers": len(worked),
            "seconds": seconds,
            "processor s of the busiest": max(worked),
            "of all": sum(worked),
        }
        for seconds, worked, _ in found
    ]
    share = rows[0]["processor s of the busiest"] / rows[1]["processor s of the busiest"]
    same = np.array_equal(found[0][2], found[1][2])
    bars = [
        timing.Bar(name="one worker over the busier of two", measured=share, bound=LEAST_RATIO),
        timing.Bar(name="the same bits", measured=float(same), bound=1.0),
    ]
    notes = [f"{os.cpu_count()} processors, load at the end {os.getloadavg()[0]:.1f}"]
    timing.finish("Local Dask workers", rows, bars, given.json, notes)


if __name__ == "__main__":
    main()
