"""Pages with sliders as files: alone, harmless, and of the numbers that were computed."""

import base64
import hashlib
import re
from dataclasses import replace

import numpy as np
import pytest
from reference.slider_pages import SliderPage, curve_of, curves

import tailrace
from tailrace.errors import BudgetError
from tailrace.records.provenance import Provenance
from tailrace.report.numbers import significant, with_error
from tailrace.report.tables import parts_table
from tailrace.studies.free_sliders import free_sliders
from tailrace.studies.sliders import Knots, sliders
from tailrace.web import sliding as room
from tailrace.web.sliding import page_of
from tailrace.web.stops import packed

PROVENANCE = Provenance(
    title="<i>odd</i> & \"quoted\" 'title'",
    scenario_sha256="a1b2c3",
    scenario="# </pre><script>alert(1)</script>\n",
    version="9.8.7",
    assumptions=("<b>bold</b>: taken as straight",),
)
SCENARIO = """
title = "Hostile names"
[method]
flow = "0.60 mL/min"
eluent = { viscosity = "1 mPa*s" }
[[solutes]]
name = "</script><script>alert(1)</script>"
retention_factor = 1.0
diffusivity = "1.1e-9 m^2/s"
[[solutes]]
name = "later & <b>"
retention_factor = 3.0
diffusivity = "1.1e-9 m^2/s"
[injection]
shape = "plug"
volume = "2 uL"
[[path]]
name = 'tube " onload="alert(1)'
part = "tube"
bore = "0.17 mm"
length = "100 mm"
[[path]]
name = "column"
part = "column"
bore = "2.1 mm"
length = "30 mm"
particle_diameter = "2.7 um"
[[path]]
name = "cell"
part = "cell"
volume = "5 uL"
[limits]
pressure = "1 bar"
"""


@pytest.fixture(scope="module")
def study(tmp_path_factory):
    file = tmp_path_factory.mktemp("page") / "hostile.toml"
    file.write_text(SCENARIO)
    return sliders(tailrace.load(file), ["cell.volume = 1, 5 uL", "method.flow = 0.3, 0.6 mL/min"])


@pytest.fixture(scope="module")
def page(study):
    return page_of(study, PROVENANCE)


@pytest.fixture(scope="module")
def read(page):
    return SliderPage(page)


def test_the_policy_lets_this_script_and_this_style_run_and_nothing_else(read):
    # Content Security Policy Level 3 (W3C), names of the directives from memory
    policy = next(
        attrs["content"]
        for _, attrs in read.elements
        if attrs.get("http-equiv") == "Content-Security-Policy"
    )
    rules = dict(rule.strip().split(" ", 1) for rule in policy.split(";"))

    def named(text):
        return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"

    assert rules == {
        "default-src": "'none'",
        "script-src": named(read.within["script"][1]),
        "style-src": named(read.within["style"][0]),
        "base-uri": "'none'",
        "form-action": "'none'",
    }


def test_no_address_and_nothing_that_fetches(page, read):
    # a name, and where the library that draws is from
    told = {"http://www.w3.org/2000/svg", "https://github.com/leeoniya/uPlot"}
    assert {one.removesuffix(".git") for one in re.findall(r"\w+://[\w./]*", page)} == told
    fetching = {"link", "iframe", "object", "embed", "img", "base", "form", "audio", "video"}
    assert not fetching & {tag for tag, _ in read.elements}
    attributes = [name for _, attrs in read.elements for name in attrs]
    assert not {"src", "href", "style", "srcset"} & set(attributes)
    assert not [name for name in attributes if name.startswith("on")]
    assert not re.search(r"\b(fetch|XMLHttpRequest|WebSocket|sendBeacon|import)\(", page)


def test_names_stay_names(read):
    assert [tag for tag, _ in read.elements].count("script") == 2
    for text in (PROVENANCE.title, "# </pre><script>alert(1)</script>", *PROVENANCE.assumptions):
        assert text in read.text
    for name in ("</script><script>alert(1)</script>", "later & <b>", 'tube " onload="alert(1)'):
        assert name in read.text
    assert read.data["solutes"] == ["</script><script>alert(1)</script>", "later & <b>"]


def test_every_control_has_a_name_and_every_id_is_unique(read):
    names = [attrs["id"] for _, attrs in read.elements if "id" in attrs]
    assert len(names) == len(set(names))
    labelled = {attrs.get("for") for tag, attrs in read.elements if tag == "label"}
    ranges = [attrs for _, attrs in read.elements if attrs.get("type") == "range"]
    assert len(ranges) == 2
    for attrs in ranges:
        assert attrs["id"] in labelled
        assert attrs["aria-valuetext"]
    for tag, attrs in read.elements:
        for key in ("aria-labelledby", "aria-describedby", "list", "for"):
            assert attrs.get(key, names[0]) in names, (tag, attrs)
    pictures = [attrs for tag, attrs in read.elements if attrs.get("class") == "picture"]
    assert [attrs["role"] for attrs in pictures] == ["img", "img"]
    statuses = [attrs["id"] for _, attrs in read.elements if attrs.get("role") == "status"]
    assert statuses == ["said", "pinned"]


def test_figures_are_those_of_each_position(study, read):
    data = read.data
    assert [axis["start"] for axis in data["axes"]] == [1, 1]
    assert [axis["labels"] for axis in data["axes"]] == [
        ["1 uL", "5 uL"],
        ["0.3 mL/min", "0.6 mL/min"],
    ]
    for position in range(4):
        result = study.result(position)
        for lane in range(2):
            reported = data["cases"][position]["solutes"][lane]
            for row, name in ((0, "plates_own_retention"), (2, "tailing_5"), (3, "width_half")):
                recorded = result.recorded[name][lane]
                error = result.numerical_error[name][lane]
                assert reported["figures"][3 * row + 1] == with_error(recorded, error, digits=4)
            own = result.column_alone["plates_half_height"][lane]
            assert reported["figures"][0] == significant(own, 4)
            # The last row of the table is the sum.
            rows = parts_table(result, lane).rows[:-1]
            assert reported["parts"] == [row[k] for row in rows for k in (4, 6, 9)]


def test_the_gaussian_reads_as_a_gaussian_does(study, read):
    mean, variance = read.data["cases"][2]["solutes"][1]["gaussian"]
    # 8 ln 2 (t/W)^2 with W of a Gaussian is t^2/variance, t the column's own; tailing 1.
    parts = study.result(2).parts
    mean = sum(float(part.mean_closed_form[1]) for part in parts if part.separates)
    plates, width = read.data["cases"][2]["solutes"][1]["figures"][2:18:9]
    assert float(plates) == pytest.approx(mean**2 / variance, rel=1e-3)
    assert float(width) == pytest.approx(2.354820 * variance**0.5, rel=1e-3)
    text = [float(part.variance_gaussian_theory[1]) for part in study.result(2).parts]
    assert variance == pytest.approx(sum(text), rel=1e-8)


def test_curves_come_back(study, read):
    data = read.data
    assert len(curves(data)) == 4 * 2 * 2
    for position in range(4):
        for lane in range(2):
            for own, lines in ((False, study.recorded), (True, study.own)):
                line = lines[position][lane]
                times, heights = curve_of(data, position, lane, own)
                np.testing.assert_allclose(times, line.times, rtol=1e-7)
                most = line.heights.max()
                np.testing.assert_allclose(heights, line.heights, atol=1e-5 * most)


def test_long_gaps_between_knots_are_bridged():
    places = np.array([0, 70_000, 70_001, 300_000])
    line = Knots(start=1.0, step=0.01, places=places, heights=np.array([0.0, 2.0, 1.0, 0.0]))
    data = {"solutes": ["one"], **packed([line, None])}
    times, heights = curve_of(data, 0)
    there = np.interp(line.times, times, heights)
    np.testing.assert_allclose(there, line.heights, atol=2e-5)
    assert times[-1] == pytest.approx(line.times[-1])
    assert curve_of(data, 0, own=True) is None


def test_warnings_are_kept_by_position(study, read):
    text = study.sweep.metrics["warnings"]
    for position in range(4):
        reported = [read.data["warnings"][k] for k in read.data["cases"][position]["warnings"]]
        assert reported == text[position].splitlines()
    assert any(read.data["cases"][position]["warnings"] for position in range(4))


def test_stops_say_what_the_chromatogram_is_made_of(study, read):
    for case in read.data["cases"]:
        assert case["weights"] == [1.0, 1.0]
        outside = [one["delay"] for one in case["solutes"]]
        assert min(outside) > 0
    assert "Each solute with the same amount" in read.text


FREE = ["cell.volume = 1, 5 uL", "method.flow = 0.3 .. 0.6 mL/min, 4 points"]


@pytest.fixture(scope="module")
def free(tmp_path_factory):
    file = tmp_path_factory.mktemp("free") / "hostile.toml"
    amounts = 'diffusivity = "1.1e-9 m^2/s"\namount = "1 nmol"'
    file.write_text(SCENARIO.replace('diffusivity = "1.1e-9 m^2/s"', amounts))
    return free_sliders(tailrace.load(file), FREE)


def test_a_page_that_computes_holds_the_scenario_and_what_was_marched(free):
    page = page_of(free, PROVENANCE)
    assert len(page.encode()) < 600_000
    read = SliderPage(page)
    data = read.data
    assert [tag for tag, _ in read.elements].count("script") == 3
    assert data["mode"] == "free"
    assert data["solutes"] == ["</script><script>alert(1)</script>", "later & <b>"]
    cell, flow = data["axes"]
    assert (cell["low"], cell["high"], cell["start"]) == pytest.approx((1e-9, 5e-9, 5e-9))
    assert (flow["low"], flow["high"]) == pytest.approx((5e-9, 1e-8))
    assert len(flow["stops"]) == len(flow["marks"]) == 4
    assert cell["place"] == ["path", 2, "volume"]
    # the scenario, four corners, and more at random
    assert len(data["checks"]) == len(free.positions) >= 6
    assert data["checks"][0]["at"] == [cell["start"], flow["start"]]
    for case, one in enumerate(data["checks"]):
        for lane, told in enumerate(one["solutes"]):
            name = f"recorded/{data['leading']}"
            assert told["leading"][0] == free.metrics[name][case, lane]
    assert "Each solute by its amount in the scenario" in read.text
    assert f"{len(free.positions)} of its positions were simulated" in read.text
    assert page_of(free, PROVENANCE) == page


def test_what_pages_cannot_compute_is_left_to_stops(tmp_path):
    file = tmp_path / "bent.toml"
    file.write_text(
        SCENARIO.replace(
            'length = "100 mm"',
            'length = "100 mm"\nbends = [{ length = "50 mm", radius = "20 mm" }, '
            '{ length = "50 mm", radius = "40 mm" }]',
        )
    )
    assert free_sliders(tailrace.load(file), FREE[:1]) is None


def test_a_page_that_grew_too_large_says_how_many_fit(study, page, monkeypatch):
    monkeypatch.setattr(room, "MOST_BYTES", len(page.encode()) - 1)
    with pytest.raises(BudgetError, match=r"at most 3 positions.*found 4; use fewer points"):
        page_of(study, PROVENANCE)


def test_without_a_column_and_with_a_position_that_failed(study):
    figures = dict(study.sweep.metrics)
    figures = {key: one for key, one in figures.items() if not key.startswith("column_alone/")}
    figures["computed"] = np.array([True, True, False, True])
    nothing = ((None, None),) * 4
    sweep = replace(study.sweep, metrics=figures)
    result = replace(study, sweep=sweep, own=nothing, own_errors={})
    data = SliderPage(page_of(result, PROVENANCE)).data
    assert "solutes" not in data["cases"][2]
    assert data["cases"][0]["solutes"][0]["figures"][0] == "-"
    assert curve_of(data, 0, own=True) is None


def test_what_only_a_column_has_is_marked_to_be_left_out(study, read, monkeypatch):
    of_path = room._parts
    monkeypatch.setattr(
        room, "_parts", lambda asked: [part for part in of_path(asked) if not part.separates]
    )
    assert ("main", {"class": "plain"}) in SliderPage(page_of(study, PROVENANCE)).elements
    assert ("main", {}) in read.elements


def test_it_says_how_to_make_it_again(study, read):
    asked = "--slide 'cell.volume = 1, 5 uL' --slide 'method.flow = 0.3, 0.6 mL/min'"
    assert read.text.count(f"tailrace page SCENARIO {asked}") == 1
    assert "--solute" not in read.text
    lines = {"recorded": study.recorded, "own": study.own}
    one = {name: tuple(line[1:] for line in some) for name, some in lines.items()}
    alone = SliderPage(page_of(replace(study, shown=(1,), **one), PROVENANCE))
    assert f"tailrace page SCENARIO {asked} --solute 'later & <b>'" in alone.text
    assert alone.data["solutes"] == ["later & <b>"]


def test_the_same_study_gives_the_same_bytes(study, page):
    assert page_of(study, PROVENANCE) == page
