"""Mutated scenarios and random instruments: an answer or a sentence, no metric outside its meaning.

    python benchmarks/mutations.py [--mutated 3000] [--random 1000] [--first 0] [--seconds 600]

Every case runs in this process, which may take 2 GB; one that takes over 10 s of processor time has
to have said so before half of it. Mean, variance and skewness of each random instrument are held
against the cumulants of the product of its parts' transfer functions (``tests/reference``), within
twice the discretisation error that is stated with them. Printed is each case that fails, with what
is wrong and its scenario, and how long the slowest took; the exit code is 1 where one fails.
``--first`` is the first case's number (and seed) and ``--seconds`` ends early, so that it can go in
pieces.
"""

import argparse
import copy
import random
import resource
import sys
import time
import tomllib
import traceback
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from closed_form import known, si

from tailrace.cli.run import _Watch
from tailrace.errors import TailraceError
from tailrace.journey import travel
from tailrace.journey.foretelling import march_seconds
from tailrace.journey.propagation import spread
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.toml import as_toml

ROOT = Path(__file__).parents[1]
MEMORY = 2 << 30
SLOW = 10.0
FACTORS = (0.0, -1.0, 0.1, 0.5, 2.0, 10.0, 100.0, 1000.0)
POSITIVE = ("tailing_5", "asymmetry_10", "width_half", "variance", "plates_half_height")


def documents():
    """The shipped scenarios as tables, with the folders of their files."""
    files = sorted((ROOT / "scenarios").rglob("*.toml"))
    return [(tomllib.loads(one.read_text("utf-8")), one.parent) for one in files]


def leaves(value, way=()):
    """Every value of a document with the keys that lead to it."""
    inner = value.items() if isinstance(value, dict) else enumerate(value)
    for key, one in inner:
        if isinstance(one, dict | list) and one:
            yield from leaves(one, (*way, key))
        else:
            yield (*way, key), one


def mutated(draw, sources):
    """A shipped scenario with one to four values changed, taken away or exchanged."""
    document, folder = draw.choice(sources)
    document = copy.deepcopy(document)
    for _ in range(draw.randint(1, 4)):
        ways = list(leaves(document))
        way, value = draw.choice(ways)
        holder = document
        for step in way[:-1]:
            holder = holder[step]
        doing = draw.random()
        if doing < 0.15:
            del holder[way[-1]]
        elif doing < 0.3:
            holder[way[-1]] = draw.choice(ways)[1]
        elif isinstance(value, str) and value[:1].isdigit() and " " in value:
            number, _, unit = value.partition(" ")
            holder[way[-1]] = f"{float(number) * draw.choice(FACTORS):.6g} {unit}"
        elif isinstance(value, int | float) and not isinstance(value, bool):
            holder[way[-1]] = value * draw.choice(FACTORS)
        else:
            holder[way[-1]] = draw.choice([True, "", "tube", 3, "1 mm", [], {}])
    return document, folder


def instrument(draw, wide=False):
    """A random instrument: of dimensions twice as far apart as usual, or as a file may hold."""

    def size(low, high, usual_low=None, usual_high=None):
        if usual_low and not wide:
            low, high = usual_low, usual_high
        return float(np.exp(draw.uniform(np.log(low), np.log(high))))

    path = [
        {
            "name": f"tube {at}",
            "part": "tube",
            "bore": f"{size(0.02, 1, 0.06, 0.5):.5g} mm",
            "length": f"{size(1, 3000, 20, 1000):.5g} mm",
        }
        for at in range(draw.randint(1, 3))
    ]
    if draw.random() < 0.5:
        held = f"{size(0.05, 500, 0.5, 50):.5g} uL"
        path.append({"name": "mixer", "part": "chamber", "volume": held,
                     "tanks": draw.choice([1, 2, 2.5, 10])})  # fmt: skip
    if draw.random() < 0.5:
        path.append({"name": "joint", "part": "fitting", "gap_bore": f"{size(0.1, 2):.4g} mm",
                     "gap_length": f"{size(0.01, 2):.4g} mm",
                     "unswept": draw.choice([0, 0.3])})  # fmt: skip
    if draw.random() < 0.6:
        path.append({"name": "column", "part": "column", "bore": f"{size(0.3, 5):.4g} mm",
                     "length": f"{size(10, 300):.4g} mm", "plates": round(size(300, 3e4)),
                     "porosity": 0.5, "particle_diameter": f"{size(1.5, 10):.3g} um"})  # fmt: skip
    draw.shuffle(path)
    path.append({"name": "cell", "part": "cell", "volume": f"{size(0.01, 50, 0.3, 30):.4g} uL"})
    shape = draw.choice(["plug", "washout", "gaussian"])
    injection = {"shape": shape, "volume": f"{size(0.05, 300, 0.3, 50):.4g} uL"}
    if shape == "gaussian":
        injection = {"shape": shape, "sigma": f"{size(0.01, 10, 0.05, 5):.4g} s"}
    if shape == "washout":
        injection["washout_volume"] = f"{size(0.05, 50, 0.5, 20):.4g} uL"
    solutes = [
        {"name": f"s{at}", "retention_factor": draw.choice([0.0, size(0.1, 30)]),
         "diffusivity": f"{size(1e-11, 5e-9, 2e-10, 5e-9):.4g} m^2/s"}
        for at in range(draw.randint(1, 3 if wide else 1))
    ]  # fmt: skip
    detector = {"time_constant": f"{draw.choice([0, size(0.01, 2, 0.05, 1)]):.4g} s"}
    if draw.random() < 0.4:
        interval = f"{size(0.005, 2, 0.005, 0.1):.4g} s"
        detector |= {"interval": interval, "averaged": draw.random() < 0.5}
    flow = f"{size(0.02, 3, 0.1, 2):.4g} mL/min"
    method = {"flow": flow, "viscosity": "0.6 mPa*s", "bend_radius": "straight"}
    return {"method": method, "solutes": solutes, "injection": injection, "path": path,
            "detector": detector}, ROOT  # fmt: skip


def wrong_with(result):
    """What is outside its meaning; empty where nothing is."""
    for name in POSITIVE:
        values = np.asarray(result.recorded[name], dtype=float)
        errors = np.asarray(result.numerical_error[name], dtype=float)
        told = np.isfinite(values) & (np.nan_to_num(errors) < np.abs(values))
        if np.any(values[told] < 0):
            return f"{name} below zero: {values}"
    for part in result.parts:
        added = np.asarray(part.variance_simulated, dtype=float)
        if part.kind == "detector" and np.any(added < -1e-6 * result.recorded["variance"]):
            return f"variance of the detector below zero: {added}"
    recovered = np.asarray(result.recorded["amount_recovered"], dtype=float)
    if np.any(recovered > 1.001):
        return f"more recovered than injected: {recovered}"
    return ""


@dataclass
class Held:
    """How a random instrument stands beside closed form: figures held, and beyond the estimate."""

    figures: int = 0
    beyond: int = 0
    worst: float = 0.0


HELD = ("mean", "variance", "skewness")
POINTS_PER_WIDTH = 10
"""With fewer points the figures hang on where they fall, and ``run`` says so."""


def beside_closed_form(result, document, held):
    """What is further from closed form than may be; empty where nothing is."""
    interval = document["detector"].get("interval")
    for lane, solute in enumerate(document["solutes"]):
        width = float(result.recorded["width_half"][lane])
        if interval and not si(interval) < width / POINTS_PER_WIDTH:
            continue
        truth, unsure = known(document, solute)
        for name, true, off in zip(HELD, truth, unsure, strict=True):
            found = float(result.recorded[name][lane])
            stated = float(result.numerical_error[name][lane])
            beside = 3 * off + 1e-6 * (width if name == "mean" else max(abs(true), 1e-3))
            over = (abs(found - true) - beside) / stated
            held.figures += 1
            held.beyond += over > 1
            held.worst = max(held.worst, over)
            if over > 2:
                return (
                    f"{solute['name']}: {name} {found:.9g} ± {stated:.2g}, closed form {true:.9g}"
                )
    return ""


class Telling(_Watch):
    """What ``run`` would say of how long it takes, and after how many s of processor time."""

    def __init__(self, itinerary):
        self.begun, self.told = time.process_time(), ""
        super().__init__([part.finer for part, _ in itinerary.passages])
        passages = spread(itinerary)
        self.begin(0.0, march_seconds(passages, itinerary.resolution))

    def _say(self, text):
        took = time.process_time() - self.begun
        self.told = self.told or f"after {took:.1f} s: {text}"
        self.at = took


def tried(document, folder, held=None):
    """What is wrong with a case, empty where nothing is; and what was said of its time."""
    watch = None
    try:
        itinerary = Scenario.from_tables(document, folder).itinerary()
        watch = Telling(itinerary)
        result = travel(itinerary, watch)
    except TailraceError as error:
        return ("" if str(error).strip() else "refused without a sentence"), watch
    except MemoryError:
        return "more than 2 GB", watch
    except Exception:
        return traceback.format_exc(limit=-3), watch
    wrong = wrong_with(result)
    return wrong or (beside_closed_form(result, document, held) if held else ""), watch


def main():
    asked = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    for name, usual in (("mutated", 3000), ("random", 1000), ("first", 0), ("seconds", 1e9)):
        asked.add_argument(f"--{name}", type=type(usual), default=usual)
    asked.add_argument("--wide", action="store_true", help="random instruments of any dimensions")
    asked = asked.parse_args()
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY + (6 << 30), MEMORY + (6 << 30)))
    sources, begin = documents(), time.perf_counter()
    failed, done, slowest, held = 0, 0, 0.0, Held()
    for number in range(asked.first, asked.first + asked.mutated + asked.random):
        if time.perf_counter() - begin > asked.seconds:
            break
        draw = random.Random(number)
        kind = "mutated" if number < asked.first + asked.mutated else "random"
        document, folder = (
            mutated(draw, sources) if kind == "mutated" else instrument(draw, asked.wide)
        )
        start = time.process_time()
        wrong, watch = tried(document, folder, held if kind == "random" else None)
        took = time.process_time() - start
        done, slowest = done + 1, max(slowest, took)
        if took > SLOW and watch is not None and not wrong:
            if not watch.told or watch.at > took / 2:
                wrong = f"{took:.0f} s of processor time, and not foretold: {watch.told}"
            else:
                print(f"{kind} {number}: {took:.0f} s of processor time; {watch.told}", flush=True)
        if wrong:
            failed += 1
            print(f"{kind} {number}: {wrong}\n{as_toml(document)}\n", flush=True)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024**2
    print(
        f"{done} cases from {asked.first} on, {failed} failed; slowest {slowest:.1f} s; "
        f"peak {peak:.2f} GB; {time.perf_counter() - begin:.0f} s"
    )
    print(
        f"{held.figures} figures held against closed form, {held.beyond} beyond the stated error; "
        f"the worst {held.worst:.2f} times"
    )
    return 1 if failed or peak > 2 else 0


if __name__ == "__main__":
    sys.exit(main())
