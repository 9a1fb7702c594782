"""Invented measurements of an instrument with a hidden fault, to learn and to test with."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from tailrace.parts import part_class
from tailrace.quantities.kinds import kind_named
from tailrace.scenario.changed import OF_THE_START
from tailrace.scenario.measured import as_measured, measured_files
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.target import target, value_at
from tailrace.scenario.toml import as_toml
from tailrace.studies.batch import PRODUCT
from tailrace.studies.measured.bench import signals
from tailrace.studies.measured.inventing import Invention, csv_of, invented, width_of

FLOWS = (0.5, 1.0, 2.0)
"""Of the measurements, over the method's."""
FAULTS = {
    "bore": (1.05, 1.25),
    "gap_length": (5.0, 12.0),
    "volume": (1.3, 2.0),
    "time_constant": (2.0, 4.0),
}
"""Fields that may be at fault, and between which factors."""
NO_FAULT = 0.2
"""Share of exercises in which nothing is wrong."""
POINTS = 12.0
"""To a standard deviation of the peak."""
RATIOS = 100.0, 1000.0
"""Of height to noise, least and greatest."""


@dataclass(frozen=True, kw_only=True)
class Practice:
    """One exercise.

    Parameters
    ----------
    text : str
        Of the scenario as its owner believes it to be, with ``[[measured]]``.
    files : dict of str to bytes
        The measurements, by the names in the text.
    field : str
        What is at fault; empty: nothing.
    factor : float, 1
        How many times as large it is as the scenario says.
    """

    text: str
    files: dict[str, bytes]
    field: str
    factor: float


def practice(scenario: Scenario, seed: int, name: str = "", engine: str = PRODUCT) -> Practice:
    """Make an exercise of a scenario; the same for the same seed. ``name``: before those of files;
    ``engine``: as of ``signals``.

    Without its columns, if it has some, three flows are measured for its first solute.

    Raises
    ------
    ScenarioError, BudgetError, AccuracyError
        Where the instrument cannot be simulated so.
    """
    random = np.random.default_rng(seed)
    field, factor = _fault(scenario, random)
    tables = {key: one for key, one in scenario.tables.items() if key not in OF_THE_START}
    columns = [one["name"] for one in tables["path"] if part_class(one["part"]).separates]
    flow = scenario.document.method.flow
    solute = scenario.document.solutes[0].name
    tables["title"] = f"{name or 'practice'}: {scenario.title}, invented measurements"
    tables["measured"] = [
        {
            "name": f"{share * flow * 60e6:.4g} mL/min",
            "file": f"{name}-flow-{at}.csv".removeprefix("-"),
            "solute": solute,
            "flow": f"{share * flow * 60e6!r} mL/min",
            "without": columns,
        }
        for at, share in enumerate(FLOWS, 1)
    ]
    text = as_toml(tables)
    files = dict.fromkeys([row["file"] for row in tables["measured"]], csv_of(*_dummy()))
    whole = scenario.files.contents() | files
    changed = Scenario.from_text(text, scenario.path.parent, files=whole)
    if field:
        place = target(changed.tables, field).place
        value = value_at(changed.document, place)
        assert value is not None
        unit = kind_named(target(changed.tables, field).kind).unit
        changed = changed.changed({field: f"{factor * value!r} {unit}"})
    for at, one in enumerate(measured_files(changed)):
        band = signals([as_measured(changed, one).itinerary()], engine=engine)
        deviation = width_of(band)
        how = Invention(
            signal_to_noise=float(np.exp(random.uniform(*np.log(RATIOS)))),
            delay=float(random.uniform(0.2, 2.0)),
            interval=float(f"{deviation / POINTS:.2g}"),
            height=float(random.uniform(20, 300)),
            drift=float(random.normal(0, 0.1)),
        )
        files[one.row.file] = csv_of(*invented(band, how, [seed, at]))
    return Practice(text=text, files=files, field=field, factor=factor)


def _fault(scenario: Scenario, random: np.random.Generator) -> tuple[str, float]:
    known = list(_candidates(scenario))
    if not known or random.random() < NO_FAULT:
        return "", 1.0
    field = known[random.integers(len(known))]
    return field, float(random.uniform(*FAULTS[field.rpartition(".")[2]]))


def _candidates(scenario: Scenario) -> Iterator[str]:
    """Fields that are given and may be at fault."""
    for one in scenario.tables["path"]:
        if not part_class(one["part"]).separates:
            yield from (f'"{one["name"]}".{key}' for key in FAULTS if key in one)
    recorder = scenario.tables.get("detector", {})
    if "time_constant" in recorder:
        yield "detector.time_constant"


def _dummy() -> tuple[Any, Any]:
    """A signal that stands for one that is still to be made."""
    times = np.arange(100) * 0.1
    return times, np.exp(-((times - 5) ** 2))
