"""Scenarios with measured signals that were invented from a known truth."""

import tomllib
from functools import cache

import numpy as np

from reference.signals import as_text
from tailrace.scenario.measured import as_measured, measured_files
from tailrace.scenario.scenario import Scenario
from tailrace.studies.measured.bench import signals
from tailrace.studies.measured.inventing import Invention, invented

UNION = """
title = "Union"
[method]
flow = "0.5 mL/min"
viscosity = "0.9 mPa*s"
[[solutes]]
name = "marker"
diffusivity = "1.0e-9 m^2/s"
retention_factor = 1.0
[injection]
shape = "plug"
volume = "1 uL"
[[path]]
name = "tube to column"
part = "tube"
bore = "0.12 mm"
length = "400 mm"
[[path]]
name = "column"
part = "column"
bore = "2.1 mm"
length = "50 mm"
particle_diameter = "1.7 um"
plates = 12000
[[path]]
name = "tube to cell"
part = "tube"
bore = "0.12 mm"
length = "300 mm"
[[path]]
name = "flow cell"
part = "cell"
volume = "2.4 uL"
[detector]
time_constant = "0.05 s"
rate = "20 Hz"
"""
SMALL = """
title = "Tube and cell"
[method]
flow = "0.5 mL/min"
viscosity = "0.9 mPa*s"
[[solutes]]
name = "marker"
diffusivity = "1.0e-9 m^2/s"
retention_factor = 1.0
[injection]
shape = "washout"
volume = "1 uL"
washout_volume = "0.1 uL"
[[path]]
name = "tube"
part = "tube"
bore = "0.12 mm"
length = "400 mm"
bends = [ { length = "400 mm", radius = "straight" } ]
[[path]]
name = "joint before"
part = "fitting"
gap_bore = "1.6 mm"
gap_length = "0.05 mm"
[[path]]
name = "column"
part = "column"
bore = "2.1 mm"
length = "50 mm"
particle_diameter = "1.7 um"
[[path]]
name = "joint behind"
part = "fitting"
gap_bore = "1.6 mm"
gap_length = "0.05 mm"
[[path]]
name = "flow cell"
part = "cell"
volume = "2.4 uL"
"""
ROW = '[[measured]]\nname = "{name}"\nfile = "{name}.csv"\nwithout = ["column"]\n'
DUMMY_TIMES = np.arange(0, 30, 0.05)
DUMMY = as_text(DUMMY_TIMES, np.exp(-((DUMMY_TIMES - 10) ** 2))).encode()


def with_rows(*rows, head=UNION):
    """The text of the scenario with measured rows: (name, further lines)."""
    return head + "".join(ROW.format(name=name) + more + "\n" for name, more in rows)


@cache
def bands(text, **truth):
    """What each measurement of a scenario would record, the truth laid upon it."""
    rows = tomllib.loads(text)["measured"]
    scenario = Scenario.from_text(text, files={row["file"]: DUMMY for row in rows})
    if truth:
        scenario = scenario.changed({key.replace("__", "."): one for key, one in truth.items()})
    return [signals([as_measured(scenario, one).itinerary()]) for one in measured_files(scenario)]


def measured_scenario(text, how, seed, **truth):
    """The scenario with files that were invented from the truth; ``how`` of each row or of all."""
    rows = tomllib.loads(text)["measured"]
    files = {}
    for at, (row, band) in enumerate(zip(rows, bands(text, **truth), strict=True)):
        one = how[at] if isinstance(how, list) else how
        assert isinstance(one, Invention)
        files[row["file"]] = as_text(*invented(band, one, [seed, at])).encode()
    return Scenario.from_text(text, files=files)
