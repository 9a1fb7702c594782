"""Tubes with bends in the page against the program, whose table it has packed."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from reference import javascript
from reference.engine import compared, differences
from reference.scenarios import with_bends
from reference.slider_pages import chromium

from tailrace.errors import TailraceError
from tailrace.journey import travel
from tailrace.parts.tube.bent import spectrum
from tailrace.parts.tube.bent.flow import friction
from tailrace.scenario.scenario import Scenario
from tailrace.web.assemble import ROOM, bundled
from tailrace.web.bends import bends
from tailrace.web.facts import computing_facts

pytestmark = pytest.mark.skipif(bool(javascript.missing()), reason=javascript.missing())
FOLDER = Path(__file__).parents[2] / "scenarios"


@pytest.fixture(scope="module")
def ask():
    return javascript.engine()


def coil(**tube):
    tables = tomllib.loads((FOLDER / "lessons" / "coil.toml").read_text("utf-8"))
    tables["path"][0] |= tube
    return tables


def test_the_packed_table_is_the_program_s(ask):
    random, count = np.random.default_rng(1), 400
    strength = spectrum.STIRRED * np.sinh(
        random.uniform(0, np.arcsinh(spectrum.MOST_STRENGTH / spectrum.STIRRED), count)
    )
    length = np.exp(random.uniform(np.log(spectrum.LEAST_PASSED), np.log(spectrum.MOST), count))
    dean = np.sqrt(random.uniform(0, 1, count) * spectrum.highest_square(strength))
    same = dean, strength, length
    cumulants = spectrum.cumulants(*same)
    u = np.exp(random.uniform(np.log(0.02), np.log(60), (count, 24)))
    omega = u / np.sqrt(cumulants[:, :1])
    told = ask("bendsAt", np.transpose(same).tolist(), omega.tolist())
    assert {one["unknown"] for one in told} == {""}
    passed = np.array([one["re"] for one in told]) + 1j * np.array([one["im"] for one in told])
    away = np.abs(passed - spectrum.response(*same, omega))
    # what goes with the length grows with it
    assert away[length < 10].max() < 2e-5
    assert away.max() < 5e-5
    assert np.sqrt(np.mean(away**2)) < 3e-6
    assert np.array([one["cumulants"] for one in told]) == pytest.approx(cumulants, rel=1e-5)


def test_friction(ask):
    deans = [0.0, 0.5, 3.0, 20.0, 77.0, 199.9]
    assert ask("frictions", deans) == pytest.approx(friction(np.array(deans)), rel=1e-9)


def test_random_bends(ask):
    wrong, count = compared(ask, range(8), with_bends)
    assert wrong == {}
    assert count >= 7


@pytest.mark.skipif(chromium() is None, reason="needs chromium and chromedriver")
def test_two_hundred_random_bends_in_a_browser(tmp_path):
    with javascript.in_browser(tmp_path) as ask:
        wrong, count = compared(ask, range(100, 345), with_bends)
        assert wrong == {}
        assert count >= 200


@pytest.mark.parametrize("radius", ["17 mm", "25 mm", "73 mm", "100 mm", "126 mm", "100 m"])
def test_the_lesson_on_coils_is_the_march(ask, radius):
    tables = coil(bend_radius=radius)
    loaded = Scenario.from_tables(tables)
    answer = ask("answer", tables)
    assert answer["refused"] is None
    assert differences(answer, loaded) == []
    marched, (solute,) = travel(loaded.itinerary()), answer["solutes"]
    for name in ("apex", "width_half", "variance", "tailing_5"):
        allowed = marched.numerical_error[name][0] + 1e-4 * abs(marched.recorded[name][0])
        assert solute["metrics"][name] == pytest.approx(marched.recorded[name][0], abs=allowed)


def test_changes_of_a_bend(ask):
    tables = coil(bend_radius="100 mm")
    tables["changes"] = [
        {"name": "tight", "set": {tables["path"][0]["name"]: {"bend_radius": "25 mm"}}},
        {"name": "short", "set": {tables["path"][0]["name"]: {"length": "200 mm"}}},
    ]
    order = ask("bestOrder", tables)
    assert order["refused"] is None
    assert {one["change"] for one in order["steps"]} == {"tight", "short"}
    assert all(one["gain"] > 0 for one in order["steps"])


def bends_of(tables):
    passages = Scenario.from_tables(tables).itinerary().passages
    return np.concatenate([part.tabulated_bends(stream) for part, stream in passages])


def test_a_page_with_sliders_holds_what_they_ask_of_the_table(ask):
    ends = ((0.03, 0.5), (0.05, 0.3))  # radius in m, flow in mL/min

    def at(radius, flow):
        tables = coil(bend_radius=f"{1e3 * radius:.6g} mm")
        tables["method"]["flow"] = f"{flow:.6g} mL/min"
        return tables

    tubes = np.concatenate([bends_of(at(one, other)) for one in ends[0] for other in ends[1]])
    facts = computing_facts(tubes)
    held = sum(row["count"] for row in facts["bends"]["rows"])
    assert held < 0.5 * sum(row["count"] for row in bends()["rows"])
    asked = javascript.engine_with(facts)
    random = np.random.default_rng(3)
    for position in [[0.03, 0.3], [0.5, 0.05], *random.uniform(*np.transpose(ends), (8, 2))]:
        tables = at(*position)
        assert differences(asked("answer", tables), Scenario.from_tables(tables)) == []
    beyond = asked("answer", at(0.008, 0.3))
    assert "by more or less than the sliders of this page ask for" in beyond["refused"]
    assert ask("answer", at(0.008, 0.3))["refused"] is None


def test_pages_without_bends_do_not_know_them():
    assert "bends" not in computing_facts()
    assert "throughBend" not in bundled(ROOM / "page" / "page.js").replace("manner.throughBend", "")
    assert "function throughBend" in bundled(ROOM / "page" / "with_bends.js")


OUTSIDE = {
    "several": ({"bends": [{"length": "100 mm", "radius": "25 mm"},
                           {"length": "300 mm", "radius": "50 mm"}]}, "in several stretches"),
    "short": ({"bend_radius": "25 mm", "length": "15 mm"}, "a Fourier number from 0.03 to 100"),
    "fast": ({"bend_radius": "10 mm", "bore": "0.08 mm"}, "number up to 36000"),
}  # fmt: skip


@pytest.mark.parametrize("name", OUTSIDE)
def test_what_the_page_does_not_know_it_says(ask, name):
    tube, words = OUTSIDE[name]
    tables = coil()
    tables["path"][0].pop("bend_radius")
    tables["path"][0] |= tube
    if name == "fast":
        tables["solutes"][0] = {"name": "slow", "diffusivity": "1e-10 m^2/s"}
        tables["path"][0]["length"] = "2 m"
    answer = ask("answer", tables)
    assert words in answer["refused"]
    assert "the program has to compute it" in answer["refused"]
    assert answer["bent"] == [tables["path"][0]["name"]]
    straight = ask("answer", tables, {"straight": True})
    assert straight["refused"] is None
    assert "as if it were straight" in straight["warnings"][0]


@pytest.mark.parametrize(
    ("tube", "words"),
    [
        ({"bend_radius": "1 mm", "bore": "1.5 mm"}, "bends wider than the bore of"),
        ({"bend_radius": "2 mm", "bore": "0.5 mm"}, "Dean number up to 200"),
    ],
)
def test_bends_that_cannot_be_are_refused_in_the_program_s_words(ask, tube, words):
    tables = coil(**tube)
    if "Dean" in words:
        tables["method"]["flow"] = "10 mL/min"
    with pytest.raises(TailraceError, match=words) as refusal:
        Scenario.from_tables(tables)
    answer = ask("answer", tables)
    assert answer["problems"][0]["place"] == ["path", 0, "bend_radius"]
    assert answer["problems"][0]["sentence"] in str(refusal.value)
