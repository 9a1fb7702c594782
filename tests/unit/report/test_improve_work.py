"""What a change does, in words: two documents compared."""

import copy
import tomllib

import pytest
from reference.improvements import SCENARIO

from tailrace.report.improvement.work import described, work


@pytest.fixture
def before():
    return tomllib.loads(SCENARIO)


@pytest.fixture
def after(before):
    return copy.deepcopy(before)


def test_a_new_value_is_told_with_the_old_one(before, after):
    after["path"][0]["bore"] = "0.12 mm"
    done = work(before, after)
    assert done.tasks == ("tube to column: bore 0.17 mm to 0.12 mm",)
    assert done.parts == ("tube to column: tube, bore 0.12 mm, length 300 mm",)


def test_a_new_key_and_one_that_goes(before, after):
    after["path"][3]["light_path"] = "6 mm"
    del after["path"][3]["volume"]
    assert work(before, after).tasks == ("flow cell: volume no longer 13 uL, light path 6 mm",)


def test_a_part_that_goes_needs_no_part(before, after):
    del after["path"][1]
    done = work(before, after)
    assert done.tasks == ("column heater: take it out",)
    assert done.parts == ()


@pytest.mark.parametrize(
    ("at", "where"),
    [
        (0, "before tube to column"),
        (1, "between tube to column and column heater"),
        (4, "behind flow cell"),
    ],
)
def test_a_part_that_comes_is_told_with_its_place(before, after, at, where):
    after["path"].insert(at, {"name": "mixer", "part": "chamber", "volume": "5 uL"})
    done = work(before, after)
    assert done.tasks == (f"mixer: put it in {where}: chamber, volume 5 uL",)
    assert done.parts == ("mixer: chamber, volume 5 uL",)


def test_another_kind_of_part_under_the_same_name(before, after):
    after["path"][1] = {"name": "column heater", "part": "chamber", "volume": "1 uL"}
    assert work(before, after).tasks == ("column heater: put chamber, volume 1 uL in its place",)


def test_settings_need_no_part(before, after):
    after["detector"]["time_constant"] = "0.02 s"
    after["method"]["eluent"] = {"water": 0.3, "acetonitrile": 0.7}
    done = work(before, after)
    assert done.tasks == (
        "method: eluent water 0.25 and acetonitrile 0.75 to water 0.3 and acetonitrile 0.7",
        "detector: time constant 0.2 s to 0.02 s",
    )
    assert done.parts == ()


def test_a_heater_is_called_heated():
    heater = {"name": "h", "part": "tube", "bore": "0.12 mm", "heater": True}
    assert described(heater) == "heated tube, bore 0.12 mm"


def test_nothing_to_do(before, after):
    assert work(before, after).tasks == ()


@pytest.mark.parametrize(
    ("bends", "told"),
    [
        ([("400 mm", "straight")], "straight"),
        (
            [("100 mm", "straight"), ("300 mm", "20 mm")],
            "100 mm straight, then 300 mm on a radius of 20 mm",
        ),
    ],
)
def test_how_a_tube_lies_is_told_in_words(bends, told):
    stretches = [{"length": length, "radius": radius} for length, radius in bends]
    tube = {"part": "tube", "name": "tube", "bore": "0.1 mm", "bends": stretches}
    assert described(tube) == f"tube, bore 0.1 mm, {told}"


@pytest.mark.parametrize(
    ("written", "told"),
    [
        ("0.121312 mm", "0.121 mm"),
        ("0.1016 mm", "0.1016 mm"),
        ("1.61094 uL", "1.61 uL"),
        ("1013.25 hPa", "1013 hPa"),
        ("12500 1/m", "12500 1/m"),
        ("0.00602928 uL", "0.00603 uL"),
    ],
)
def test_digits_that_no_person_wrote_are_not_told(written, told):
    assert described({"part": "cell", "volume": written}) == f"cell, volume {told}"


def test_values_that_differ_in_late_digits_only_are_told_in_full(before, after):
    before["path"][0]["bore"], after["path"][0]["bore"] = "0.121312 mm", "0.121318 mm"
    assert work(before, after).tasks == ("tube to column: bore 0.121312 mm to 0.121318 mm",)
