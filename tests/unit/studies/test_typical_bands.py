"""Without stated uncertainty bands rest on typical tolerances that are said; else there is none."""

import numpy as np
import pytest
from click.testing import CliRunner
from reference.improving import CELL, START

from tailrace.cli import main
from tailrace.measures.registry import APEX, PLATES
from tailrace.parts.usual import TOLERANCES
from tailrace.records.provenance import provenance_of
from tailrace.records.record import as_result, tree_of
from tailrace.report.improvement.sentences import basis, basis_line
from tailrace.report.improvement.sheet import as_sheet
from tailrace.scenario.inputs import inputs_of
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.typical import with_typical
from tailrace.studies.improving.planning import planned
from tailrace.studies.improving.solve import answer
from tailrace.studies.runner import Runner

NOT_THERE = "none can be given"


@pytest.fixture(scope="module")
def plain():
    return answer(planned(Scenario.from_text(START + CELL)))


@pytest.fixture(scope="module")
def typical():
    return answer(planned(Scenario.from_text(START + CELL)), ranges="typical")


def test_each_value_that_the_file_gives_is_spread_as_the_table_says():
    scenario = Scenario.from_text(START.replace('name = "joint"', "name = 'a \"joint\"'"))
    found = {one.name: one for one in inputs_of(with_typical(scenario))}
    assert set(found) == {
        *("path.inlet tube.bore", "path.inlet tube.length", "path.column.plates"),
        *("path.flow cell.volume", "injection.volume", "detector.time_constant", "method.flow"),
    }
    for name, low, high in (
        ("path.inlet tube.bore", 0.153e-3, 0.187e-3),
        ("path.inlet tube.length", 0.248, 0.252),
        ("path.column.plates", 8100, 9900),
    ):
        np.testing.assert_allclose(found[name].limits(), (low, high), rtol=1e-9)


def test_bands_come_from_them_and_nothing_else_changes(plain, typical):
    assert typical.expected.typical
    assert not plain.expected.typical
    for one, other in zip(plain.expected.rows, typical.expected.rows, strict=True):
        assert (one.metric, one.value) == (other.metric, other.value)
        assert np.isnan(one.low)
        if one.metric in (APEX, "pressure"):
            assert np.isnan(other.low)
        else:
            assert other.low < other.value < other.high
    assert typical.outcome == plain.outcome
    assert all(np.isnan(step.gain_low) for step in typical.steps)


def test_the_band_of_plates_is_no_wider_than_all_tolerances_together(typical):
    for row in typical.expected.rows:
        if row.metric == PLATES:
            assert 0.01 < (row.high - row.low) / row.value < 0.5


def test_it_is_said_what_they_rest_on(plain, typical):
    assert "no source" in basis(typical)
    assert all(width in basis(typical) for width in TOLERANCES.values())
    assert "not a fault" in basis_line(typical)
    assert "No acceptance band" in basis_line(plain)


def test_the_command_gives_them(tmp_path):
    file = tmp_path / "path.toml"
    file.write_text(START + CELL)
    done = CliRunner().invoke(main, ["improve", str(file), "--expect"])
    assert done.exit_code == 0, done.output
    assert "typical tolerances" in done.output
    assert NOT_THERE in done.output


def test_sheet_and_record_hold_them(typical):
    sheet = as_sheet(typical, provenance_of(typical.scenario))
    assert "no source" in sheet
    assert as_result(tree_of(typical, provenance_of(typical.scenario))).expected.typical


def test_what_takes_long_is_told_first_and_left_out_unless_asked_for():
    plan, told = planned(Scenario.from_text(START + CELL), engine="march"), []

    class ShortError(Exception):
        pass

    def stop(found, work):
        told.append((found.steps, work))
        raise ShortError

    quick = answer(plan, Runner(engine="march"), "quick", stop)
    assert (quick.expected.samples, told) == (0, [])
    assert "--ranges typical" in basis_line(quick)
    with pytest.raises(ShortError):
        answer(plan, Runner(engine="march"), "typical", stop)
    ((steps, (journeys, parts)),) = told
    assert len(steps) == len(quick.steps)
    assert parts > journeys >= 64
