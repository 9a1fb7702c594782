"""Products or marches: which a batch gets, what is compared, and what happens where they differ."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from reference.journeys import itinerary, plug, stream

import tailrace
from tailrace.journey import travel
from tailrace.journey.product import multiply
from tailrace.parts.detector.part import Detector
from tailrace.parts.tube.part import Tube
from tailrace.report.sentences import computed
from tailrace.studies import batch as batches
from tailrace.studies import engine as engines
from tailrace.studies.batch import Batch
from tailrace.studies.engine import FEWEST_LONG, FURTHER, MARCHES_LONG, against_products, check_of
from tailrace.studies.runner import Runner
from tailrace.studies.samples import sampled

LENGTHS = np.linspace(0.2, 0.4, 70)


def cases(**tube):
    """A batch of journeys through tubes of many lengths."""
    return Batch(
        "cases",
        tuple(
            itinerary(
                plug(0.5),
                Tube(name="tube", bore=2.5e-4, length=float(length), **tube),
                Detector(time_constant=0.1),
                passing=stream(),
            )
            for length in LENGTHS
        ),
    )


@pytest.fixture(scope="module")
def multiplied():
    runner = Runner()
    return runner.run(cases()), runner.computed


def test_many_linear_cases_are_multiplied_and_some_marched(multiplied):
    metrics, engine = multiplied
    assert (engine.multiplied, engine.marched) == (70, 0)
    assert 6 <= engine.compared <= 12
    assert 0 < engine.difference < 1e-3
    assert "products of transfer functions" in computed(engine)
    marched = Runner(engine="march").run(cases())
    assert metrics.keys() == marched.keys()
    for name, values in marched.items():
        if name.startswith("recorded/") and name != "recorded/plates_tangent":
            assert metrics[name] == pytest.approx(values, rel=2e-3, nan_ok=True), name


def test_extremes_are_marched_again_only_where_they_lie_farther_out(multiplied):
    runner = Runner()
    runner.run(cases())
    first = runner.computed.compared
    inside = replace(cases(), name="inside", itineraries=cases().itineraries[2:-2])
    runner.run(inside)
    assert runner.computed.compared - first == FURTHER
    wider = Tube(name="tube", bore=2.5e-4, length=0.6)
    (injector, liquid), _, last = inside.itineraries[0].passages
    longer = replace(inside.itineraries[0], passages=((injector, liquid), (wider, liquid), last))
    second = runner.computed.compared
    runner.run(replace(inside, name="beyond", itineraries=(*inside.itineraries, longer)))
    assert runner.computed.compared - second in (FURTHER, FURTHER + 1)


def test_neither_threads_nor_their_number_change_a_bit(multiplied):
    with ThreadPoolExecutor(3) as executor:
        again = Runner(executor).run(cases())
    for name, values in multiplied[0].items():
        np.testing.assert_array_equal(again[name], values, err_msg=name)


def test_where_products_disagree_all_is_marched(monkeypatch):
    def wrong(whole):
        result = multiply(whole)
        spoilt = result.recorded | {"width_half": 1.01 * result.recorded["width_half"]}
        return replace(result, recorded=spoilt)

    monkeypatch.setattr(batches, "by_products", wrong)
    runner = Runner()
    metrics = runner.run(cases())
    assert (runner.computed.multiplied, runner.computed.marched) == (0, 70)
    assert "differ in width" in runner.computed.reason
    assert runner.computed.difference == pytest.approx(0.01, rel=0.05)
    assert "Journeys marched" in computed(runner.computed)
    some = replace(cases(), itineraries=cases().itineraries[:3])
    expected = Runner(engine="march").run(some)["recorded/width_half"]
    assert metrics["recorded/width_half"][:3] == pytest.approx(expected, rel=1e-3)


def test_few_cases_are_marched():
    runner = Runner()
    runner.run(replace(cases(), itineraries=cases().itineraries[:3]))
    assert (runner.computed.multiplied, runner.computed.marched) == (0, 3)
    assert computed(runner.computed) == ""


def test_where_a_march_is_long_few_are_compared_and_few_cases_multiplied(monkeypatch):
    monkeypatch.setattr(engines, "march_seconds", lambda *_: 100.0)
    runner = Runner()
    runner.run(replace(cases(), itineraries=cases().itineraries[: FEWEST_LONG + 1]))
    assert runner.computed.multiplied == FEWEST_LONG + 1
    assert 2 < runner.computed.compared <= MARCHES_LONG
    first = runner.computed.compared
    runner.run(replace(cases(), name="inside", itineraries=cases().itineraries[2:6] * 2))
    assert runner.computed.multiplied == FEWEST_LONG + 9
    assert runner.computed.compared == first


def test_samples_through_two_bends_are_multiplied_since_a_march_asks_for_cumulants_too(tmp_path):
    """Of 0.25 s by its steps, each march took six times as long by those."""
    text = Path("scenarios/tolerance/column-test.toml").read_text()
    bent = text.replace(
        'length = "250 mm"\n',
        'length = "250 mm"\nbends = [{ length = "100 mm", radius = "60 mm" },'
        ' { length = "150 mm", radius = "90 mm" }]\n',
    )
    assert bent != text
    (tmp_path / "bent.toml").write_text(bent)
    scenario = tailrace.load(tmp_path / "bent.toml")
    itineraries = tuple(sampled(scenario, 100, 1).itineraries(scenario))
    assert not against_products(Batch("samples", itineraries))


def test_a_case_that_is_no_product_sends_all_to_the_march(monkeypatch):
    every = list(cases().itineraries)
    (injector, liquid), (tube, _), last = every[40].passages
    short = replace(tube, length=2e-4)
    every[40] = replace(every[40], passages=((injector, liquid), (short, liquid), last))

    class Marched(Exception):
        pass

    def travel(whole):
        raise Marched

    monkeypatch.setattr(batches, "travel", travel)
    with pytest.raises(Marched):
        Runner().run(Batch("cases", tuple(every)))


def test_where_a_coarse_march_is_off_a_finer_one_decides(monkeypatch):
    asked = []

    def coarse(whole):
        result = travel(whole)
        asked.append(whole.resolution.refinement)
        if asked[-1] > 1:
            return result
        return replace(result, recorded=result.recorded | {"area": 1.01 * result.recorded["area"]})

    monkeypatch.setattr(batches, "travel", coarse)
    runner = Runner()
    runner.run(cases())
    assert set(asked) == {1.0, 2.0}
    assert (runner.computed.multiplied, runner.computed.marched) == (70, 0)


def test_a_skewness_near_zero_is_no_share_of_itself():
    def of(skewness):
        said = {"variance": 1.0, "skewness": skewness}
        values = {f"recorded/{name}": np.array([[one]]) for name, one in said.items()}
        errors = {f"numerical_error/{name}": np.array([[1e-6]]) for name in said}
        return values | errors | {"computed": np.array([True])}

    assert not check_of(of(0.01), of(0.01), of(0.01005)).reason
    assert "skewness" in check_of(of(0.01), of(0.01), of(0.0103)).reason


def test_bends_that_are_solved_for_are_multiplied_where_that_takes_less_than_marches():
    """One chain for all cases where the detector varies, some for all where the flow does; another
    for each where tubes have little in common."""
    coil = Tube(
        name="coil", bore=1.2e-4, length=0.3, bends=((0.15, 0.03, False), (0.15, 0.03, True))
    )
    passing = replace(stream(), flow_rate=5e-9, diffusivity=1e-9, viscosity=0.9e-3)
    slower = [Detector(time_constant=one) for one in np.linspace(0.05, 0.5, 80)]
    alike = tuple(itinerary(plug(1.0), coil, one, passing=passing) for one in slower)
    flows = [replace(passing, flow_rate=one) for one in np.linspace(4e-9, 6e-9, 80)]
    apart = tuple(itinerary(plug(1.0), coil, slower[0], passing=one) for one in flows)
    assert against_products(Batch("alike", alike)) == ""
    assert against_products(Batch("flows", apart)) == ""
    sizes = np.random.default_rng(2).uniform(0.5, 2.0, (80, 2))
    coils = [replace(coil, bore=1.2e-4 * bore, length=0.3 * long) for bore, long in sizes]
    apart = tuple(itinerary(plug(1.0), one, slower[0], passing=passing) for one in coils)
    assert "bends of coil takes longer than 80 marches" in against_products(Batch("apart", apart))
