"""The tube's kernel against plain linear algebra, and the grids that it is given."""

from itertools import pairwise

import numpy as np
import pytest

from tailrace.parts.tube.grid import grid
from tailrace.parts.tube.layout import Layout
from tailrace.parts.tube.march import GAMMA, _Run, station_lengths
from tailrace.parts.tube.radial import radial_scheme
from tailrace.parts.tube.vector import LANES
from tailrace.signals import Band, Resolution

MIXING, RESIDENCE, WIDTH = 0.4, 1.3, 0.2
RINGS, INSTANTS = 5, 45


def matrix(rows):
    return np.diag(rows[1:, 0], -1) + np.diag(rows[:, 1]) + np.diag(rows[:-1, 2], 1)


def by_plain_algebra(inlet, step, stations, fourier):
    """The scheme as its docstrings state it, with full matrices: one lane.

    P (A c_s + H c_t) = K c; Alexander's two stages along s, trapezoidal rule in t.
    """
    scheme = radial_scheme(RINGS)
    weighting, exchange = matrix(scheme.weighting), matrix(scheme.exchange)
    advance, hold = np.diag(scheme.advance), np.diag(scheme.hold)
    lengths = station_lengths(
        np.array([fourier]), np.array([WIDTH * fourier / RESIDENCE]), stations
    )
    tau = step * fourier / RESIDENCE
    old = np.zeros((stations, 2, RINGS + 1))
    outlet, before = np.zeros(inlet.size), 0.0
    for n, value in enumerate(inlet):
        enters = np.full(RINGS + 1, (value + before) / 2)  # the mean of two instants, as all here
        before = value
        for m, h in enumerate(lengths[:, 0]):
            # y = u + h (share k1 + GAMMA k2), and hold (new - old)/tau with y half way
            matrix_here = weighting @ (advance + GAMMA * h * 2 / tau * hold) - GAMMA * h * exchange
            base = enters
            for stage in (0, 1):
                held = GAMMA * h * 2 / tau * hold @ old[m, stage]
                mean = np.linalg.solve(matrix_here, weighting @ (advance @ base + held))
                old[m, stage] = 2 * mean - old[m, stage]
                # the first slope's share of the second stage is 1 - GAMMA
                base = enters + (1 - GAMMA) / GAMMA * (mean - enters)
            enters = mean
        outlet[n] = 2 * scheme.flux_weights @ enters - (outlet[n - 1] if n else 0.0)
    return outlet


@pytest.mark.parametrize("stations", [2, 3, 20])
@pytest.mark.parametrize("lanes", [1, 2, 3, 4, 8, 9])
def test_the_kernel_solves_what_the_scheme_says(stations, lanes):
    # a row of the kernel holds eight instants of one lane, or one of eight; short tubes have fewer
    # stations than that
    fourier = MIXING * np.linspace(1.0, 1.6, lanes)
    step = np.full(lanes, 0.07)
    inlet = np.exp(-(((np.arange(20) - 8) / 3.0) ** 2) / 2) * np.linspace(1.0, 2.0, lanes)[:, None]
    run = _Run(fourier, np.full(lanes, RESIDENCE), np.full(lanes, WIDTH), RINGS, 1e-13)
    left = run.through(Band(inlet, np.zeros(lanes), step), stations)
    assert left.start == pytest.approx(np.full(lanes, RESIDENCE / 2))
    padded = np.zeros(INSTANTS)
    for lane in range(lanes):
        padded[:20] = inlet[lane]
        expected = by_plain_algebra(padded, step[lane], stations, fourier[lane])
        assert left.values[lane, :INSTANTS] == pytest.approx(expected, abs=1e-12)


def test_a_wide_cut_ends_the_march_earlier():
    band = Band(np.ones((1, 10)), np.zeros(1), np.array([0.05]))
    ends = []
    for cut in (1e-2, 1e-8):
        run = _Run(np.array([MIXING]), np.array([RESIDENCE]), np.array([WIDTH]), RINGS, cut)
        left = run.through(band, 8)
        assert left.area[0] == pytest.approx(band.area[0], rel=1.01 * cut)
        ends.append(left.values.shape[1])
    assert ends[0] < ends[1]


@pytest.mark.parametrize("lanes", [1, 2, 4, 8])
def test_stations_stand_in_reverse_with_room_for_a_row_at_both_ends(lanes):
    layout = Layout(5, lanes)
    numbers = np.arange(5.0 * lanes).reshape(5, lanes)
    row = layout.placed(numbers, -1.0)
    room = LANES - lanes
    assert row.size == layout.stride
    assert row[:room].tolist() == [-1.0] * room
    assert row[room : room + lanes].tolist() == numbers[4].tolist()
    assert row[room + 4 * lanes : room + 5 * lanes].tolist() == numbers[0].tolist()
    assert set(row[room + 5 * lanes :]) <= {-1.0}
    assert row.size >= 5 * lanes + 2 * room
    assert (row.size // LANES) % 2 == 1


def rings(fourier, width=0.1, refinement=1.0):
    resolution = Resolution(refinement=refinement)
    return grid(np.array([fourier]), np.ones(1), np.array([width]), resolution)[0]


def test_fewer_rings_for_tubes_in_which_the_band_has_time_to_mix():
    chosen = [rings(fourier) for fourier in (0.003, 0.03, 0.1, 0.3, 1.0)]
    assert all(more > fewer for more, fewer in pairwise(chosen))
    assert rings(1.0) == rings(100.0)


def test_rings_follow_fineness_down_to_the_fewest_that_the_scheme_has():
    assert rings(1.0, refinement=2.0) == pytest.approx(2 * rings(1.0), abs=1)
    assert rings(100.0, refinement=0.05) == 4


def test_a_scheme_is_made_once_and_cannot_be_changed():
    scheme = radial_scheme(RINGS)
    assert radial_scheme(RINGS) is scheme
    with pytest.raises(ValueError, match="read-only"):
        scheme.hold[0] = 1.0
