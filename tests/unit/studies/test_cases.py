"""Many journeys from a few: the same numbers as building each."""

from dataclasses import fields, replace

import numpy as np
import pytest
from reference.tree import ROOT

from tailrace import load
from tailrace.journey.lanes import alone
from tailrace.scenario.target import with_numbers
from tailrace.studies.batch import PRODUCT, Batch, block_metrics
from tailrace.studies.cases import Cases, followed, joined
from tailrace.studies.samples import sampled

SCENARIO = ROOT / "scenarios" / "tolerance" / "column-test.toml"


def numbers(itinerary):
    """Every number of an itinerary, in its order."""
    return [
        np.asarray(getattr(record, field.name), dtype=float)
        for pair in itinerary.passages
        for record in pair
        for field in fields(record)
        if isinstance(getattr(record, field.name), (float, np.ndarray))
    ]


@pytest.fixture(scope="module")
def both():
    scenario = load(SCENARIO)
    samples = sampled(scenario, 80, 1)
    quick = samples.itineraries(scenario)
    built = [samples.part(slice(at, at + 1)).itineraries(scenario)[0] for at in range(80)]
    return quick, built


def test_cases_are_what_building_each_gives(both):
    quick, built = both
    assert isinstance(quick, Cases)
    assert len(quick) == 80
    for one, other in zip(quick, built, strict=True):
        for found, expected in zip(numbers(one), numbers(other), strict=True):
            assert found == pytest.approx(expected, rel=1e-13, nan_ok=True)


def test_joined_they_are_the_lanes_of_one_journey(both):
    quick, built = both
    some = quick.picked([3, 7, 70])
    pairs = zip(
        numbers(joined(some)), numbers(joined([built[at] for at in (3, 7, 70)])), strict=True
    )
    for found, expected in pairs:
        expected = np.broadcast_to(expected, np.shape(found))
        assert found == pytest.approx(expected, rel=1e-13, nan_ok=True)
    assert joined(some).lanes == built[0].lanes * 3


def test_a_block_of_products_makes_but_the_first_of_its_cases_by_itself(both, monkeypatch):
    made, one = set(), Cases.__getitem__

    def counted(cases, case):
        made.add(case)
        return one(cases, case)

    monkeypatch.setattr(Cases, "__getitem__", counted)
    assert block_metrics(both[0].picked(range(4)), engine=PRODUCT)["computed"].all()
    assert made <= {0}


def test_a_passage_left_out_takes_its_numbers_along(both):
    quick, _ = both

    def without_column(itinerary):
        left = tuple(pair for pair in itinerary.passages if not pair[0].separates)
        return replace(itinerary, passages=left)

    left = quick.altered(without_column)
    for case in (0, 41):
        expected = numbers(without_column(quick[case]))
        for found, wanted in zip(numbers(left[case]), expected, strict=True):
            assert found == pytest.approx(wanted, rel=1e-13, nan_ok=True)


def test_cases_end_though_no_number_of_theirs_is_moved(both):
    # a union in place of the column, where nothing but the column is uncertain
    still = replace(both[0], moved={})
    with pytest.raises(IndexError):
        still[len(still)]
    assert len(list(zip(still, range(1_000), strict=False))) == len(still)
    assert str(numbers(still[-1])) == str(numbers(still[0]))


@pytest.mark.parametrize("lane", [0, 1])
def test_one_lane_of_every_case(both, lane):
    quick, _ = both
    single = quick.alone(lane)
    assert single.base.lanes == quick.base.lanes[lane : lane + 1]
    for case in (0, 41):
        expected = numbers(alone(quick[case], lane))
        for found, wanted in zip(numbers(single[case]), expected, strict=True):
            assert found == pytest.approx(wanted, rel=1e-13, nan_ok=True)
    retained = {np.asarray(stream.retention_factor).item() for _, stream in single[41].passages}
    assert retained == {(2.0, 2.6)[lane]}


def test_numbers_that_do_not_follow_are_built():
    scenario = load(SCENARIO)

    def heated(row):
        place = ("method", "temperature")
        document = with_numbers(scenario.document, [place], row.tolist())
        return replace(scenario, document=document).itinerary()

    # the viscosity is no multiple of the temperature
    assert followed(heated, np.array([308.15]), np.linspace(300.0, 320.0, 70)[:, None]) is None


def test_two_inputs_of_one_number_are_built():
    scenario = load(SCENARIO)
    base = scenario.itinerary()

    def both_in_one(row):
        (injector, stream), *rest = base.passages
        moved = replace(injector, volume=float(row[0] + row[1]))
        return replace(base, passages=((moved, stream), *rest))

    values = np.array([[1e-9, 2e-9], [1.5e-9, 2.5e-9], [1.2e-9, 2.7e-9]])
    assert followed(both_in_one, np.array([1e-9, 2e-9]), values) is None


def test_the_fingerprint_knows_every_case(both):
    quick, _ = both
    first, other = quick.picked([1, 2]), quick.picked([1, 3])
    marks = {Batch("one", cases).fingerprint for cases in (first, other)}
    assert len(marks) == 2
