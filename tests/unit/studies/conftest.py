"""A short path with every kind of part, so that a case takes little time."""

import pytest

import tailrace

SCENARIO = """
title = "A short path"

[method]
flow = "0.60 mL/min"
temperature = "35 degC"
eluent = { water = 0.25, acetonitrile = 0.75 }

[[solutes]]
name = "early"
retention_factor = 1.0
diffusivity = "1.1e-9 m^2/s"

[[solutes]]
name = "late"
retention_factor = 3.0
molar_volume = "180 cm^3/mol"

[injection]
shape = "plug"
volume = "2 uL"

[[path]]
name = "inlet tube"
part = "tube"
bore = "0.17 mm"
length = "100 mm"

[[path]]
name = "late"
part = "column"
bore = "2.1 mm"
length = "30 mm"
particle_diameter = "2.7 um"

[[path]]
name = "cell"
part = "cell"
volume = "5 uL"
pressure_limit = "60 bar"

[detector]
time_constant = "0.1 s"
interval = "50 ms"

[limits]
pressure = "200 bar"

[[changes]]
name = "no column"
remove = ["late"]
"""


@pytest.fixture
def text():
    """Text of the scenario; a part and a solute are both called late."""
    return SCENARIO


@pytest.fixture
def path(tmp_path):
    """The scenario as a file."""
    file = tmp_path / "short.toml"
    file.write_text(SCENARIO)
    return file


@pytest.fixture
def scenario(path):
    """The scenario, loaded."""
    return tailrace.load(path)
