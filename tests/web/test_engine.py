"""The engine in JavaScript against the program: every number of every linear scenario."""

import copy
import tomllib
from pathlib import Path

import numpy as np
import pytest
from reference import javascript
from reference.engine import CLOSE, compared, differences, same
from reference.scenarios import in_gradient
from reference.slider_pages import chromium
from scipy.interpolate import CubicSpline

import tailrace
from tailrace.errors import TailraceError
from tailrace.journey import travel
from tailrace.journey.migration import by_products
from tailrace.scenario.changed import changed
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.toml import as_toml

pytestmark = pytest.mark.skipif(bool(javascript.missing()), reason=javascript.missing())
FOLDER = Path(__file__).parents[2] / "scenarios"
SHIPPED = sorted(path.relative_to(FOLDER).as_posix() for path in FOLDER.rglob("*.toml"))
NOT_LINEAR = {"lessons/two-tails-a.toml": "overloaded"}


@pytest.fixture(scope="module")
def ask():
    return javascript.engine()


@pytest.mark.parametrize("name", SHIPPED)
def test_every_shipped_scenario(ask, name):
    loaded = tailrace.load(FOLDER / name)
    answer = ask("answer", tomllib.loads(loaded.text))
    assert answer["problems"] == []
    if name in NOT_LINEAR:
        assert NOT_LINEAR[name] in answer["refused"]
        assert "the program has to compute it" in answer["refused"]
    else:
        assert answer["refused"] is None
        assert differences(answer, loaded) == []


def test_under_pressure(ask):
    for name in ("inherited-core-shell.toml", "inherited-wide.toml"):
        tables = tomllib.loads((FOLDER / name).read_text())
        tables["method"] |= {"pressure_dependence": True}
        loaded = Scenario.from_tables(tables)
        answer = ask("answer", tables)
        assert differences(answer, loaded) == []
        low = tailrace.load(FOLDER / name).itinerary()
        assert answer["pressure"]["total"] > 1.005 * by_products(low).pressure.total


def test_an_edge_that_frequencies_do_not_resolve_is_left_to_the_program(ask):
    # march and spectral way agree on 76.37 plates; the product, cut, would say 91
    tables = tomllib.loads((FOLDER / "lessons" / "bore.toml").read_text())
    tables["method"] |= {"flow": "2 mL/min"}
    tables["injection"] |= {"volume": "20 nL"}
    tables["path"][0] |= {"bore": "0.3 mm", "length": "125 mm"}
    answer = ask("answer", tables)
    assert "too sharp for this page" in answer["refused"]
    assert answer["solutes"] == []


LOOPS = {
    "full": {"volume": "2.45 uL"},
    "in part": {"volume": "1.5 uL"},
    "forwards": {"volume": "1.2 uL", "emptied": "forwards"},
}


SIZES = {"loop_bore": "0.25 mm", "loop_length": "50 mm"}
LOOPS["by volume"] = {"volume": "1.5 uL", "loop_volume": "2.45 uL", "loop_length": None}
LOOPS["of unknown length"] = {"volume": "1.5 uL", "loop_length": None}


@pytest.mark.parametrize("name", LOOPS)
def test_what_leaves_a_loop(ask, name):
    tables = tomllib.loads((FOLDER / "inherited-core-shell.toml").read_text())
    given = {"shape": "loop"} | SIZES | LOOPS[name]
    tables["injection"] = {key: value for key, value in given.items() if value is not None}
    result = travel(Scenario.from_tables(tables).itinerary())
    answer = ask("answer", tables)
    assert answer["refused"] is None
    for lane, solute in enumerate(answer["solutes"]):
        assert solute["parts"][0]["variance"] == pytest.approx(
            result.parts[0].variance_exact[lane], rel=1e-5
        )
        for metric, values in result.recorded.items():
            allowed = 2 * result.numerical_error[metric][lane] + CLOSE * abs(values[lane])
            assert solute["metrics"][metric] == pytest.approx(values[lane], abs=allowed), metric


@pytest.mark.parametrize("step", [0.04, "uneven", 0.3])
def test_an_injection_that_was_measured(ask, step, tmp_path):
    times = np.arange(0, 12, 0.04 if step == "uneven" else step)
    if step == "uneven":
        times = times[(times < 3) | (np.arange(times.size) % 5 == 0)]
    heights = np.exp(-(((times - 2) / 0.5) ** 2)) + np.where(times > 2, np.exp(-(times - 2)) / 3, 0)
    rows = "\n".join(f"{t},{h}" for t, h in zip(times, heights, strict=True))
    (tmp_path / "pulse.csv").write_text("time,signal\n" + rows)
    tables = tomllib.loads((FOLDER / "inherited-core-shell.toml").read_text())
    tables["injection"] = {"shape": "signal", "file": "pulse.csv"}
    assert "pulse.csv" in ask("answer", tables)["refused"]
    (tmp_path / "one.toml").write_text(as_toml(tables))
    files = {"pulse.csv": {"times": times.tolist(), "heights": heights.tolist()}}
    answer = ask("answer", tables, {"files": files})
    assert answer["refused"] is None
    assert differences(answer, tailrace.load(tmp_path / "one.toml")) == []


def test_a_dead_time_stands_for_the_porosity(ask):
    tables = tomllib.loads((FOLDER / "inherited-core-shell.toml").read_text())
    column = next(one for one in tables["path"] if one["part"] == "column")
    column["dead_time"] = "22.7 s"
    answer = ask("answer", tables)
    assert answer["refused"] is None
    assert differences(answer, Scenario.from_tables(tables)) == []
    column["dead_time"] = "8 s"
    assert "porosity" in ask("answer", tables)["refused"]


STATED = {
    "flow": {"method": {"stated_flow": "0.3 mL/min"}},
    "temperature": {"method": {"stated_temperature": "25 degC", "viscosity": "0.7 mPa*s"}},
    "eluent": {"method": {"stated_strong": 0.7}},
    "oven": {"column": {"temperature": "50 degC", "stated_temperature": "30 degC"}},
}


@pytest.mark.parametrize("name", STATED)
def test_what_was_stated_elsewhere_goes_with_flow_and_temperature(ask, name):
    tables = tomllib.loads((FOLDER / "inherited-core-shell.toml").read_text())
    column = next(one for one in tables["path"] if one["part"] == "column")
    column |= STATED[name].get("column", {})
    tables["method"] |= STATED[name].get("method", {})
    tables["solutes"][0]["retention_enthalpy"] = "-12 kJ/mol"
    tables["solutes"][1] |= {"retention_change": "-1.5 %/K", "s": 4.0}
    assert differences(ask("answer", tables), Scenario.from_tables(tables)) == []
    tables["changes"] = [
        {"name": "faster", "set": {"method": {"flow": "0.9 mL/min"}}},
        {"name": "warm", "set": {"column": {"temperature": "60 degC"}}},
    ]
    after = ask("changedBy", tables, ["faster", "warm"])
    loaded = changed(Scenario.from_tables(tables), ["faster", "warm"])
    assert differences(ask("answer", after), loaded) == []


def test_a_change_that_injects_less_injects_as_much_less_of_the_sample(ask):
    """Twice the height over the noise (Ph. Eur. 2.2.46), and a height in proportion to what is
    injected (Lambert and Beer)."""
    name = "decide/signal-forbids-smallest-cell.toml"
    tables = tomllib.loads((FOLDER / name).read_text("utf-8"))
    whole, part = 5.0, 2.0
    tables["injection"] = {"shape": "plug", "volume": f"{whole} uL"}
    tables["changes"] = [{"name": "less", "set": {"injection": {"volume": f"{part} uL"}}}]
    less = ask("changedBy", tables, ["less"])
    before, after = ask("answer", tables), ask("answer", less)
    after_of = {one["name"]: one["signal"] for one in after["solutes"]}
    for one in before["solutes"]:
        was, now = one["signal"], after_of[one["name"]]
        height = now["concentration_recorded"] / was["concentration_recorded"]
        assert height > 1
        kept = part / whole * height
        assert now["signal_to_noise"] == pytest.approx(kept * was["signal_to_noise"], rel=1e-9)
    assert differences(after, changed(Scenario.from_tables(tables), ["less"])) == []


def test_what_comes_back_if_a_part_is_ideal(ask):
    loaded = tailrace.load(FOLDER / "inherited-core-shell.toml")
    back = travel(loaded.itinerary(), blame=True).regained
    answer = ask("answer", tomllib.loads(loaded.text))
    for lane, solute in enumerate(answer["solutes"]):
        for part in solute["parts"]:
            if part["kind"] == "column":
                assert part["plates_back"] is None
                continue
            expected, error = (
                one[part["name"]][lane] for one in (back.plates, back.numerical_error)
            )
            # the march's estimate of its own error is a little low here
            assert abs(part["plates_back"] - expected) <= 2 * error + 1e-4 * expected


def test_the_curves_are_the_program_s(ask):
    loaded = tailrace.load(FOLDER / "inherited-core-shell.toml")
    result = by_products(loaded.itinerary())
    answer = ask("answer", tomllib.loads(loaded.text))
    for lane, solute in enumerate(answer["solutes"]):
        time = np.array(solute["time"])
        for band, drawn in (
            (result.recorded_band, solute["recorded"]),
            (result.column_band, solute["column_alone"]),
        ):
            one = band.lane(lane)
            there = CubicSpline(time, drawn)(one.times[0])
            inside = (one.times[0] > time[0]) & (one.times[0] < time[-1])
            off = np.abs(there - one.values[0])[inside].max()
            assert off < 2e-3 * one.values[0].max()
    trace = answer["trace"]
    area = np.trapezoid(trace["recorded"], trace["time"])
    assert area == pytest.approx(sum(trace["weights"]), rel=1e-6)


def test_random_scenarios(ask):
    wrong, count = compared(ask, range(15))
    assert wrong == {}
    assert count >= 12


@pytest.mark.parametrize("seeds", [range(3), range(40)], ids=["few", "many"])
def test_random_gradients(ask, seeds):
    wrong, count = compared(ask, seeds, in_gradient)
    assert wrong == {}
    assert count >= 0.8 * len(seeds)


def test_a_step_in_a_programme(ask):
    # where the step meets the band, samples say less of it; the program's own error is as large
    tables = tomllib.loads((FOLDER / "gradient-core-shell.toml").read_text())
    rows = [("0 min", 0.3), ("1 min", 0.3), ("1 min", 0.6), ("6 min", 0.95)]
    tables["gradient"]["programme"] = [{"time": t, "strong": f} for t, f in rows]
    result = by_products(Scenario.from_tables(tables).itinerary())
    for lane, solute in enumerate(ask("answer", tables)["solutes"]):
        for name in ("apex", "width_half", "peak_capacity", "tailing_5", "variance"):
            expected = result.recorded[name][lane]
            assert solute["metrics"][name] == pytest.approx(expected, rel=5e-4)


SOLVENTS = {
    "weak, in a gradient": ({"strong": 0.05}, None),
    "strong, in a gradient": ({"washout_volume": "1 uL", "strong": 0.6}, None),
    "weak": ({}, 4),
    "strong": ({"volume": "3 uL", "washout_volume": "1 uL"}, 0.5),
    "from a time": ({}, "time"),
    "by k and s": ({"strong": 0.5}, "s"),
}


@pytest.mark.parametrize("name", SOLVENTS)
def test_a_sample_in_a_solvent_of_its_own(ask, name):
    given, factor = SOLVENTS[name]
    start = "inherited-core-shell.toml" if factor else "gradient-core-shell.toml"
    tables = tomllib.loads((FOLDER / start).read_text())
    shape = "washout" if "washout_volume" in given else "plug"
    tables["injection"] = {"shape": shape, "volume": "5 uL", **given}
    del tables["solutes"][2:]
    for one in tables["solutes"] if factor == "s" else []:
        one["s"] = 3.0
    for one in tables["solutes"] if factor not in (None, "s") else []:
        k = one.pop("retention_factor") if factor == "time" else one["retention_factor"]
        one["sample_retention_factor"] = k * (3 if factor == "time" else factor)
        if factor == "time":
            one["retention_time"] = f"{25 + 15 * k} s"
    result = travel(Scenario.from_tables(tables).itinerary())
    answer = ask("answer", tables, {"platesBack": False})
    assert answer["refused"] is None
    for lane, solute in enumerate(answer["solutes"]):
        for metric, values in result.recorded.items():
            assert same(solute["metrics"][metric], values[lane], loose=2), metric
        for part, told in zip(result.parts, solute["parts"], strict=True):
            added = told["variance_volume"]
            assert added == pytest.approx(part.variance_volume[lane], rel=1e-3, abs=1e-20)


def test_a_gradient_that_is_none_is_refused_in_the_program_s_words(ask):
    tables = tomllib.loads((FOLDER / "gradient-core-shell.toml").read_text())
    wrong = (
        ("kw", lambda made: made["solutes"][0].pop("kw")),
        ("retention_factor", lambda made: made["solutes"][0].update(retention_factor=2)),
        ("kinetics", lambda made: made["path"][2].update(kinetics="lumped")),
        ("row above", lambda made: made["gradient"]["programme"].reverse()),
        ("leaves the column", lambda made: made["solutes"][0].update(kw=1e15)),
    )
    for words, edit in wrong:
        made = copy.deepcopy(tables)
        edit(made)
        with pytest.raises(TailraceError, match=words):
            Scenario.from_tables(made)
        assert words in ask("answer", made)["refused"], words


@pytest.mark.skipif(chromium() is None, reason="needs chromium and chromedriver")
def test_two_hundred_random_scenarios_in_a_browser(tmp_path):
    with javascript.in_browser(tmp_path) as ask:
        wrong, count = compared(ask, range(100, 320))
        assert wrong == {}
        assert count >= 200
        for name in set(SHIPPED) - set(NOT_LINEAR):
            loaded = tailrace.load(FOLDER / name)
            assert differences(ask("answer", tomllib.loads(loaded.text)), loaded) == []
