"""Hidden faults: how often is the part that is at fault named, how often none where there is none?

    python benchmarks/diagnose.py [COUNT [FIRST]] [--off-list]

Instruments with a union in place of the column, three flows, signal-to-noise ratios from 100 to
2000; a fault, drawn from all that may be, changes the variance enough for the width to change by
5 % or more in one of the measurements. Right:
first, or among those not to be told from the first. Last it prints how often the truth is among
those named, beside the probability that is stated of them together. FIRST is the seed of the first.

With ``--off-list`` faults that are no hypothesis: a mixer that the scenario lacks, a slow baseline,
a second injection, a detector at its limit, a wall that holds some of the solute, a clock that is
off, flow and diffusivity beside. Wrong is a part named as if it were sure, and is another one.
"""

import re
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import TypeAlias

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from reference.measured import DUMMY, UNION, with_rows

from tailrace.scenario.measured import as_measured, measured_files
from tailrace.scenario.scenario import Scenario
from tailrace.signals.band import Band
from tailrace.studies.measured.bench import Setup, signals
from tailrace.studies.measured.diagnosing import diagnose
from tailrace.studies.measured.diagnosis import ELSE, NONE
from tailrace.studies.measured.faults import Fault, Reach, faults_of, reach_of, with_joints
from tailrace.studies.measured.inventing import Invention, csv_of, invented, width_of

Known: TypeAlias = tuple[Fault, Reach]
COUNT, BAR = 100, 0.95
LEAST, MOST = 1.05**2 - 1, 1.5
"""Change of the variance, in the measurement in which it is largest."""
PUMP = 2.0
"""How far a pump may be off, in either direction."""
BINS = (0.0, 0.5, 0.9, 0.99, 1.01)
"""Of stated probabilities."""


def instrument(
    random: np.random.Generator,
) -> tuple[str, dict[str, bytes], list[Setup], list[Known]]:
    """Text and files of an instrument with a union, its measurements, and what may be at fault."""
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
    return text, files, setups, known


def exercise(seed: int) -> tuple[Scenario, tuple[str, ...], str]:
    """The scenario as its owner believes it to be; parts and name of what is at fault."""
    random = np.random.default_rng([15, seed])
    text, files, setups, known = instrument(random)
    fault, reach = known[random.integers(len(known))]
    fits = (np.abs(reach.changes) >= LEAST) & (np.abs(reach.changes) <= MOST)
    if fault.name == "method.flow":  # a peak six times as wide is refused, and looks like a slip
        fits &= np.abs(np.log(reach.values / fault.nominal)) <= np.log(PUMP)
    low, high = reach.values[fits][[0, -1]]
    value = float("inf")
    while not (value < float("inf") and LEAST <= abs(reach.at(value)) <= MOST):
        value = float(np.exp(random.uniform(np.log(low), np.log(high))))
    truth = seed % 5 != 4
    where, values = ([fault.where], [value]) if truth else ([], [])
    bands = [setup.signals(where, [values]) for setup in setups]
    files = files | {f"m{k}.csv": one for k, one in enumerate(measured(bands, random, seed))}
    scenario = Scenario.from_text(text, files=files)
    return (scenario, fault.parts, fault.name) if truth else (scenario, (), "none")


def measured(
    bands: list[Band],
    random: np.random.Generator,
    seed: int,
    wander: float = 0.0,
    clock: float = 1.0,
) -> Iterator[bytes]:
    """Files of invented measurements; ``wander``: of the baseline, over the height; ``clock``: how
    much the times of the file are off."""
    ratio, drift = 100 * 20 ** random.random(), random.normal(0, 0.1)
    for k, band in enumerate(bands):
        how = Invention(
            signal_to_noise=ratio,
            drift=drift,
            interval=float(f"{width_of(band) / 12:.2g}"),
            delay=float(random.uniform(0.2, 2)),
            correlation=float(random.choice([0.0, 0.4])),
        )
        times, values = invented(band, how, [seed, k])
        turns = 2 * np.pi * (times - times[0]) / (6 * width_of(band))
        yield csv_of(times * clock, values + wander * how.height * np.sin(turns + seed))


def held_back(band: Band) -> Band:
    """A sixth of the solute comes off a wall late."""
    width = width_of(band)
    late = np.exp(-band.step[0] * np.arange(band.values.shape[1]) / (3 * width))
    more = np.convolve(band.values[0], late / late.sum())
    padded = np.pad(band.values[0], (0, more.size - band.values.shape[1]))
    return replace(band, values=(0.85 * padded + 0.15 * more)[None])


def twice(band: Band) -> Band:
    """A quarter is injected once more, two standard deviations later."""
    steps = int(2 * width_of(band) / band.step[0])
    first, second = np.pad(band.values[0], (0, steps)), np.pad(band.values[0], (steps, 0))
    return replace(band, values=(0.8 * first + 0.2 * second)[None])


def limited(band: Band) -> Band:
    """A detector that gives less than it should at height."""
    return replace(band, values=band.values / (1 + 0.2 * band.values / band.values.max()))


def mixed(tanks: int) -> Callable[[str], str]:
    """A mixer behind the tube to the column."""
    added = f'[[path]]\nname = "mixer"\npart = "chamber"\nvolume = "4 uL"\ntanks = {tanks}\n'
    place = '[[path]]\nname = "column"'
    return lambda text: text.replace(place, added + place)


def faster(text: str) -> str:
    """Flows 6 % above those that are set."""
    return re.sub(
        'flow = "([0-9.]+) mL', lambda one: f'flow = "{1.06 * float(one[1]):.5f} mL', text
    )


OFF: dict[str, tuple[dict[str, object], tuple[str, ...]]] = {
    "mixer": ({"text": mixed(1)}, ("gap_length",)),
    "two tanks": ({"text": mixed(2)}, ("gap_length",)),
    "wall": ({"band": held_back}, ()),
    "second injection": ({"band": twice}, ()),
    "detector at its limit": ({"band": limited}, ()),
    "wandering baseline": ({"wander": 0.03}, (NONE,)),
    # of flow and diffusivity together the page says that a clock looks the same
    "clock": (
        {"clock": 1.04},
        ("method.flow", "method.flow + solutes.marker.diffusivity"),
    ),
    "flow": ({"text": faster}, ("method.flow",)),
    "diffusivity": (
        {"text": lambda text: text.replace("1.0e-9 m^2/s", "1.3e-9 m^2/s")},
        (".diffusivity",),
    ),
}
"""What is done, and ends of the names of hypotheses that are the same thing."""


def off_list(count: int) -> int:
    """Print a row a case; 1 where a wrong part is named as if it were sure in more than 1 of 20."""
    wrong, cases = 0, 0
    for seed in range(count):
        for kind, (done, same) in OFF.items():
            random = np.random.default_rng([16, seed])
            text, files, _, _ = instrument(random)
            true = Scenario.from_text(done.get("text", str)(text), files=files)  # type: ignore[operator]
            bands = [signals([as_measured(true, one).itinerary()]) for one in measured_files(true)]
            bands = [done.get("band", lambda one: one)(one) for one in bands]  # type: ignore[operator]
            more = {key: done[key] for key in ("wander", "clock") if key in done}
            made = measured(bands, random, seed, **more)  # type: ignore[arg-type]
            found = diagnose(
                Scenario.from_text(text, files={f"m{k}.csv": one for k, one in enumerate(made)})
            )
            names = [one.name for one in found.alike]
            told = found.at_fault or ELSE in names or found.first.name == NONE
            sound = told or any(name.endswith(same) for name in names if same)
            wrong, cases = wrong + (not sound), cases + 1
            print(
                f"{seed:4d} {'sound' if sound else 'WRONG'} {kind:22s} {found.first.name:45s} "
                f"{found.first.probability:.3f} {'more than noise' if found.at_fault else ''}",
                flush=True,
            )
    print(f"{wrong} of {cases} name a wrong part as if it were sure")
    return int(wrong > 0.05 * cases)


def calibrated(said: list[tuple[float, bool]]) -> None:
    """Print how often the truth is among those that the page names, beside what it states."""
    for low, high in pairwise(BINS):
        rows = [one for one in said if low < one[0] <= high]
        if rows:
            stated, held = np.mean(np.array(rows, dtype=float), axis=0)
            print(f"stated {low:g} to {high:g}: {len(rows)} cases, {stated:.3f}, found {held:.3f}")


def main() -> int:
    """Print a row a case; 1 where a bar is missed."""
    given = [int(one) for one in sys.argv[1:] if one.isdigit()]
    if "--off-list" in sys.argv:
        return off_list(*given or [5])
    count, first = (*given, *(COUNT, 0)[len(given) :])
    right = {True: [], False: []}
    times, said = list[float](), list[tuple[float, bool]]()
    for seed in range(first, first + (count * 5 // 4 if count >= 8 else count)):
        scenario, parts, name = exercise(seed)
        begun = time.process_time()
        found = diagnose(scenario)
        times.append(time.process_time() - begun)
        alike = found.indistinguishable[0] if found.indistinguishable else ()
        held = name == found.first.name or (found.first.name in alike and name in alike)
        by_part = set(found.first.parts) == set(parts)
        right[bool(parts)].append(held or (bool(parts) and by_part))
        stated = sum(one.probability for one in found.alike)
        said.append((stated, name in [one.name for one in found.alike]))
        print(
            f"{seed:4d} {'right' if right[bool(parts)][-1] else 'WRONG'} {name:45s} "
            f"{found.first.name:45s} {found.first.probability:.3f} {len(alike)} "
            f"{stated:.4f} {'among them' if said[-1][1] else 'NOT among them'} {times[-1]:.1f} s",
            flush=True,
        )
    for truth, what in ((True, "faults"), (False, "none")):
        print(f"{what}: {np.mean(right[truth]):.1%} of {len(right[truth])} right")
    calibrated(said)
    print(f"processor time: {np.median(times):.1f} s, at most {max(times):.1f} s")
    return int(min(np.mean(one) for one in right.values()) < BAR)


if __name__ == "__main__":
    sys.exit(main())
