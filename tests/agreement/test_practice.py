"""Exercises with a hidden fault: made alike from a seed, and found by compare and fit."""

import pytest
from click.testing import CliRunner
from reference.measured import UNION

import tailrace
from tailrace.cli import main
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.target import target, value_at
from tailrace.studies.measured.fitting import fit
from tailrace.studies.measured.practising import practice
from tailrace.studies.measured.protocol import plan

SEEDS = range(8)


def exercise(seed):
    made = practice(Scenario.from_text(UNION), seed)
    return made, Scenario.from_text(made.text, files=made.files)


def test_the_same_seed_is_the_same_exercise_and_some_have_no_fault():
    assert practice(Scenario.from_text(UNION), 3) == practice(Scenario.from_text(UNION), 3)
    fields = {practice(Scenario.from_text(UNION), seed).field for seed in range(20)}
    assert "" in fields
    assert len(fields) > 3


def test_faults_are_seen_and_their_size_is_found():
    seen = 0
    for seed in SEEDS:
        made, scenario = exercise(seed)
        if not made.field:
            assert tailrace.compare(scenario).agrees
            continue
        found = fit(scenario, [made.field]).free[0]
        place = target(scenario.tables, made.field).place
        truth = made.factor * value_at(scenario.document, place)
        assert abs(found.value - truth) < 4 * found.standard_uncertainty, made.field
        seen += not tailrace.compare(scenario).agrees
    assert seen >= 4


def test_the_command_writes_an_exercise(tmp_path):
    file, out = tmp_path / "s.toml", tmp_path / "out"
    file.write_text(UNION)
    done = CliRunner().invoke(main, ["practice", str(file), "--out", str(out), "--seed", "2"])
    assert done.exit_code == 0, done.output
    assert len(tailrace.load(out / "practice.toml").document.measured) == 3
    assert (out / "answer.txt").read_text().endswith("scenario says.\n")


GRADIENT = """
[gradient]
dwell_volume = "200 uL"
programme = [{ time = "0 min", strong = 0.1 }, { time = "5 min", strong = 0.9 }]
"""
RETAINED = {
    "gradient": ("kw = 500\ns = 4", "", GRADIENT),
    "factor": ("retention_factor = 3\nsample_retention_factor = 9", "", ""),
    "composition": ("retention_factor = 3\nkw = 500\ns = 4", "strong = 0.1\n", ""),
}


@pytest.mark.parametrize("name", list(RETAINED))
def test_what_a_gradient_or_the_samples_solvent_says_goes_with_the_column(name):
    solute, sample, more = RETAINED[name]
    text = UNION.replace("retention_factor = 1.0", solute) + more
    text = text.replace('shape = "plug"', f'shape = "plug"\n{sample}')
    loaded = Scenario.from_text(text)
    made = practice(loaded, 3)
    tailrace.compare(Scenario.from_text(made.text, files=made.files))
    rows = plan(loaded).rows
    assert rows
    assert all("column" in row["without"] for row in rows)


def test_a_scenario_that_is_not_sound_leaves_no_folder(tmp_path):
    file, out = tmp_path / "s.toml", tmp_path / "out"
    file.write_text(UNION.replace("mm", "furlong"))
    assert CliRunner().invoke(main, ["practice", str(file), "--out", str(out)]).exit_code == 2
    assert not out.exists()
