"""Solutes that leave early and one that leaves very late, by points: exact curves say the same."""

from functools import partial

import numpy as np
import pytest
from reference import transfer as known
from reference.journeys import itinerary, plug, stream

from tailrace.journey.lanes import Alike
from tailrace.journey.product import cumulants_of, multiplied, multiply, unresolved
from tailrace.journey.propagation import spread
from tailrace.measures import measure
from tailrace.parts.column.part import Column
from tailrace.parts.detector.part import Detector
from tailrace.signals.band import Band
from tailrace.studies.cases import joined

COLUMN = Column(name="column", bore=2.1e-3, length=0.05, particle_diameter=2e-6, plates=10_000)
WIDTHS = (*("width_half", "tailing_5", "asymmetry_10"), *("plates_half_height", "plates_tangent"))


def path_of(factors, duration=0.5, constant=0.1, interval=0.2):
    passing = stream(retention_factor=np.array(factors))
    detector = Detector(time_constant=constant, interval=interval)
    lanes = tuple(f"solute {at}" for at in range(len(factors)))
    return itinerary(plug(duration), COLUMN, detector, passing=passing, lanes=lanes)


def chain(omega, retention, duration, constant):
    """Plug, column and detector."""
    before = known.plug(omega, duration) * known.column(omega, retention, COLUMN.plates)
    return before * known.tanks(omega, constant, 1)


@pytest.mark.parametrize("late", [50.0, 2_000.0])
def test_an_early_solute_is_exact_beside_one_that_leaves_very_late(late):
    # of the late one the window is so long that 8,192 frequencies of it would not reach far enough
    path = path_of((0.5, 1.0, late))
    found = multiply(path)
    band, retentions = found.recorded_band, COLUMN.residence(path.passages[1][1])
    for lane in range(2):
        times = band.times[lane][band.values[lane] > 1e-9 * band.values[lane].max()]
        curve = partial(chain, retention=retentions[lane], duration=0.5, constant=0.1)
        values = known.back_to_time(curve, times, 60.0, 12_000)
        exact = measure(Band(values[None], times[:1], band.step[:1]))
        for name in WIDTHS:
            one, true = float(found.recorded[name][lane]), float(exact[name][0])
            assert one == pytest.approx(true, rel=1e-5), (name, lane)
            assert abs(one - true) <= found.numerical_error[name][lane], (name, lane)


def test_where_a_top_is_flat_its_apex_is_said_to_be_unknown():
    # 300 s of a plug behind a column that blurs it by less than 1 s: flat to the last digit
    found = multiply(path_of((0.5, 1.0), duration=300.0))
    plateau = found.recorded["width_half"] - 10 * np.sqrt(2) * 4
    assert np.all(found.numerical_error["apex"] > 0.3 * plateau)
    assert np.all(found.numerical_error["asymmetry_10"] > found.recorded["asymmetry_10"])
    assert np.all(found.numerical_error["width_half"] < 1e-4 * found.recorded["width_half"])


def test_a_round_top_is_known_as_well_as_the_signal():
    found = multiply(path_of((0.5, 1.0), interval=0.04))
    for name in WIDTHS:
        assert np.all(found.numerical_error[name] < 2e-4 * found.recorded[name]), name


def test_instruments_that_are_alike_share_what_they_do_beside_a_late_solute():
    paths = [path_of((0.5, 1.0, 2_000.0), constant=one) for one in (0.1, 0.15, 0.2)]
    whole = joined(paths)
    passages = spread(whole)
    versions = [np.zeros(9, dtype=int), np.tile(np.arange(3), 3), np.arange(9)]
    alike, bound = multiplied(Alike(passages, versions, 3))
    apart, alone = multiplied(passages, cumulants_of(passages))
    assert bound == pytest.approx(alone, abs=1e-7)
    one, other = measure(alike), measure(apart)
    for name in WIDTHS:
        assert one[name] == pytest.approx(other[name], rel=2e-7), name


def test_an_early_solute_does_not_make_a_late_one_unresolved():
    assert not unresolved(spread(path_of((0.5, 1.0, 2_000.0))))
