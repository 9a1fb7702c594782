"""Steps that were made: each is judged by what was measured, and the rest is planned from there."""

import json

import pytest
from click.testing import CliRunner
from reference.measured import SMALL, measured_scenario

import tailrace
from tailrace.cli import main
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.target import StudyError
from tailrace.studies.measured.fitting import fit
from tailrace.studies.measured.following import answer, plan
from tailrace.studies.measured.inventing import Invention

CHANGES = """
[[changes]]
name = "small cell"
set = { "flow cell" = { volume = "1 uL" } }
[[changes]]
name = "narrow tube"
set = { tube = { bore = "0.08 mm" } }
[[changes]]
name = "other tube"
set = { tube = { bore = "0.1 mm" } }
excludes = ["narrow tube"]
[[changes]]
name = "no tube"
remove = ["tube"]
needs = ["other tube"]
[[uncertain]]
field = "tube.bore"
distribution = "uniform"
relative = 0.06
[[uncertain]]
field = "flow cell.volume"
distribution = "normal"
relative = 0.05
"""
ROW = '[[measured]]\nname = "{}"\nfile = "{}.csv"\nwithout = ["column"]\nchanges = {}\n'
START, ONE, TWO = (
    ROW.format(f"step {k}", f"step-{k}", json.dumps(["small cell", "narrow tube"][:k]))
    for k in range(3)
)
HOW = Invention(interval=0.05, signal_to_noise=500)
BORE = 0.1214e-3


def made(rows, **other):
    """The tube is a little wider than the file says, within its tolerance; ``other``: texts that
    stand otherwise in truth."""
    text = SMALL + CHANGES + rows
    truth = text.replace('bore = "0.12 mm"', f'bore = "{BORE} m"', 1)
    for old, new in other.values():
        truth = truth.replace(old, new)
    files = measured_scenario(truth, HOW, 5).files.contents()
    return Scenario.from_text(text, files=files)


def test_each_step_is_judged_and_the_instrument_is_known_better():
    scenario = made(START + ONE)
    study = answer(plan(scenario))
    assert [one.verdict for one in study.steps] == ["brought", "brought"]
    assert not study.found and study.left == ("narrow tube", "other tube", "no tube")
    now = study.now
    # what the start said of the tube holds; the new cell is known as the file says, then measured
    assert now.document.path[0].bore == pytest.approx(BORE, rel=3e-3)
    assert now.document.path[-1].volume == pytest.approx(1e-9, rel=0.05)
    rows = {row.field: row.standard_deviation for row in now.document.uncertain}
    assert 0 < float(rows["tube.bore"].split()[0]) < 0.06 * 0.12 / 3**0.5 / 2
    assert not now.document.measured
    # as both signals fitted together say
    text = scenario.text.replace('volume = "2.4 uL"', 'volume = "1 uL"')
    only = text[: text.index(START)] + ONE.replace('["small cell"]', "[]")
    alone = fit(Scenario.from_text(only, files=scenario.files.contents()), ["tube.bore"])
    assert float(rows["tube.bore"].split()[0]) * 1e-3 < alone.free[0].standard_uncertainty


WRONG = {"cell": ('{ volume = "1 uL" }', '{ volume = "1.6 uL" }')}
"""The new cell is not the one that was meant."""


def test_a_step_that_did_not_bring_what_it_should_names_what_to_look_for():
    study = answer(plan(made(ONE, **WRONG)))
    (step,) = study.steps
    assert step.verdict == "did not" and step.changes == ("small cell",)
    assert study.of(step)[0].fields == ("flow cell.volume",)
    now = study.now
    assert now.document.path[-1].volume == pytest.approx(1.6e-9, rel=0.15)
    assert {row.field for row in now.document.uncertain} == {"tube.bore", "flow cell.volume"}
    # both are known together better than singly
    assert now.document.correlated[0].coefficient < -0.3


def test_the_command_takes_steps_back(tmp_path):
    scenario = made(START + ONE, **WRONG)
    file, out = tmp_path / "s.toml", tmp_path / "out"
    file.write_text(scenario.text)
    for name, content in scenario.files.contents().items():
        (tmp_path / name).write_bytes(content)
    asked = ["improve", str(file), "--measured", "--json", "--out", str(out)]
    done = CliRunner().invoke(main, asked)
    assert done.exit_code == 0, done.output
    told = json.loads(done.stdout)
    one, other = told["made"]["steps"]
    assert (one["verdict"], other["verdict"]) == ("brought", "did not")
    assert other["look_for"][0]["fields"] == ["flow cell.volume"]
    assert other["look_for"][0]["values"][0] == pytest.approx(1.6e-9, rel=0.1)
    assert "Look for volume of flow cell" in other["sentence"]
    # planned anew from the instrument as it is
    assert tailrace.load(out / "now.toml").document.path[-1].volume == pytest.approx(
        1.6e-9, rel=0.1
    )
    assert {one["name"] for one in told["changes"]} == {"narrow tube", "other tube", "no tube"}
    assert told["start"] == pytest.approx(
        tailrace.improve(tailrace.load(out / "now.toml")).start, rel=1e-9
    )
    assert tailrace.read(out / "steps.h5").steps[1].verdict == "did not"
    assert "did not bring" in (out / "steps.html").read_text("utf-8")
    # the new plan can be followed, too: its rows wait for their files
    sheet = (out / "measured.toml").read_text("utf-8")
    assert not tailrace.load(out / "measured.toml").document.measured
    rows = sheet[sheet.index("# [[measured]]") :].replace("# ", "")
    assert rows.count("[[measured]]") == len(told["steps"])


def test_what_cannot_be_followed_is_refused():
    apart = ROW.format("b", "step-1", '["narrow tube"]')
    file = made(START).files.contents()["step-0.csv"]
    for rows, said in (("", "found no"), (ONE + apart, "without small cell")):
        scenario = Scenario.from_text(
            SMALL + CHANGES + rows, files={f"step-{k}.csv": file for k in range(3)}
        )
        with pytest.raises(StudyError, match=said):
            plan(scenario)
