"""What a run will take, against the work that it then does."""

from dataclasses import replace

import numpy as np
import pytest
from reference.journeys import gaussian, itinerary, plug, tube_with

from tailrace.journey import travel
from tailrace.journey.foretelling import march_seconds
from tailrace.journey.propagation import spread
from tailrace.parts.chamber.part import Chamber
from tailrace.parts.tube.bent import march


@pytest.mark.parametrize("injection", [gaussian(0.1), plug(0.4)], ids=["smooth", "plug"])
def test_within_a_factor_of_two_of_the_work_that_is_done(injection, monkeypatch):
    tube, passing = tube_with(0.3)
    path = itinerary(injection, replace(tube, bend_radius=0.6), passing=passing)
    done, work = [], march._work

    def counted(*given):
        done.append(work(*given))
        return done[-1]

    monkeypatch.setattr(march, "_work", counted)
    travel(path, blame=True)
    spent = sum(done) / march.MULTIPLICATIONS
    monkeypatch.undo()
    assert 0.5 < march_seconds(spread(path), path.resolution) / spent < 2


def test_nothing_is_foretold_of_what_takes_no_time():
    tube, passing = tube_with(0.3)
    path = itinerary(plug(1.0), tube, Chamber(name="mixer", volume=1e-9), passing=passing)
    assert march_seconds(spread(path), path.resolution) == 0.0
    assert np.isinf(tube.bend_radius)
