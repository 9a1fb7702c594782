"""A made-up answer of the study of changes, small enough to be followed by hand.

Three changes take 60, 30 and 10 units off a variance of 200, of which the column has 100, so that
plates are 20 000 over the variance, times 100; a fourth change is forbidden by the method. The sum
of variances believes that the second takes off 70.
"""

import itertools
from pathlib import Path
from types import SimpleNamespace

import numpy as np

from tailrace.measures.registry import PLATES, VARIANCE, WIDTH
from tailrace.studies.improving.aims import Aim, Constraints
from tailrace.studies.improving.result import (
    Change,
    Combinations,
    Expectation,
    Expected,
    Improvement,
    Step,
)

NAN = float("nan")
OFF = np.array([60.0, 30.0, 10.0, 0.0])
THEORY_OFF = np.array([60.0, 70.0, 10.0, 0.0])
COST = np.array([900.0, 60.0, 0.0, 0.0])
EFFORT = np.array([1800.0, 1200.0, 300.0, 900.0])
NAMES = ("small flow cell", "narrow tubes", "faster detector", "connect without the heater")
CAUTION = "Lamp off before the cell is taken out."
HEATERS = ("column heater",)

SCENARIO = """\
title = "A made-up instrument"
[method]
flow = "0.6 mL/min"
eluent = { water = 0.25, acetonitrile = 0.75 }
[[solutes]]
name = "cohumulone"
retention_factor = 2.1
diffusivity = "1.2e-9 m^2/s"
[injection]
shape = "plug"
volume = "2 uL"
[[path]]
name = "tube to column"
part = "tube"
bore = "0.17 mm"
length = "300 mm"
[[path]]
name = "column heater"
part = "tube"
bore = "0.17 mm"
length = "130 mm"
[[path]]
name = "column"
part = "column"
bore = "2.1 mm"
length = "100 mm"
particle_diameter = "2.7 um"
particle = "core-shell"
plates = 17000
[[path]]
name = "flow cell"
part = "cell"
volume = "13 uL"
[detector]
time_constant = "0.2 s"
[[changes]]
name = "small flow cell"
cost = 900
effort = "30 min"
set = { "flow cell" = { volume = "2.5 uL" } }
[[changes]]
name = "narrow tubes"
cost = 60
effort = "20 min"
set = { "tube to column" = { bore = "0.12 mm" } }
[[changes]]
name = "faster detector"
cost = 0
effort = "5 min"
set = { detector = { time_constant = "0.02 s" } }
[[changes]]
name = "connect without the heater"
cost = 0
effort = "15 min"
remove = ["column heater"]
"""


def plates(variance):
    return 100 * 20_000 / variance


def combinations(count=4):
    """Every combination without the forbidden change."""
    taken = np.array(
        [[*row, False] for row in itertools.product((False, True), repeat=count - 1)], dtype=bool
    )
    rows = len(taken)
    pressure = 180e5 + 5e5 * taken[:, 1]
    return Combinations(
        taken=taken,
        value=plates(200 - taken @ OFF),
        error=np.full(rows, 2.0),
        of=np.array(["cohumulone"] * rows, dtype=object),
        ceiling=np.full(rows, 20_000.0),
        theory=plates(250 - taken @ THEORY_OFF),
        cost=taken @ COST,
        effort=taken @ EFFORT,
        pressure=pressure,
        cell_pressure=np.full(rows, 0.0),
        signal=1 - 0.3 * taken[:, 0],
        noise=1 + 1.0 * taken[:, 2],
        signal_to_noise=(1 - 0.3 * taken[:, 0]) / (1 + 1.0 * taken[:, 2]),
        cell_limit=np.full(rows, NAN),
        computed=np.ones(rows, dtype=bool),
        satisfied=np.ones(rows, dtype=bool),
        warnings=np.array([""] * rows, dtype=object),
        solutes=("cohumulone",),
        recorded={
            PLATES: plates(200 - taken @ OFF)[:, None],
            WIDTH: np.full((rows, 1), 2.0),
        },
        numerical_error={},
        column_alone={},
        signals={},
        textbook={VARIANCE: (250 - taken @ THEORY_OFF)[:, None]},
    )


def change(index, names, gains, caution=""):
    """One row of the table of changes; gains are alone, last, share, alone by theory."""
    forbidden, gains = index == 3, [float(gain) for gain in gains]
    return Change(
        name=names[index],
        cost=COST[index],
        effort=EFFORT[index],
        needs=(),
        excludes=(),
        caution=caution,
        heaters=HEATERS if forbidden else (),
        alone=gains[0],
        alone_error=2.8,
        last=gains[1],
        last_error=2.8,
        share=gains[2],
        share_error=0.0,
        theory_alone=gains[3],
        in_best=not forbidden,
        reason="forbidden" if forbidden else "",
    )


def steps(rows, order, names, caution):
    """The steps of one order."""
    result, at = [], np.zeros(len(names), dtype=bool)
    for number, index in enumerate((None, *order)):
        before = result[-1] if result else None
        at = at.copy()
        if index is not None:
            at[index] = True
        row = rows.row(at)
        result.append(
            Step(
                number=number,
                change="" if index is None else names[index],
                taken=() if before is None else (*before.taken, names[index]),
                combination=row,
                value=rows.value[row],
                error=2.0,
                of="cohumulone",
                gain=0.0 if before is None else rows.value[row] - before.value,
                gain_error=2.8,
                gain_low=NAN,
                gain_high=NAN,
                recovered=(rows.value[row] - 10_000) / 10_000,
                theory=rows.theory[row],
                theory_gain=0.0 if before is None else rows.theory[row] - before.theory,
                cost=0.0 if index is None else COST[index],
                effort=0.0 if index is None else EFFORT[index],
                total_cost=rows.cost[row],
                total_effort=rows.effort[row],
                pressure=rows.pressure[row],
                cell_pressure=0.0,
                signal=rows.signal[row],
                noise=rows.noise[row],
                signal_to_noise=rows.signal_to_noise[row],
                caution=caution if index == 0 else "",
            )
        )
    return tuple(result)


def scenario(text=SCENARIO):
    """As much of a scenario as showing needs."""
    return SimpleNamespace(
        title="A made-up instrument", sha256="a1b2c3", text=text, path=Path("made-up.toml")
    )


def expected():
    """Two metrics after each step."""
    rows = []
    for step, value in enumerate(plates(200 - np.array([0.0, 60.0, 90.0, 100.0]))):
        rows += [
            Expectation(
                step=step,
                of="cohumulone",
                metric=PLATES,
                unit="1",
                value=value,
                low=0.95 * value,
                high=1.05 * value,
            ),
            Expectation(
                step=step,
                of="",
                metric="pressure",
                unit="Pa",
                value=180e5,
                low=150e5,
                high=210e5,
            ),
        ]
    nothing = np.full(4, NAN)
    return Expected(rows=tuple(rows), samples=0, gain_low=nothing, gain_high=nothing)


def improvement(names=NAMES, caution=CAUTION, **other):
    """The whole answer; ``other`` replaces fields of it."""
    rows = combinations()
    order = (0, 1, 2)
    gains = [
        (4286, 7143, 6000, 3000),
        (1765, 2000, 2600, 3500),
        (526, 1818, 1400, 300),
        (NAN, NAN, NAN, NAN),
    ]
    fields = {
        "scenario": scenario(),
        "aim": Aim(key="plates", of="", metric=PLATES),
        "constraints": Constraints(pressure=400e5),
        "stop": 0.02,
        "order": "gain",
        "changes": tuple(
            change(k, names, gains[k], caution if k == 0 else "") for k in range(len(names))
        ),
        "combinations": rows,
        "best": 7,
        "whole": 7,
        "steps": steps(rows, order, names, caution),
        "swappable": (),
        "theory_order": (names[1], names[0], names[2]),
        "frontiers": {
            "cost": np.array([0, 1, 3, 7]),
            "effort": np.array([0, 1, 4, 7]),
            "pressure": np.array([5, 7]),
            "signal_to_noise": np.array([2, 6, 7]),
        },
        "stop_after": 3,
        "outcome": "worth it",
    }
    return Improvement(**(fields | other))
