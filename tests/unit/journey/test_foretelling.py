"""What a run will take, against the work that it then does."""

from dataclasses import replace

import numpy as np
import pytest
from reference.journeys import FLOW, gaussian, itinerary, plug, stream, tube_with

from tailrace import cache
from tailrace.journey import travel
from tailrace.journey.foretelling import COMPILING, WRITING, compile_seconds, march_seconds
from tailrace.journey.plan import first_pulse
from tailrace.journey.propagation import passed, spread
from tailrace.parts.chamber.part import Chamber
from tailrace.parts.column.cells import grid
from tailrace.parts.column.cells import march as cells
from tailrace.parts.column.part import Column
from tailrace.parts.injector.part import Injector
from tailrace.parts.tube.bent import between, march


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


def test_a_tail_is_foretold_by_the_steps_that_it_is_written_in():
    washout = Injector(shape="washout", volume=0.05 * FLOW, washout_volume=1.5 * FLOW)
    path = itinerary(washout, *tube_with(0.02, residence=0.1)[:1])
    passages = spread(path)
    written = sum(
        passed(passages[0], first_pulse(passages, one), one)[0].values.shape[1]
        for one in (path.resolution, path.resolution.coarser())
    )
    assert 0.5 < march_seconds(passages, path.resolution) / (WRITING * written) < 2


SLOW = {"kinetics": "two-site", "slow_share": 0.05, "slow_rate": 0.1, "plates": np.nan}
"""Its slow sites let go long after the band is gone, and leave only a few plates."""


@pytest.mark.parametrize("kept", [{"kinetics": "lumped"}, SLOW, {"capacity": 1e-6}])
def test_a_bed_of_cells_within_a_factor_of_two_of_its_steps(kept, monkeypatch):
    few = {"name": "bed", "bore": 2e-3, "length": 0.01, "particle_diameter": 5e-6, "plates": 99.0}
    column = Column(**few | kept)
    passing = stream(amount=1e-7, retention_factor=1.0)
    path = itinerary(gaussian(20.0), column, passing=passing)
    work = []

    def counted(kernel):
        def passed(inlet, face, *more):
            out, left = kernel(inlet, face, *more)
            cells_and_steps = face * np.count_nonzero(np.abs(out) > 1e-13 * out.max())
            work.append(cells_and_steps * (1 + np.size(more[4])) / 2)  # by kinds of sites
            return out, left

        return passed

    for name in ("_kernel_exchange", "_kernel_langmuir"):
        monkeypatch.setattr(cells, name, counted(getattr(cells, name)))
    travel(path)
    spent = sum(work) / (grid.LIMITED if "capacity" in kept else grid.EXCHANGED)
    assert 0.5 < march_seconds(spread(path), path.resolution) / spent < 2


def test_what_no_site_holds_passes_a_bed_of_two_kinds_of_sites():
    column = Column(name="bed", bore=2e-3, length=0.01, particle_diameter=5e-6, **SLOW)
    path = itinerary(gaussian(20.0), column, passing=stream(retention_factor=0.0))
    with np.errstate(invalid="raise"):
        assert march_seconds(spread(path), path.resolution) < 5


def test_a_bed_of_less_than_a_plate_is_foretold_with_the_cells_behind_it():
    # a particle of 0.5 mm, by a slip of units: 1,600 cells hold something, of which 24 are the bed
    column = Column(
        name="bed", bore=2e-3, length=5e-3, particle_diameter=5e-4, kinetics="lumped", plates=0.25
    )
    path = itinerary(gaussian(1.0), column, passing=stream())
    assert march_seconds(spread(path), path.resolution) > 5


def test_what_no_cache_holds_is_compiled_first(tmp_path, monkeypatch):
    tube, passing = tube_with(0.3)
    passages = spread(itinerary(plug(1.0), tube, passing=passing))
    monkeypatch.setenv(cache.VARIABLE, str(tmp_path))
    assert compile_seconds(passages) == 2 * COMPILING
    (tmp_path / "tube_0a1b").mkdir()
    (tmp_path / "tube_0a1b" / "march._kernel-1.py311.nbi").touch()
    assert compile_seconds(passages) == COMPILING


def test_a_close_coil_at_high_flow_is_foretold_before_anything_is_solved_for(monkeypatch):
    """Its exact cumulants took minutes, which were spent before the run said so."""
    solved = []
    monkeypatch.setattr(between, "chain_cumulants", lambda chain: solved.append(chain) or (1, 1))
    tube, passing = tube_with(0.04)
    coil = replace(tube, bend_radius=4 * tube.bore)
    path = itinerary(plug(1.0), coil, coil, passing=passing)
    assert march_seconds(spread(path), path.resolution) > 60
    assert not solved
