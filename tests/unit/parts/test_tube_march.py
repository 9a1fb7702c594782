"""The tube's kernel against its scheme in plain linear algebra, and the grids that it is given."""

from itertools import pairwise

import numpy as np
import pytest

from tailrace.parts.tube.dense import outlet
from tailrace.parts.tube.grid import axial_steps, grid
from tailrace.parts.tube.layout import Layout
from tailrace.parts.tube.march import _Run
from tailrace.parts.tube.radial import radial_scheme
from tailrace.parts.tube.vector import LANES
from tailrace.signals import Band, Resolution

MIXING, RESIDENCE, WIDTH = 0.4, 1.3, 0.2
NODES, TIMES = 6, 45


def lengths_of(fourier, steps):
    return axial_steps(np.array([fourier]), np.array([WIDTH * fourier / RESIDENCE]), steps)[:, 0]


@pytest.mark.parametrize("steps", [2, 3, 20])
@pytest.mark.parametrize("lanes", [1, 2, 3, 4, 8, 9])
def test_the_kernel_solves_what_the_scheme_says(steps, lanes):
    # a row holds eight time steps of one lane, or one of eight; short tubes have fewer
    # axial steps than that
    fourier = MIXING * np.linspace(1.0, 1.6, lanes)
    step = np.full(lanes, 0.07)
    inlet = np.exp(-(((np.arange(20) - 8) / 3.0) ** 2) / 2) * np.linspace(1.0, 2.0, lanes)[:, None]
    run = _Run(fourier[None], np.full((1, lanes), RESIDENCE), np.full(lanes, WIDTH), NODES, 1e-13)
    left = run.through(Band(inlet, np.zeros(lanes), step), [steps])
    assert left.start == pytest.approx(np.full(lanes, RESIDENCE / 2))
    padded = np.zeros(TIMES)
    for lane in range(lanes):
        padded[:20] = inlet[lane]
        tau = step[lane] * fourier[lane] / RESIDENCE
        expected = outlet(padded, tau, lengths_of(fourier[lane], steps), NODES)
        assert left.values[lane, :TIMES] == pytest.approx(expected, abs=1e-12)


def test_a_wide_cut_ends_the_march_earlier():
    band = Band(np.ones((1, 10)), np.zeros(1), np.array([0.05]))
    ends = []
    for cut in (1e-2, 1e-8):
        run = _Run(np.array([[MIXING]]), np.array([[RESIDENCE]]), np.array([WIDTH]), NODES, cut)
        left = run.through(band, [8])
        assert left.area[0] == pytest.approx(band.area[0], rel=1.01 * cut)
        ends.append(left.values.shape[1])
    assert ends[0] < ends[1]


@pytest.mark.parametrize("lanes", [1, 2, 4, 8])
def test_axial_steps_stand_in_reverse_with_room_for_a_row_at_both_ends(lanes):
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


def nodes(fourier, width=0.1, refinement=1.0):
    resolution = Resolution(refinement=refinement)
    return grid(np.array([[fourier]]), np.ones((1, 1)), np.array([width]), resolution)[0]


def test_fewer_nodes_for_tubes_in_which_the_band_has_time_to_mix():
    chosen = [nodes(fourier) for fourier in (0.003, 0.03, 0.1, 0.3, 1.0)]
    assert all(more > fewer for more, fewer in pairwise(chosen))
    assert nodes(1.0) == nodes(100.0)


def test_nodes_follow_refinement_down_to_the_fewest_that_the_scheme_has():
    assert nodes(1.0, refinement=2.0) == pytest.approx(2 * nodes(1.0) - 1, abs=1)
    assert nodes(100.0, refinement=0.05) == 5


def test_a_scheme_is_made_once_and_cannot_be_changed():
    scheme = radial_scheme(NODES)
    assert radial_scheme(NODES) is scheme
    with pytest.raises(ValueError, match="read-only"):
        scheme.hold[0] = 1.0
