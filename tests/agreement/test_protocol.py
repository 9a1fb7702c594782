"""The measurement plan: what it foresees is what runs and fits say."""

import json

import numpy as np
import pytest
from click.testing import CliRunner
from reference.measured import SMALL

import tailrace
from tailrace.cli import main
from tailrace.journey.product import cumulants_of
from tailrace.journey.propagation import spread
from tailrace.scenario.measured import as_measured, measured_files
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.target import StudyError
from tailrace.scenario.typical import with_typical
from tailrace.studies.batch import PRODUCT
from tailrace.studies.measured.fitting import fit
from tailrace.studies.measured.protocol import _invented, _measurings, answer, plan

TEXT = (
    SMALL + '[[uncertain]]\nfield = "flow cell.volume"\ndistribution = "normal"\nrelative = 0.1\n'
)


@pytest.fixture(scope="module")
def worked():
    planned = plan(Scenario.from_text(TEXT), 300)
    return planned, answer(planned)


def test_it_foresees_what_a_run_records(worked):
    _, study = worked
    assert [one.without for one in study.measurings] == [("column",)] * 3 + [()]
    for one in (study.measurings[1], study.measurings[-1]):
        scenario = Scenario.from_text(SMALL)
        tables = dict(scenario.tables)
        tables["path"] = [row for row in tables["path"] if row["name"] not in one.without]
        result = tailrace.run(Scenario.from_tables(tables))
        assert one.width == pytest.approx(float(result.recorded["width_half"][0]), rel=1e-3)
        variance = float(result.recorded["variance"][0]) * one.flow**2
        assert one.variance == pytest.approx(variance, rel=1e-3)


def test_bands_are_those_of_the_cell(worked):
    """A mixed cell adds its volume squared: 2 V u(V) is the change, closed form."""
    _, study = worked
    one = study.measurings[0]
    half = (one.variance_high - one.variance_low) / 2
    assert half == pytest.approx(1.96 * 2 * 2.4e-9 * 0.24e-9, rel=0.01)


def test_bands_are_of_typical_tolerances_where_nothing_is_stated():
    scenario, rows = _invented(plan(Scenario.from_text(SMALL), 300), PRODUCT)
    here = _measurings(scenario, rows, PRODUCT)
    there = _measurings(with_typical(scenario), rows, PRODUCT)
    assert [one.variance_low for one in here] == [one.variance_low for one in there]
    assert all(one.variance_low < one.variance < one.variance_high for one in here)


def test_a_fit_of_the_plan_is_as_sure_as_it_says(worked):
    """The bound of Cramer and Rao against the uncertainty of a fit of noisy signals; the cell is
    carried in both."""
    planned, study = worked
    scenario, _ = _invented(planned, PRODUCT)
    found = fit(scenario, ["tube.bore"]).free[0]
    (said,) = (one for one in study.identified if one.name == "tube.bore")
    wide, plain = map(_variances, (scenario.changed({"tube.bore": "0.12001 mm"}), scenario))
    slope = max(wide / plain - 1) / 1e-8  # of the measurement in which it shows most
    assert found.standard_uncertainty * slope == pytest.approx(said.alone, rel=0.15)


def _variances(scenario):
    """Of each measurement, closed form."""
    made = [as_measured(scenario, row).itinerary() for row in measured_files(scenario)]
    return np.array([sum(part.variance[0] for part in cumulants_of(spread(one))) for one in made])


def test_what_it_cannot_tell_apart_is_said(worked):
    _, study = worked
    together = [set(one) for one in study.indistinguishable]
    assert any({"joint before.gap_length", "joint behind.gap_length"} <= one for one in together)
    assert all(0 < one.alone <= one.together * (1 + 1e-9) <= 1.001 for one in study.identified)


def test_a_pump_is_not_told_from_parts_that_are_all_larger():
    """What is pumped more quickly through parts that are larger alike is recorded alike: with the
    column out of the way no signal says more of the flow than is known of all their volumes."""
    study = answer(plan(Scenario.from_text(SMALL), 300))
    known = {one.name: one for one in study.identified}
    for name in ("method.flow", "flow cell.volume"):
        assert known[name].alone < 0.01 and not known[name].identifiable
    assert {"method.flow", "flow cell.volume"} in [set(one) for one in study.indistinguishable]


def test_the_command_writes_a_sheet_and_a_scenario_to_fill_in(tmp_path, worked):
    planned, _ = worked
    file, out = tmp_path / "s.toml", tmp_path / "out"
    file.write_text(TEXT)
    asked = ["protocol", str(file), "--signal-to-noise", "300", "--json", "--out", str(out)]
    done = CliRunner().invoke(main, asked)
    assert done.exit_code == 0, done.output
    told = json.loads(done.stdout)
    assert len(told["measurements"]) == 4 and told["faults"]
    assert tailrace.read(out / "record.h5").to_json() == done.stdout.rstrip("\n")
    sheet = (out / "sheet.txt").read_text("utf-8")
    assert sheet.count("04.csv") == 1 and "....." in sheet
    scenario, _ = _invented(planned, PRODUCT)
    for name, content in scenario.files.contents().items():
        (out / name).write_bytes(content)
    assert tailrace.compare(out / "measured.toml").agrees
    (out / "01-2.csv").write_bytes((out / "01.csv").read_bytes())
    text = (out / "measured.toml").read_text("utf-8")
    repeat = text.split("# [[measured]]")[1].replace("# ", "")
    (out / "again.toml").write_text(text + "[[measured]]" + repeat, "utf-8")
    rows = tailrace.load(out / "again.toml").document.measured
    assert (rows[-1].file, rows[-1].same_as) == ("01-2.csv", rows[0].name)
    assert "To fill in" in (out / "report.html").read_text("utf-8")
    with pytest.raises(StudyError, match="signal-to-noise"):
        plan(planned.scenario, float(np.pi / 2))
