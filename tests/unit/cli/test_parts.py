"""The command ``parts``, and what ``check`` and ``run`` note of unusual values."""

import json
import tomllib

import pytest
from click.testing import CliRunner
from reference.tree import ROOT

from tailrace.cli import main
from tailrace.parts.usual import USUAL
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.unusual import unusual

HEAD = """\
[method]
flow = "0.4 mL/min"
viscosity = "0.5 mPa*s"
[[solutes]]
name = "one"
retention_factor = 2
diffusivity = "1e-9 m^2/s"
[injection]
shape = "plug"
volume = "1 uL"
"""


def invoke(*words):
    return CliRunner().invoke(main, list(words))


@pytest.mark.parametrize("name", [one.name for one in USUAL])
def test_each_part_of_the_list_is_a_sound_table_and_usual(name):
    answer = invoke("parts", name)
    assert answer.exit_code == 0
    assert tomllib.loads(answer.stdout)["path"][0]["name"] == name
    assert unusual(Scenario.from_text(HEAD + answer.stdout)) == []


def test_a_path_is_written_by_the_names_of_its_parts():
    names = ("valve", "Capillary", "guard column", "column", "capillary", "cell")
    answer = invoke("parts", *names)
    assert answer.exit_code == 0
    read = Scenario.from_text(HEAD + answer.stdout)
    assert [one.name for one in read.document.path] == [
        "valve",
        "capillary",
        "guard column",
        "column",
        "capillary 2",
        "cell",
    ]
    assert unusual(read) == []


def test_the_list_names_what_instruments_have():
    answer = invoke("parts").stdout
    for name in ("needle seat", "valve", "loop", "capillary", "union", "guard column", "cell"):
        assert f"\n{name} " in answer
    assert "no source" in answer


def test_another_name_is_refused():
    answer = invoke("parts", "capilary")
    assert answer.exit_code == 2
    assert 'write "capillary"' in answer.stderr
    strange = invoke("parts", "xyzzy").stderr
    assert "…" not in strange
    assert all(one.name in " ".join(strange.split()) for one in USUAL)


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("six-port valve", "chamber"),
        ("waste line", "tube"),
        ("guard", "column"),
        ("peak parking loop", "tube"),
        ("tube to the column", "tube"),
        ("column inlet connection", "fitting"),
        ("outlet frit", "chamber"),
        ("column heater", "tube"),
    ],
)
def test_names_of_the_trade_are_written_as_what_they_are(name, kind):
    (part,) = tomllib.loads(invoke("parts", name).stdout)["path"]
    assert (part["name"], part["part"]) == (name, kind)


@pytest.mark.parametrize(
    ("name", "said"),
    [("autosampler", '"needle seat"'), ("column oven", "[method]"), ("pump", "no peak")],
)
def test_what_is_no_single_part_is_answered(name, said):
    answer = invoke("parts", name)
    assert answer.exit_code == 2
    assert said in " ".join(answer.stderr.split())


def test_columns_are_filled_in_and_a_loop_says_where_an_injected_one_stands():
    (guard,) = tomllib.loads(invoke("parts", "guard column").stdout)["path"]
    assert {"particle", "plates", "particle_diameter"} <= set(guard)
    assert 'shape = "loop"' in invoke("parts", "loop").stdout


def test_check_and_run_note_a_cell_of_millilitres(tmp_path, monkeypatch):
    path = tmp_path / "one.toml"
    cell = '[[path]]\nname = "cell"\npart = "cell"\nvolume = "1.3 mL"\n'
    path.write_text(HEAD + cell)
    text = "cell: volume 1.3 mL lies outside what is usual"
    assert text in " ".join(invoke("check", str(path)).stdout.split())
    assert text in " ".join(invoke("run", str(path)).stdout.split())
    monkeypatch.setattr("tailrace.signals.response.MOST_SAMPLES", 1000)
    assert text in invoke("run", str(path)).stderr, "where it cannot be computed"
    monkeypatch.undo()
    path.write_text(HEAD + cell.replace("1.3 mL", "130 uL"))
    assert "cell: volume 130 uL lies" in " ".join(invoke("run", str(path)).stdout.split())
    (line,) = json.loads(invoke("run", str(path), "--json").stdout)["unusual"]
    assert line.startswith("cell: volume 130 uL")


@pytest.mark.parametrize("path", sorted(ROOT.glob("scenarios/**/*.toml")), ids=lambda one: one.stem)
def test_no_shipped_scenario_is_unusual(path):
    assert unusual(Scenario.load(path)) == []
