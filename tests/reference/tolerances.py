"""A short tolerance study of full journeys, quick enough for tests."""

import tailrace
from tailrace.studies.tolerance import region, solve, widening

SCENARIO = """
title = "Two solutes on a short path"

[method]
flow = "0.5 mL/min"
temperature = "35 degC"
viscosity = "0.6 mPa*s"

[[solutes]]
name = "one"
retention_factor = 2.0
diffusivity = "1e-9 m^2/s"

[[solutes]]
name = "two"
retention_factor = 3.0
diffusivity = "1e-9 m^2/s"

[injection]
shape = "gaussian"
sigma = "0.3 s"

[[path]]
name = "filter"
part = "chamber"
volume = "3 uL"

[[path]]
name = "column"
part = "column"
bore = "2.1 mm"
length = "50 mm"
particle_diameter = "2.7 um"
plates = 9000

[[path]]
name = "cell"
part = "cell"
volume = "4 uL"

[numerics]
accuracy = 0.01
"""
UNCERTAIN = """
[[uncertain]]
field = "filter.volume"
distribution = "uniform"
half_width = "0.6 uL"
because = "drawing"

[[uncertain]]
field = "cell.volume"
distribution = "normal"
relative = 0.08

[[uncertain]]
field = "column.plates"
distribution = "normal"
relative = 0.04
kind = "measurement"
"""
ACCEPT = """
[[reading]]
measure = "plates"
solute = "one"
repeats = [9000, 9100, 9200]

[[accept]]
measure = "plates"
solute = "one"
at_least = 3000
probability = 0.8
confidence = 0.9

[[accept]]
measure = "tailing"
at_most = 1.29
probability = 0.7
confidence = 0.8
"""
FEW = {
    (solve, "BY_KIND"): 40,
    (solve, "WIDENING_SAMPLES"): 40,
    (widening, "FRESH_TIMES"): 1,
    (solve, "least_samples"): lambda *demand: 40,
    (region, "least_samples"): lambda *demand: 16,
    (region, "POINTS"): 3,
}


def loaded(folder, *rows):
    file = folder / "study.toml"
    file.write_text(SCENARIO + "".join(rows))
    return tailrace.load(file)
