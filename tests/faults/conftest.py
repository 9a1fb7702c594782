"""A sound scenario to break, and the commands' answer to a broken one."""

import pytest
from click.testing import CliRunner

from tailrace.cli import main

SOUND = """\
title = "Two solutes"

[method]
flow = "0.60 mL/min"
temperature = "35 degC"
eluent = { water = 0.25, acetonitrile = 0.75 }

[[solutes]]
name = "first"
retention_factor = 2.1
diffusivity = "1.1e-9 m^2/s"

[[solutes]]
name = "second"
retention_factor = 4.0
molar_volume = "180 cm^3/mol"

[injection]
shape = "plug"
volume = "2 uL"

[[path]]
name = "needle seat"
part = "tube"
bore = "0.17 mm"
length = "100 mm"

[[path]]
name = "joint"
part = "fitting"
gap_bore = "1.0 mm"
gap_length = "0.1 mm"

[[path]]
name = "column"
part = "column"
bore = "2.1 mm"
length = "150 mm"
particle_diameter = "2.7 um"
particle = "core-shell"

[[path]]
name = "flow cell"
part = "cell"
volume = "13 uL"
tanks = 2

[detector]
time_constant = "0.5 s"
interval = "50 ms"

[limits]
pressure = "400 bar"

[[changes]]
name = "small cell"
cost = 900
effort = "20 min"
set = { "flow cell" = { volume = "2.5 uL" } }
"""


@pytest.fixture
def sound():
    """Text of a scenario without fault."""
    return SOUND


@pytest.fixture
def broken():
    """Function of (old, new): the sound scenario with one piece of text replaced."""

    def replaced(old, new):
        assert SOUND.count(old) == 1, f"{old!r} must stand once in the sound scenario"
        return SOUND.replace(old, new)

    return replaced


@pytest.fixture
def refusal(tmp_path):
    """Function of a text or bytes: writes the file, checks it, returns the lines of the refusal."""

    def lines(content, command="check"):
        path = tmp_path / "case.toml"
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        answer = CliRunner().invoke(main, [command, str(path)])
        assert answer.exit_code == 2, answer.output
        assert answer.stdout == ""
        assert "Traceback" not in answer.stderr
        return [line.removeprefix(f"{tmp_path}/") for line in answer.stderr.splitlines()]

    return lines
