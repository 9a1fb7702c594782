"""The one door: what it offers, that it loads late, and what a result can be handed on as."""

import ast
import inspect
import json
import subprocess
import sys

import numpy as np
import pytest
from reference.scenario_texts import TUBE

import tailrace
from tailrace.errors import TailraceError
from tailrace.identity import own_version
from tailrace.scenario.scenario import Scenario


@pytest.fixture(scope="module")
def scenario(tmp_path_factory):
    file = tmp_path_factory.mktemp("door") / "tube.toml"
    file.write_text(TUBE)
    return tailrace.load(file)


@pytest.fixture(scope="module")
def result(scenario):
    return tailrace.run(scenario)


def test_the_door_offers_what_it_says():
    assert set(tailrace.__all__) == {
        "__version__", "compare", "diagnose", "fit", "improve", "load", "measure", "read", "run",
        "sweep", "tolerance",
    }  # fmt: skip
    assert tailrace.__version__ == own_version()
    with pytest.raises(AttributeError, match="no attribute 'travel'"):
        tailrace.travel  # noqa: B018


@pytest.mark.parametrize("name", sorted(set(tailrace.__all__) - {"__version__"}))
def test_each_says_what_it_takes_and_what_it_raises(name):
    function = getattr(tailrace, name)
    text = inspect.getdoc(function)
    assert "Raises\n------" in text
    taken = inspect.signature(function)
    assert taken.return_annotation != inspect.Signature.empty
    for one in taken.parameters.values():
        assert one.annotation != inspect.Parameter.empty
        assert one.name in text


def test_the_engine_can_be_chosen(scenario):
    vary = ["tube.bore = 0.2 .. 0.25 mm, 64 points"]
    ways = [tailrace.sweep(scenario, vary, engine=one) for one in ("product", "march")]
    assert [one.engine.multiplied for one in ways] == [64, 0]
    apart = ways[0].metrics["recorded/variance"] / ways[1].metrics["recorded/variance"] - 1
    assert 0 < abs(apart).max() < 1e-3
    with pytest.raises(TailraceError, match="expected a known engine"):
        tailrace.sweep(scenario, vary, engine="table")


def test_what_it_says_of_choices_is_what_there_is():
    """The annotations name every aim, order, generator and solver."""
    from tailrace.signals.resolution import SOLVERS
    from tailrace.studies.improving.aims import AIMS, ORDERS
    from tailrace.studies.samples import GENERATORS

    for function, name, known in (
        (tailrace.improve, "aim", AIMS),
        (tailrace.improve, "order", ORDERS),
        (tailrace.tolerance, "generator", GENERATORS),
        (tailrace.run, "solver", SOLVERS),
    ):
        written = inspect.signature(function).parameters[name].annotation
        named = ast.literal_eval(written.removeprefix("Literal").removesuffix(" | None"))
        # Empty: the one by default, which depends on the scenario.
        assert {*named} - {""} == {*known}, name


def test_a_run_by_file_and_by_scenario_is_the_same(scenario, result):
    again = tailrace.run(str(scenario.path))
    for name, values in result.recorded.items():
        np.testing.assert_array_equal(again.recorded[name], values)
    coarse = tailrace.run(scenario, accuracy=1e-2)
    assert coarse.recorded["variance"] != result.recorded["variance"]
    np.testing.assert_allclose(coarse.recorded["variance"], result.recorded["variance"], rtol=1e-3)


def test_what_is_saved_is_read_back(result, tmp_path):
    result.save(tmp_path / "tube.h5")
    again = tailrace.read(tmp_path / "tube.h5")
    assert type(again) is type(result)
    for name, values in result.recorded.items():
        np.testing.assert_array_equal(again.recorded[name], values)
    assert again.source.scenario == result.source.text
    again.save(tmp_path / "again.h5")
    assert tailrace.read(tmp_path / "again.h5").to_json() == again.to_json() == result.to_json()


def test_a_result_is_handed_on_in_every_form(scenario, result, tmp_path):
    assert json.loads(result.to_json())["scenario_sha256"] == scenario.sha256
    assert "variance" in result.to_xarray()["recorded"]
    assert scenario.title in result.to_html()
    assert result.plot().svg().lstrip().startswith(b"<?xml")
    for ending in ("json", "html", "svg", "png", "pdf", "nc"):
        result.save(tmp_path / f"one.{ending}")
        assert (tmp_path / f"one.{ending}").stat().st_size > 500
    with pytest.raises(TailraceError, match="ends in"):
        result.save(tmp_path / "one.txt")


CHANGE = '[[changes]]\nname = "short"\nset = { tube = { length = "100 mm" } }\n'


def test_an_improvement_is_handed_on_and_read_back(tmp_path):
    made = tailrace.improve(Scenario.from_text(TUBE + CHANGE, tmp_path), aim="tailing")
    assert made.steps[-1].taken == ("short",)
    made.save(tmp_path / "one.h5")
    again = tailrace.read(tmp_path / "one.h5")
    assert again.to_json() == made.to_json()
    again.save(tmp_path / "two.h5")
    assert tailrace.read(tmp_path / "two.h5").scenario.text == TUBE + CHANGE
    assert "short" in made._repr_html_() and "short" in again.to_html()
    assert b"<svg" in made.plot().svg()


@pytest.mark.parametrize(
    ("vary", "together"),
    [
        (["tube.length = 0.3, 0.5 m"], False),
        (["tube.length = 0.3, 0.5 m", "tracer.diffusivity = 1e-9, 2e-9 m^2/s"], False),
        (["tube.bore = 0.1, 0.12 mm", "method.flow = 0.5, 1 mL/min"], True),
    ],
)
def test_a_sweep_is_handed_on_and_read_back(scenario, vary, together, tmp_path):
    made = tailrace.sweep(scenario, vary, together=together)
    made.save(tmp_path / "one.h5")
    again = tailrace.read(tmp_path / "one.h5")
    assert again.to_json() == made.to_json()
    assert set(again.metrics) == set(made.metrics)
    assert again.to_xarray().identical(made.to_xarray())
    assert "tracer" in made._repr_html_() and "tracer" in made.to_html()
    assert b"<svg" in made.plot().svg()


def test_a_line_of_a_sweep_goes_over_values_in_the_unit_of_the_trade(scenario):
    made = tailrace.sweep(scenario, ["tube.bore = 0.1, 0.12 mm"])
    (panel,) = made.plot().figure.axes
    assert panel.get_xlabel() == "tube: bore, mm"
    np.testing.assert_allclose(panel.lines[0].get_xdata(), [0.1, 0.12], rtol=1e-12)


def test_all_of_it_is_loaded_late():
    code = "import sys, tailrace; print(*[name for name in sys.modules if 'tailrace' in name])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)
    assert set(done.stdout.split()) == {"tailrace", "tailrace.cache", "tailrace.display"}, (
        done.stderr
    )
