"""How long are all combinations of twelve changes, and do marches say the same?

    python benchmarks/improve.py [--solutes 3] [--sample 64] [--changes 20]

A path of seven parts, twelve changes that can all be made together: 4,096 instruments, computed as
products of transfer functions. The second line marches a random sample of them, on as many threads,
in the same run. Passes where all take less than MOST_SECONDS and the sample has the same plates
both ways. With more than twelve changes two parts more; time and memory are printed.
"""

import argparse
import os
import resource
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

import tailrace
from tailrace.measures.registry import PLATES
from tailrace.report.improvement.sentences import verdict
from tailrace.studies.batch import Batch
from tailrace.studies.improving.branches import Branches
from tailrace.studies.improving.planning import planned
from tailrace.studies.improving.solve import answer
from tailrace.studies.runner import Runner

MOST_SECONDS = 4.0
AGREE = 1e-4
"""Relative difference allowed between product and march, from discretisation."""

METHOD = """
title = "Twelve changes"
[method]
flow = "0.60 mL/min"
temperature = "35 degC"
eluent = { water = 0.25, acetonitrile = 0.75 }
[injection]
shape = "plug"
volume = "2 uL"
[detector]
time_constant = "0.5 s"
interval = "50 ms"
"""
SOLUTES = (("cohumulone", 2.1, 1.2e-9), ("humulone", 2.6, 1.15e-9), ("lupulone", 5.4, 1.1e-9))
PATH = (
    ("needle seat", "tube", {"bore": "0.17 mm", "length": "100 mm"}),
    ("tube to heater", "tube", {"bore": "0.17 mm", "length": "400 mm"}),
    ("column heater", "tube", {"bore": "0.17 mm", "length": "130 mm"}),
    ("joint", "fitting", {"gap_bore": "1.0 mm", "gap_length": "0.5 mm"}),
    ("column", "column", {"bore": "2.1 mm", "length": "100 mm", "particle_diameter": "2.7 um"}),
    ("tube to cell", "tube", {"bore": "0.17 mm", "length": "300 mm"}),
    ("flow cell", "cell", {"volume": "13 uL"}),
)
CHANGES = (
    ("injection", "volume", "1 uL"),
    ("needle seat", "bore", "0.12 mm"),
    ("needle seat", "length", "70 mm"),
    ("tube to heater", "bore", "0.12 mm"),
    ("tube to heater", "length", "200 mm"),
    ("column heater", "bore", "0.12 mm"),
    ("column heater", "length", "90 mm"),
    ("joint", "gap_length", "0.02 mm"),
    ("tube to cell", "bore", "0.12 mm"),
    ("tube to cell", "length", "200 mm"),
    ("flow cell", "volume", "2.5 uL"),
    ("detector", "time_constant", "0.05 s"),
)
MORE_PATH = (
    ("union", "fitting", {"gap_bore": "1.0 mm", "gap_length": "0.3 mm"}),
    ("inline filter", "chamber", {"volume": "1.5 uL"}),
)
MORE_CHANGES = (
    ("union", "gap_length", "0.02 mm"),
    ("union", "gap_bore", "0.5 mm"),
    ("inline filter", "volume", "0.3 uL"),
    ("joint", "gap_bore", "0.5 mm"),
    ("column", "particle_diameter", "1.9 um"),
    ("column", "length", "75 mm"),
    ("column", "bore", "1.5 mm"),
    ("detector", "interval", "20 ms"),
)


def text(solutes, changes):
    """The scenario file."""
    lines = [METHOD]
    for name, factor, diffusivity in SOLUTES[:solutes]:
        lines.append(
            f'[[solutes]]\nname = "{name}"\nretention_factor = {factor}\n'
            f'diffusivity = "{diffusivity} m^2/s"'
        )
    path = PATH if changes <= len(CHANGES) else PATH[:2] + MORE_PATH + PATH[2:]
    for name, part, keys in path:
        lines.append(f'[[path]]\nname = "{name}"\npart = "{part}"')
        lines += [f'{key} = "{value}"' for key, value in keys.items()]
    for name, key, value in (CHANGES + MORE_CHANGES)[:changes]:
        lines.append(f'[[changes]]\nname = "{key} of {name}"')
        lines.append(f'set = {{ "{name}" = {{ {key} = "{value}" }} }}')
    return "\n".join(lines)


def timed(work):
    """Seconds on the clock, and what came of it."""
    begun = time.perf_counter()
    done = work()
    return time.perf_counter() - begun, done


def main():
    """Print the table; exit code 1 where a bar is missed."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--solutes", type=int, default=3, choices=(1, 2, 3))
    asked.add_argument("--sample", type=int, default=64)
    asked.add_argument("--changes", type=int, default=len(CHANGES))
    asked = asked.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "twelve.toml"
        file.write_text(text(asked.solutes, asked.changes))
        scenario = tailrace.load(file)
    building, plan = timed(lambda: planned(scenario))
    for few in (4, 128):  # compiles
        Runner().run(Branches("few", plan.batch.itineraries[:few]))
    travelling, found = timed(lambda: answer(plan))
    itineraries = plan.batch.itineraries
    picked = np.random.default_rng(1).permutation(len(itineraries))[: asked.sample]
    alone = Batch("alone", tuple(itineraries[case] for case in picked))
    apart, metrics = timed(lambda: Runner(engine="march").run(alone))
    own = metrics[f"recorded/{PLATES}"]
    rows = [plan.instruments.which.index((case,)) for case in picked]
    theirs = found.combinations.recorded[PLATES][rows]
    differ = float(np.max(np.abs(own / theirs - 1)))
    total = building + travelling
    each = apart / len(picked) * len(itineraries)
    peak = resource.getrusage(resource.RUSAGE_SELF)
    print(f"peak memory {peak.ru_maxrss * 1024 / 1e9:.2f} GB")
    print(f"processor time {peak.ru_utime + peak.ru_stime:.0f} s, marches among it")
    print(f"combinations {len(plan.combinations)}, distinct instruments {len(itineraries)}")
    print(f"threads {os.environ.get('NUMBA_NUM_THREADS', os.cpu_count())}, solutes {asked.solutes}")
    print(f"built in {building:.1f} s, travelled and answered in {travelling:.1f} s")
    print(f"marched, from {len(picked)}: {each:.0f} s")
    print(f"ratio {each / total:.1f}; plates differ by {differ:.1e} at most")
    print(verdict(found))
    met = {"the same plates": differ < AGREE}
    if asked.changes == len(CHANGES):
        met["time"] = total < MOST_SECONDS
    for name, held in met.items():
        print(f"{name}: {'met' if held else 'MISSED'}")
    return 0 if all(met.values()) else 1


if __name__ == "__main__":
    sys.exit(main())
