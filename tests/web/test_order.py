"""Changes and their best order as JavaScript finds them, against ``improve``."""

import tomllib
from pathlib import Path

import pytest
from reference import javascript

import tailrace
from tailrace.journey.hydraulics import pressure
from tailrace.report.improvement.sentences import left_out
from tailrace.scenario.changed import changed
from tailrace.scenario.scenario import Scenario
from tailrace.studies.improving.solve import improve

pytestmark = pytest.mark.skipif(bool(javascript.missing()), reason=javascript.missing())
FOLDER = Path(__file__).parents[2] / "scenarios"


@pytest.fixture(scope="module")
def ask():
    return javascript.engine()


@pytest.mark.parametrize(
    ("name", "aim", "order"),
    [
        ("decide/pressure-forbids-narrowest-tubes.toml", "plates", "gain"),
        ("decide/theory-ranks-otherwise.toml", "plates", "money"),
        ("decide/theory-ranks-otherwise.toml", "tailing", "gain"),
        ("inherited-core-shell.toml", "plates", "gain"),
    ],
)
def test_the_staircase_is_that_of_improve(ask, name, aim, order):
    loaded = tailrace.load(FOLDER / name)
    expected = improve(loaded, aim, order=order)
    found = ask("bestOrder", tomllib.loads(loaded.text), None, {"aim": aim, "order": order})
    assert found["refused"] is None
    assert found["combinations"] == len(expected.combinations.value)
    assert found["metric"] == expected.aim.metric
    table = expected.combinations
    assert found["start"] == pytest.approx(table.value[0], rel=1e-4)
    assert found["ceiling"] == pytest.approx(table.ceiling[0], rel=1e-4)
    steps = expected.steps[1:]
    assert [one["change"] for one in found["steps"]] == [one.change for one in steps]
    for mine, other in zip(found["steps"], steps, strict=True):
        assert mine["value"] == pytest.approx(other.value, rel=1e-4)
        assert mine["of"] == other.of
        assert mine["pressure"] == pytest.approx(other.pressure, rel=1e-6)
        assert (mine["total_cost"], mine["total_effort"]) == (other.total_cost, other.total_effort)
    paid = improve(loaded, aim, order="money").steps[1:]
    assert [one["change"] for one in found["by_money"]] == [one.change for one in paid]
    scale = abs(table.value[0])
    for mine, other in zip(found["changes"], expected.changes, strict=True):
        assert mine["name"] == other.name
        assert mine["in_best"] == other.in_best
        assert mine["alone"] == pytest.approx(other.alone, abs=2e-4 * scale)
        assert mine["share"] == pytest.approx(other.share, abs=2e-4 * scale)


def test_more_than_twelve_changes_are_left_to_the_program(ask):
    tables = tomllib.loads((FOLDER / "inherited-core-shell.toml").read_text(encoding="utf-8"))
    one = {"set": {"flow cell": {"volume": "2.5 uL"}}}
    many = [{"name": f"change {number}", **one} for number in range(13)]
    assert "at most 12" in ask("bestOrder", tables, many)["refused"]


def test_limits_hold_for_the_most_viscous_liquid_of_a_programme(ask):
    tables = tomllib.loads((FOLDER / "gradient-core-shell.toml").read_text(encoding="utf-8"))
    tables["changes"] = [
        {"name": "small cell", "set": {"flow cell": {"volume": "1 uL"}}},
        {"name": "warmer", "set": {"method": {"temperature": "45 degC"}}},
        {"name": "narrow", "needs": ["warmer"], "set": {"tube to cell": {"bore": "0.12 mm"}}},
    ]
    start = Scenario.from_tables(tables)

    def pressures(names):
        journey = changed(start, names).itinerary()
        found = pressure(journey.passages)
        return found.total, found.highest

    for part in ("small cell", "warmer"):
        eluent, highest = pressures([part])
        assert highest > 1.15 * eluent
    cool, (eluent, highest) = pressures([]), pressures(["warmer", "narrow"])
    warm = pressures(["warmer"])
    assert eluent < warm[1] < highest < cool[1]
    assert cool[1] / cool[0] != pytest.approx(warm[1] / warm[0], rel=1e-4)
    tables["limits"] = {"pressure": f"{(warm[1] + highest) / 2e5} bar"}
    loaded = Scenario.from_tables(tables)
    expected = improve(loaded)
    found = ask("bestOrder", tables)
    steps = expected.steps[1:]
    assert [one.change for one in steps] == [one["change"] for one in found["steps"]]
    assert "narrow" not in [one.change for one in steps]
    for mine, other in zip(found["steps"], steps, strict=True):
        assert other.pressure == pytest.approx(pressures(list(other.taken))[1], rel=1e-9)
        assert mine["pressure"] == pytest.approx(other.pressure, rel=1e-6)
    why = left_out(expected, next(one for one in expected.changes if one.name == "narrow"))
    assert "with the most viscous liquid of the programme" in why
    # held against no limit it is taken: what else forbids it?
    del tables["limits"]
    assert "narrow" in [one["change"] for one in ask("bestOrder", tables)["steps"]]
