"""Numbers of the pages as people read them: what is gained adds up."""

import json
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from reference import javascript

from tailrace.web import assemble

pytestmark = pytest.mark.skipif(bool(javascript.missing()), reason=javascript.missing())
NUMBERS = Path(assemble.__file__).parent / "shown" / "numbers.js"


@pytest.fixture(scope="module")
def ask():
    racer = pytest.importorskip("py_mini_racer")
    context = racer.MiniRacer()
    context.eval(assemble.bundled(NUMBERS))
    return lambda name, *given: context.eval(
        f"{name}(...JSON.parse({json.dumps(json.dumps(given))}))"
    )


@pytest.mark.parametrize(
    ("value", "decimals", "expected"),
    [
        (7443.4, 0, 7443),
        (24957.2, 0, 24957),
        (134567, 0, 134570),
        (123.456, 2, 123.46),
        (0, 0, 0),
    ],
)
def test_plates_are_whole_and_peak_capacities_have_two_decimals(ask, value, decimals, expected):
    assert ask("counted", value, decimals) == expected


@pytest.mark.parametrize(
    ("low", "high", "decimals", "expected"),
    [
        (11519, 11521, 0, "11519 to 11521"),
        (7334, 8343, 0, "7330 to 8350"),
        (11398, 11520, 0, "11390 to 11520"),
        (41.23, 41.31, 1, "41.2 to 41.4"),
    ],
)
def test_a_range_holds_all_that_lies_in_it(ask, low, high, decimals, expected):
    assert ask("outward", low, high, decimals) == expected


@pytest.mark.parametrize(("decimals", "scale"), [(0, 3e4), (2, 300.0), (0, 3e5)])
def test_what_is_gained_step_by_step_adds_up_as_it_is_shown(ask, decimals, scale):
    values = np.random.default_rng(3).uniform(0.2, 1, 30) * scale
    shown = [ask("counted", one, decimals) for one in values]
    told = [ask("gained", now, was, decimals) for was, now in pairwise(values)]
    reached = shown[0]
    for text, value in zip(told, shown[1:], strict=True):
        reached += 0 if text == "±0" else float(text.replace("−", "-"))
        assert reached == pytest.approx(value, rel=1e-12)


def test_nothing_that_is_shown_is_told_as_nothing(ask):
    assert ask("gained", 7443.4, 7443.1) == "±0"
    assert ask("gained", 7443.6, 7443.4) == "+1"
    assert ask("gained", 7400, 7443.4) == "−43"
