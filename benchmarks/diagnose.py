"""Hidden faults: how often is the part that is at fault named, how often none where there is none?

    python benchmarks/diagnose.py [COUNT]

Instruments with a union in place of the column, three flows, signal-to-noise ratios from 100 to
2000; a fault, drawn from all that may be, changes the variance enough for the width to change by
5 % or more in one of the measurements. Right: first, or among those not to be told from the first.
"""

import sys
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from reference.measured import DUMMY, UNION, with_rows

from tailrace.scenario.measured import as_measured, measured_files
from tailrace.scenario.scenario import Scenario
from tailrace.signals.band import Band
from tailrace.studies.measured.bench import Setup, signals
from tailrace.studies.measured.diagnosing import diagnose
from tailrace.studies.measured.faults import faults_of, reach_of, with_joints
from tailrace.studies.measured.inventing import Invention, csv_of, invented, width_of

COUNT, BAR = 100, 0.95
LEAST, MOST = 1.05**2 - 1, 1.5
"""Change of the variance, in the measurement in which it is largest."""


def exercise(seed: int) -> tuple[Scenario, tuple[str, ...], str]:
    """The scenario as its owner believes it to be; parts and name of what is at fault."""
    random = np.random.default_rng([15, seed])
    sizes = {
        '"0.12 mm"': f'"{random.choice([0.1, 0.12, 0.13, 0.17])} mm"',
        '"400 mm"': f'"{random.uniform(200, 600):.0f} mm"',
        '"300 mm"': f'"{random.uniform(150, 500):.0f} mm"',
        '"2.4 uL"': f'"{random.uniform(0.8, 5):.2f} uL"',
        '"0.05 s"': f'"{random.choice([0.02, 0.05, 0.1])} s"',
        '"1 uL"': f'"{random.choice([0.5, 1, 2])} uL"',
    }
    head = UNION
    for old, new in sizes.items():
        head = head.replace(old, new)
    flows = np.array([0.2, 0.5, 1.0]) * random.uniform(0.7, 1.4)
    rows = [(f"m{k}", f'flow = "{one:.3f} mL/min"') for k, one in enumerate(flows)]
    text = with_rows(*rows, head=head)
    files = {f"m{k}.csv": DUMMY for k in range(len(flows))}
    made, joints = with_joints(Scenario.from_text(text, files=files))
    setups = [
        Setup(base=made, scenario=as_measured(made, one), stand_in=True)
        for one in measured_files(made)
    ]
    known = [
        (fault, reach)
        for fault in faults_of(made, joints)
        if (reach := reach_of(fault, setups)) and np.abs(reach.changes).max() > LEAST
    ]
    fault, reach = known[random.integers(len(known))]
    fits = (np.abs(reach.changes) >= LEAST) & (np.abs(reach.changes) <= MOST)
    low, high = reach.values[fits][[0, -1]]
    value = reach.values[0]
    while not LEAST <= abs(reach.at(value)) <= MOST:
        value = float(np.exp(random.uniform(np.log(low), np.log(high))))
    truth = seed % 5 != 4
    where, values = ([fault.where], [value]) if truth else ([], [])
    bands = [signals([setup.itinerary(where, values)]) for setup in setups]
    files |= {f"m{k}.csv": one for k, one in enumerate(measured(bands, random, seed))}
    scenario = Scenario.from_text(text, files=files)
    return (scenario, fault.parts, fault.name) if truth else (scenario, (), "none")


def measured(bands: list[Band], random: np.random.Generator, seed: int) -> Iterator[bytes]:
    """Files of invented measurements."""
    ratio, drift = 100 * 20 ** random.random(), random.normal(0, 0.1)
    for k, band in enumerate(bands):
        how = Invention(
            signal_to_noise=ratio,
            drift=drift,
            interval=float(f"{width_of(band) / 12:.2g}"),
            delay=float(random.uniform(0.2, 2)),
            correlation=float(random.choice([0.0, 0.4])),
        )
        yield csv_of(*invented(band, how, [seed, k]))


def main() -> int:
    """Print a row a case; 1 where a bar is missed."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else COUNT
    right = {True: [], False: []}
    times = []
    for seed in range(count * 5 // 4 if count >= 8 else count):
        scenario, parts, name = exercise(seed)
        begun = time.process_time()
        found = diagnose(scenario)
        times.append(time.process_time() - begun)
        alike = found.indistinguishable[0] if found.indistinguishable else ()
        held = name == found.first.name or (found.first.name in alike and name in alike)
        by_part = set(found.first.parts) == set(parts)
        right[bool(parts)].append(held or (bool(parts) and by_part))
        print(
            f"{seed:4d} {'right' if right[bool(parts)][-1] else 'WRONG'} {name:45s} "
            f"{found.first.name:45s} {found.first.probability:.3f} {len(alike)} {times[-1]:.1f} s",
            flush=True,
        )
    for truth, said in ((True, "faults"), (False, "none")):
        print(f"{said}: {np.mean(right[truth]):.1%} of {len(right[truth])} right")
    print(f"processor time: {np.median(times):.1f} s, at most {max(times):.1f} s")
    return int(min(np.mean(one) for one in right.values()) < BAR)


if __name__ == "__main__":
    sys.exit(main())
