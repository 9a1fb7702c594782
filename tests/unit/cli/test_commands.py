"""The commands ``check`` and ``schema``, the help, and how errors become exit codes."""

import json
import subprocess
import sys

import pytest
from click.testing import CliRunner

from tailrace.cli import main
from tailrace.errors import AccuracyError, BudgetError

SCENARIO = """\
[method]
flow = "1 mL/min"
viscosity = "1 mPa*s"
[[solutes]]
name = "tracer"
diffusivity = "1e-9 m^2/s"
[injection]
shape = "plug"
volume = "5 uL"
[[path]]
name = "capillary"
part = "tube"
bore = "0.12 mm"
length = "0.5 m"
"""


@pytest.fixture
def scenario(tmp_path):
    path = tmp_path / "tracer.toml"
    path.write_text(SCENARIO)
    return path


def invoke(*words):
    return CliRunner().invoke(main, [str(word) for word in words])


def test_check_shows_path_and_assumptions(scenario):
    answer = invoke("check", scenario)
    assert (answer.exit_code, answer.stderr) == (0, "")
    lines = answer.stdout.splitlines()
    assert lines[0] == f'OK: {scenario}: "tracer", 1 solute'
    # pi/4 (0.12 mm)^2 x 0.5 m = 5.65487 uL; over 1 mL/min 0.339292 s.
    assert lines[4].split() == ["capillary", "tube", "5.65", "uL", "0.339", "s"]
    assert "  method: temperature 25 degC, none given" in lines
    assert any(line.startswith("  detector: none given") for line in lines)


def test_schema_is_json_of_the_stated_dialect():
    answer = invoke("schema")
    assert answer.exit_code == 0
    schema = json.loads(answer.stdout)
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert schema["additionalProperties"] is False
    assert set(schema["required"]) == {"method", "solutes", "injection", "path"}
    assert "null" not in answer.stdout
    mapping = schema["properties"]["path"]["items"]["discriminator"]["mapping"]
    assert set(mapping) == {"tube", "fitting", "chamber", "column", "cell", "tee"}


HEAVY = ("numba", "xarray", "matplotlib", "pint", "pandas", "h5py", "scipy", "numpy", "pydantic")


@pytest.mark.parametrize("words", ["--help", "--version", "check --help", "schema --help"])
def test_help_loads_nothing_heavy(words):
    program = (
        "import sys\nfrom tailrace.cli import main\n"
        f"main({words.split()!r}, prog_name='tailrace', standalone_mode=False)\n"
        f"sys.exit(' '.join(m for m in {HEAVY!r} if m in sys.modules) or 0)\n"
    )
    answer = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, timeout=60, check=False
    )
    assert answer.returncode == 0, answer.stderr
    assert "tailrace" in answer.stdout


def test_help_names_every_command():
    answer = invoke("--help")
    assert answer.exit_code == 0
    for name in ("run", "check", "schema"):
        assert f"\n  {name} " in answer.stdout


@pytest.mark.parametrize(
    ("raised", "code", "text"),
    [
        (BudgetError("too long a journey"), 2, "too long a journey"),
        (AccuracyError("not as accurate as asked"), 3, "not as accurate as asked"),
        (KeyboardInterrupt(), 130, "interrupted"),
    ],
)
def test_errors_become_exit_codes(raised, code, text, scenario, monkeypatch):
    def raising(path):
        raise raised

    monkeypatch.setattr("tailrace.scenario.scenario.Scenario.load", raising)
    answer = invoke("check", scenario)
    assert (answer.exit_code, answer.stdout, answer.stderr) == (code, "", text + "\n")


def test_a_command_that_is_none_is_refused_with_those_that_are():
    answer = invoke("chek")
    assert answer.exit_code == 2
    assert f"no command 'chek'; there are {', '.join(main.list_commands(None))}" in answer.stderr
