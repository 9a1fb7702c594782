"""Captions of the gallery say what is shown, whatever values were asked for."""

import numpy as np
import pytest

from tailrace.studies.gallery.captions import (
    of_cells,
    of_heights,
    of_noise,
    of_outlets,
    of_retention,
)


@pytest.mark.parametrize(
    ("numbers", "crests", "there", "absent"),
    [
        ((0.01, 10.0), (0.51, 0.99), "(at X = 0.01 the signal peaks at 0.51)", "Gaussian at 1"),
        ((20.0, 5.0), (1.0, 0.98), "; at X = 5 the signal peaks at 0.98", "long tail"),
        ((0.02,), (0.51,), "for the Fourier number X = 0.02,", " to "),
    ],
)
def test_a_long_tail_is_told_only_where_there_is_one(numbers, crests, there, absent):
    caption = of_outlets(numbers, crests)
    assert there in caption
    assert absent not in caption


def noisy(constants, clear):
    lines = np.array(clear) / max(clear)
    return {
        "time_constant": np.array(constants),
        "height_kept": lines,
        "plates_kept": lines,
        "clear": lines,
    }


def test_each_trace_is_named_and_the_best_is_not_compared_with_itself():
    caption = of_noise(noisy((0.5, 1.0), (0.8, 1.0)), [0, 1], "a solute", 1.5)
    assert "a time constant of 0.5 s, 1 s," in caption
    assert "best at 1 s" in caption
    assert caption.endswith(
        "; at 0.5 s 80 % of the plates are kept, and 80 % of the best signal over noise."
    )
    alone = of_noise(noisy((3.0,), (1.0,)), [0], "a solute", 1.5)
    assert alone.endswith("100 % of the plates are kept.")


def test_one_value_is_no_range():
    told = {"solute": "a solute", "wide": 12.0, "mixed": "wholly mixed", "kept": "98 % at 0.1"}
    assert "as a cell of 0.1 times" in of_cells([0.1], **told)
    assert "as cells of 0.1 to 2 times" in of_cells([0.1, 2.0], **told)
    kept = np.array([[97.0], [20.0]])
    assert "97 % are kept, of the smallest 20 %" in of_retention([3.0], kept)
    named = {"solute": "a solute", "factor": 2.5, "own": 7.27, "least": 35.1, "fast": 4.8}
    flows = {"own_flow": 1.0, "flow": 1.0}
    assert "at 1 mL/min" in of_heights(np.array([1.0]), **named, **flows)
    assert "best" not in of_heights(np.array([1.0]), **named, **flows)
