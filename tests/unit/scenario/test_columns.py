"""Several columns on one instrument: what is wrong with them, what is left of each, one plan."""

import json

import numpy as np
import pytest
from click.testing import CliRunner
from reference.improving import CELL, FAST, SECOND, START
from reference.pages import Reader

import tailrace
from tailrace.cli import main
from tailrace.errors import ScenarioError, TailraceError
from tailrace.figures.columns import draw_columns, draw_columns_improved
from tailrace.measures.registry import PLATES_OWN
from tailrace.records.provenance import Provenance
from tailrace.records.record import as_result
from tailrace.report.columns import gains_json, gains_lines
from tailrace.report.improvement.printed import as_json, as_text
from tailrace.report.improvement.sheet import as_sheet
from tailrace.report.improvement.tables import shown
from tailrace.scenario.changed import on_columns
from tailrace.scenario.scenario import Scenario
from tailrace.studies.improving.aims import Constraints

WIDE = {
    "column": {
        "bore": "4.6 mm",
        "length": "150 mm",
        "particle_diameter": "5 um",
        "particle": "fully porous",
        "plates": 9000,
    },
    "method": {"flow": "1.2 mL/min"},
    "early": {"retention_factor": 2.5},
}
COLUMNS = [{"name": "narrow"}, {"name": "wide", "set": WIDE}]


def scenario(text="", columns=COLUMNS, **more):
    tables = Scenario.from_text(START + text).tables
    return Scenario.from_tables({**tables, **more, "columns": columns})


def by_hand(column):
    """The text of a scenario with one of the columns alone, put together by replacing words."""
    if column == "narrow":
        return START
    text = START
    for old, new in (
        ('bore = "2.1 mm"\nlength = "50 mm"', 'bore = "4.6 mm"\nlength = "150 mm"'),
        ('"2.7 um"', '"5 um"'),
        ('"core-shell"', '"fully porous"'),
        ('"0.60 mL/min"', '"1.2 mL/min"'),
        ("retention_factor = 1.5", "retention_factor = 2.5"),
    ):
        assert text.count(old) == 1
        text = text.replace(old, new)
    return text


@pytest.mark.parametrize(
    ("columns", "said"),
    [
        ([{"name": "a", "set": {"colum": {"bore": "3 mm"}}}], "column"),
        ([{"name": "a", "set": {"column": {"boer": "3 mm"}}}], "bore"),
        ([{"name": "a", "set": {"early": {"bore": "3 mm"}}}], "retention_factor"),
        ([{"name": "a", "set": {"column": {"name": "b"}}}], "name"),
        ([{"name": "a"}, {"name": "a"}], "name of its own"),
        ([{"name": "a", "set": {"column": {"kinetics": "slow"}}}], "lumped"),
        ([{"name": "a", "set": {"early": {"retention_time": "1 s"}}}], "unretained"),
    ],
)
def test_a_column_that_cannot_be_is_one_clear_sentence(columns, said):
    with pytest.raises(ScenarioError, match=r"columns\[?.*" + said):
        scenario(columns=columns)


def test_plates_of_another_column_do_not_hold_at_the_flow_of_the_first():
    tables = Scenario.from_text(START).tables
    path = [
        one | {"plates": 8000, "plates_flow": "0.3 mL/min"} if one["part"] == "column" else one
        for one in tables["path"]
    ]
    wide = on_columns(scenario(path=path))["wide"]
    column = next(one for one, _ in wide.itinerary().passages if one.kind == "column")
    assert column.plates_flow == pytest.approx(1.2e-6 / 60)


def test_columns_need_one_on_the_path():
    tables = Scenario.from_text(START).tables
    path = [one for one in tables["path"] if one["part"] != "column"]
    with pytest.raises(ScenarioError, match="a column on the path"):
        Scenario.from_tables({**tables, "path": path, "columns": [{"name": "a"}]})


@pytest.fixture(scope="module")
def result():
    return tailrace.run(scenario())


def test_each_column_is_left_what_a_scenario_of_its_own_leaves(result):
    assert [one.name for one in result.columns] == ["narrow", "wide"]
    for one in result.columns:
        alone = tailrace.run(Scenario.from_text(by_hand(one.name)))
        np.testing.assert_allclose(one.recorded, alone.recorded[PLATES_OWN], rtol=1e-12)
        np.testing.assert_allclose(one.could_give, alone.column_alone[PLATES_OWN], rtol=1e-12)
        np.testing.assert_allclose(one.kept, one.recorded / one.could_give, rtol=1e-14)
        assert one.pressure == pytest.approx(alone.pressure.total, rel=1e-12)


def test_the_record_the_page_and_json_hold_them(result, tmp_path):
    result.save(tmp_path / "run.h5")
    again = tailrace.read(tmp_path / "run.h5")
    assert [one.name for one in again.columns] == ["narrow", "wide"]
    np.testing.assert_array_equal(again.columns[1].recorded, result.columns[1].recorded)
    said = json.loads(result.to_json())["columns"]
    assert said[0]["kept"] == pytest.approx(result.columns[0].kept)
    page = result.to_html()
    assert "leaves of each column" in page
    assert "most sensitive" in page
    assert b"narrow" in draw_columns(result).svg()


@pytest.fixture(scope="module")
def improved():
    return tailrace.improve(scenario(CELL + FAST))


def test_one_plan_is_the_mean_of_what_each_column_keeps(improved):
    table = improved.combinations
    kept = []
    for at, name in enumerate(("narrow", "wide")):
        alone = tailrace.improve(Scenario.from_text(by_hand(name) + CELL + FAST))
        # lanes are put together otherwise: apart by no more than the discretisation errors
        apart = table.by_column.value[:, at] - alone.combinations.value
        assert np.all(np.abs(apart) <= table.by_column.error[:, at] + alone.combinations.error)
        kept.append(table.by_column.value[:, at] / alone.ceiling)
    np.testing.assert_allclose(table.value, np.mean(kept, axis=0), rtol=1e-12)
    assert improved.ceiling == pytest.approx(1)
    assert sum(one.share for one in improved.changes) == pytest.approx(improved.whole_gain)
    np.testing.assert_allclose(table.pressure[0], tailrace.run(scenario()).pressure.total)


def test_it_is_told_who_gains_and_who_hardly_does(improved):
    lines = gains_lines(improved)
    assert lines[0].startswith("narrow")
    assert "most from step" in lines[0]
    assert lines[1].startswith("wide")
    assert "hardly gains" in lines[1]
    assert "What each column gains" in as_text(improved, "t", expect=True)
    said = as_json(improved, "1")["columns"]
    assert said == gains_json(improved)
    assert said[1]["steps"][-1]["kept"] > said[0]["steps"][-1]["kept"]
    of = {row["of"] for row in as_json(improved, "1")["expected"]["rows"]}
    assert of == {"early, narrow", "early, wide", ""}


def test_the_work_sheet_has_a_box_for_each_column_and_metric(improved):
    page = as_sheet(improved, Provenance(title="t", scenario_sha256="a1", scenario="", version="1"))
    read, steps = Reader(page), len(improved.steps)
    heads = [attrs.get("scope") for tag, attrs in read.elements if tag == "th"]
    assert heads.count("colgroup") == 2 * steps
    boxes = [attrs for _, attrs in read.elements if attrs.get("class") == "box"]
    assert len(boxes) == len(improved.expected.rows)
    assert read.text.count(": early") == steps
    for row in improved.expected.rows:
        assert shown(row)[1] in read.text


def test_the_study_is_stored_and_drawn(improved):
    tree = improved.to_xarray()
    again = as_result(tree)
    np.testing.assert_array_equal(
        again.combinations.by_column.value, improved.combinations.by_column.value
    )
    assert again.aim.columns == 2
    assert "wide: after step" in " ".join(improved.states())
    described = draw_columns_improved(improved).description
    assert "hardly" not in described
    assert "wide" in described


def test_neighbours_are_told_on_each_column_and_shares_of_resolution_kept():
    found = tailrace.improve(scenario(SECOND + CELL), aim="resolution")
    of = {row.of for row in found.expected.rows}
    assert {"early/late, narrow", "late/early, wide"} <= of
    assert 0 < found.start < 1


def test_uncertainty_is_laid_upon_every_column():
    uncertain = [{"field": "flow cell.volume", "distribution": "normal", "relative": 0.1}]
    found = tailrace.improve(scenario(CELL, uncertain=uncertain))
    last = found.steps[-1]
    assert last.gain_low < last.gain < last.gain_high
    rows = [row for row in found.expected.rows if row.metric == "plates_half_height"]
    assert len(rows) == 4
    assert all(row.low < row.value < row.high for row in rows)


def test_the_column_that_needs_most_pressure_sets_the_limit(improved):
    most = max(one.pressure for one in tailrace.run(scenario()).columns)
    found = tailrace.improve(scenario(CELL), constraints=Constraints(pressure=0.9 * most))
    assert found.outcome == "infeasible"


@pytest.mark.parametrize("aim", ["variance", "tailing", "signal"])
def test_other_aims_are_refused(aim):
    with pytest.raises(TailraceError, match="plates or resolution"):
        tailrace.improve(scenario(CELL), aim=aim)


def test_check_lists_them(tmp_path):
    file = tmp_path / "columns.toml"
    file.write_text(START + '[[columns]]\nname = "other"\nset = { column = { bore = "3 mm" } }\n')
    done = CliRunner().invoke(main, ["check", str(file)])
    assert done.exit_code == 0, done.output
    assert "other" in done.output


@pytest.mark.parametrize("value", [[], {}, ["core-shell"], 3, True])
@pytest.mark.parametrize("where", [("path", 2, "particle"), ("solutes", 0, "name")])
def test_a_value_of_any_type_is_one_sentence(value, where):
    tables = Scenario.from_text(START).tables
    group, index, key = where
    rows = [dict(one) for one in tables[group]]
    rows[index][key] = value
    with pytest.raises(ScenarioError, match=key):
        Scenario.from_tables({**tables, group: rows, "columns": COLUMNS})
