"""``engine="march"`` in studies of measured signals: marched where else products are multiplied."""

import numpy as np
import pytest
from reference.measured import measured_scenario, with_rows

import tailrace
from tailrace.cli import measured as told
from tailrace.studies.gallery import compute, curves
from tailrace.studies.measured import bench, comparing, diagnosing, protocol
from tailrace.studies.measured.bench import benches
from tailrace.studies.measured.inventing import Invention
from tailrace.studies.measured.practising import practice

TWO = with_rows(("u05", ""), ("u10", 'flow = "1.0 mL/min"'))


@pytest.fixture(scope="module")
def scenario():
    return measured_scenario(TWO, [Invention(interval=0.05)] * 2, 14)


@pytest.fixture
def marches(monkeypatch):
    """Marches of signals, counted."""
    made, march = [], bench.propagate

    def counted(*asked):
        made.append(asked)
        return march(*asked)

    monkeypatch.setattr(bench, "propagate", counted)
    return made


def test_a_fit_marches_each_measurement_until_it_rests_and_finds_the_same(scenario, marches):
    found = tailrace.fit(scenario, ["flow cell.volume"])
    assert not marches
    marched = tailrace.fit(scenario, ["flow cell.volume"], engine="march")
    assert len(marches) >= 2 * 2
    (one,), (other,) = found.free, marched.free
    assert one.value != other.value
    assert other.value == pytest.approx(one.value, abs=0.2 * one.standard_uncertainty)
    assert other.standard_uncertainty == pytest.approx(one.standard_uncertainty, rel=0.02)


def test_a_comparison_multiplies_nothing(scenario, monkeypatch):
    found = tailrace.compare(scenario)
    monkeypatch.setattr(comparing, "by_products", None)
    marched = tailrace.compare(scenario, engine="march")
    for name, one in marched.measured.items():
        other = found.measured[name]
        assert not np.array_equal(one.simulated, other.simulated)
        assert one.simulated == pytest.approx(other.simulated, abs=1e-3 * other.simulated.max())


def test_a_diagnosis_begins_with_what_is_marched(scenario, marches):
    (first, _) = benches(scenario)
    assert diagnosing._standing((first, first), "product").lacks is None and not marches
    assert diagnosing._standing((first, first), "march").lacks is not None
    assert len(marches) == 1


def test_what_a_plan_expects_is_marched(scenario, marches):
    def expected(engine):
        return protocol._measurings(*protocol._invented(planned, engine), engine)

    planned = protocol.plan(scenario, 500.0)
    found = expected("product")
    assert not marches
    marched = expected("march")
    assert len(marches) == 2 * len(marched)
    for one, other in zip(marched, found, strict=True):
        assert one.width != other.width
        assert one.width == pytest.approx(other.width, rel=1e-3)


def test_exercises_can_be_invented_by_marches(scenario, marches):
    multiplied, marched = (practice(scenario, 3, engine=one) for one in ("product", "march"))
    assert len(marches) == len(marched.files) and marched.factor == multiplied.factor
    assert marched.files != multiplied.files and marched.text == multiplied.text


def test_figures_of_many_paths_multiply_nothing(monkeypatch):
    multiplied = compute("retention", values="1, 3")
    monkeypatch.setattr(curves, "multiply", None)
    marched = compute("retention", values="1, 3", engine="march")
    for name in ("plates_recorded", "plates_column", "kept"):
        expected = multiplied.column(name)
        assert marched.column(name) == pytest.approx(expected, rel=1e-3) and expected.size


def test_edges_that_no_product_resolves_are_said_to_be_marched(scenario, capsys):
    assert not bench.edged(scenario)
    told._foretold(scenario, 3, "product")
    assert "edge" not in capsys.readouterr().err
    # 20 nL at once into a wide tube, whose front is met by ever higher frequencies
    sharp = scenario.changed(
        {
            "method.flow": "2 mL/min",
            "injection.volume": "0.02 uL",
            "tube to column.bore": "0.3 mm",
            "tube to column.length": "125 mm",
            "tube to cell.bore": "0.02 mm",
            "tube to cell.length": "100 mm",
            "flow cell.volume": "0.0001 uL",
            "detector.time_constant": "0 s",
        }
    )
    assert bench.edged(sharp)
    told._foretold(sharp, 3, "product")
    assert "an edge is left" in capsys.readouterr().err
