"""What notebooks show: found without a picture library until it is asked for, and harmless."""

import subprocess
import sys
from dataclasses import replace

import pytest
from reference.slider_pages import SliderPage
from reference.tree import ROOT

from tailrace.display import Displayed, Handed
from tailrace.report.forms import html
from tailrace.report.tables import parts_table, recorded_table


@pytest.fixture(scope="module")
def scenario(tmp_path_factory):
    import tailrace

    file = tmp_path_factory.mktemp("notebook") / "tube.toml"
    file.write_text(
        """
title = "<b>A tube</b>"
[method]
flow = "1 mL/min"
eluent = { viscosity = "1 mPa*s" }
[[solutes]]
name = "a & b"
diffusivity = "1e-9 m^2/s"
[injection]
shape = "plug"
volume = "1 uL"
[[path]]
name = "<i>tube</i>"
part = "tube"
bore = "0.12 mm"
length = "300 mm"
"""
    )
    return tailrace.load(file)


def test_a_result_shows_its_tables_and_one_picture(make_result):
    result = make_result(lanes=("a", "b"), warnings=("<b>too</b> short",))
    read = SliderPage(result._repr_html_())
    worst = 0
    for table in (recorded_table(result), parts_table(result, worst)):
        assert table.title in read.text
        for row in table.rows:
            assert " ".join(" ".join(row).split()) in read.text
    assert [tag for tag, _ in read.elements].count("svg") == 1
    assert "Warning: <b>too</b> short" in read.text


def test_two_results_on_one_page_do_not_share_a_name(make_result):
    names = [
        {attrs["id"] for _, attrs in SliderPage(one._repr_html_()).elements if "id" in attrs}
        for one in (make_result(lanes=("a",)), make_result(lanes=("b",)))
    ]
    assert names[0]
    assert not names[0] & names[1]


def test_a_result_without_bands_shows_its_tables_alone(make_result):
    result = make_result()
    parts = tuple(replace(part, band=None) for part in result.parts)
    read = SliderPage(replace(result, parts=parts)._repr_html_())
    assert "svg" not in [tag for tag, _ in read.elements]
    assert recorded_table(result).title in read.text


def test_a_scenario_shows_its_path_and_what_it_rests_on(scenario):
    read = SliderPage(scenario._repr_html_())
    # pi/4 (0.12 mm)^2 x 300 mm = 3.39 uL; at 1 mL/min 0.204 s
    for text in ("<b>A tube</b>", "a & b", "<i>tube</i> tube 3.39 0.204", "1.00e-09"):
        assert text in read.text
    assert all(line in read.text for line in scenario.assumptions())


def test_an_itinerary_shows_its_path(scenario):
    read = SliderPage(scenario.itinerary()._repr_html_())
    assert "<i>tube</i> tube 3.39 0.204" in read.text


def test_every_class_that_is_displayed_has_a_view():
    shown = [
        one for one in (*Displayed.__subclasses__(), *Handed.__subclasses__()) if one != Handed
    ]
    assert len(shown) >= 3
    for one in shown:
        assert html.dispatch(one) is not html.dispatch(object), one


def test_a_short_repr_names_and_counts(make_result, scenario):
    assert repr(make_result(lanes=("a", "b"))).startswith("Result(lanes=(a, b), parts: ")
    assert repr(scenario) == "Scenario('<b>A tube</b>', solutes: 1, parts: 1)"
    assert len(repr(make_result())) < 200


def test_no_picture_library_is_loaded_before_a_notebook_asks():
    code = (
        "import sys, tailrace, tailrace.journey, tailrace.scenario.read\n"
        "print('matplotlib' in sys.modules, 'tailrace.report' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)
    assert done.stdout.split() == ["False", "False"], done.stderr


def test_a_sweep_of_several_solutes_shows_neighbours_too():
    import tailrace

    scenario = tailrace.load(ROOT / "scenarios" / "lessons" / "slow-detector.toml")
    made = tailrace.sweep(scenario, ["detector.time_constant = 0.02, 0.5 s"])
    read = SliderPage(made._repr_html_())
    assert all(word in read.text for word in ("Cases", "Neighbours", "resolution", "0.8666"))
