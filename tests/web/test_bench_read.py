"""The bench in a browser: what a person reads off it, on the screen and on paper."""

import re
from itertools import pairwise

import pytest
from reference.benches import FOUND

pytestmark = pytest.mark.skipif(FOUND is None, reason="needs chromium and chromedriver")


def test_what_is_gained_adds_up_as_it_is_shown(bench):
    bench.click("tick-1")
    bench.ordered()
    number = r"(\d+(?:\.\d+)?)"
    told = bench.text("headline")
    now = re.match(rf"{number} plates", told)[1]
    was, more = re.search(rf"Before: {number} \(\+{number}\)", told).groups()
    assert int(was) + int(more) == int(now)
    steps = bench.run(
        "return [...document.querySelectorAll('#staircase text')].map((one) => one.textContent)"
    )[1::2]
    reached = [re.match(rf"{number}(?: \(([+−]){number}\))?$", one).groups() for one in steps]
    for (before, *_), (after, _, step) in pairwise(reached):
        assert int(before) + int(step) == int(after)
    gains = bench.run(
        "return [...document.querySelectorAll('.change .gain')].map((one) => one.textContent)"
    )
    shares = [int(re.search(r"together \+(\d+)", one)[1]) for one in gains]
    assert int(reached[0][0]) + sum(shares) == int(reached[-1][0])
