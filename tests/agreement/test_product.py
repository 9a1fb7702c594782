"""A product of transfer functions against the march, against exact curves, and at its bounds."""

from dataclasses import replace

import numpy as np
import pytest
from reference import transfer as known
from reference.journeys import FLOW, gaussian, itinerary, plug, stream, tube_with
from reference.products import apart, random_path

from tailrace.errors import AccuracyError
from tailrace.journey import travel
from tailrace.journey.product import multiply, not_multiplied
from tailrace.journey.propagation import spread
from tailrace.measures import measure
from tailrace.parts.cell.part import Cell
from tailrace.parts.column.part import Column
from tailrace.parts.detector.part import Detector
from tailrace.parts.tube.part import Tube
from tailrace.signals.band import Band
from tailrace.signals.resolution import Resolution


@pytest.mark.parametrize("seed", range(10))
def test_random_linear_paths_are_within_the_error_of_the_march(seed):
    # benchmarks/product.py does so with 500; twice as fine as usual, where the estimate of the
    # march's error falls short in none of them
    path = random_path(np.random.default_rng([14, seed]))
    while not_multiplied([(part, one.over(1)) for part, one in path.passages]):
        seed += 100
        path = random_path(np.random.default_rng([14, seed]))
    found = apart(replace(path, resolution=Resolution(refinement=2.0)))
    assert {name for name, (one, allowed, _) in found.items() if abs(one) > allowed} == set()


def test_a_chain_is_what_its_exact_curve_says():
    tube, passing = tube_with(0.4, 1.0)
    cell = Cell(name="cell", volume=0.2 * FLOW, tanks=1)
    found = multiply(itinerary(plug(0.3), tube, cell, passing=passing)).recorded
    times = np.linspace(0.0, 8.0, 8001)

    def chain(omega):
        exact = known.plug(omega, 0.3) * known.tanks(omega, 0.2, 1)
        return exact * known.tube(omega, 0.4, 1.0, modes=32)

    exact = known.back_to_time(chain, times, 400.0, 1600)
    expected = measure(Band(exact[None], times[:1], np.array([times[1]])))
    for name in ("width_half", "tailing_5", "plates_half_height", "asymmetry_10", "height"):
        assert found[name] == pytest.approx(expected[name], rel=1e-5), name
    variance = 0.3**2 / 12 + 0.2**2 + known_variance(0.4)
    assert found["variance"][0] == pytest.approx(variance, rel=1e-6)


def known_variance(fourier):
    """Of a tube with residence 1, from the second difference of its transfer function."""
    small = np.array([0.02, 0.04])
    said = -2 * np.log(np.abs(known.tube(small, fourier, 1.0, modes=20))) / small**2
    return float((4 * said[0] - said[1]) / 3)


def test_points_are_taken_where_the_march_takes_them():
    tube, passing = tube_with(0.4, 1.0)
    detector = Detector(time_constant=0.05, interval=0.08, sampling_phase=0.3)
    path = itinerary(plug(0.3), tube, detector, passing=passing)
    marched, product = travel(path), multiply(path)
    one, other = marched.recorded_band, product.recorded_band
    assert other.step == pytest.approx(one.step, rel=1e-12)
    assert (other.start - one.start) / 0.08 == pytest.approx(
        np.rint((other.start - one.start) / 0.08), abs=1e-6
    )
    assert product.recorded["width_half"] == pytest.approx(marched.recorded["width_half"], rel=1e-3)


def test_what_is_said_of_parts_and_signal_is_what_the_march_says():
    column = Column(name="column", bore=2.1e-3, length=0.05, particle_diameter=3e-6, plates=5000)
    cell = Cell(name="cell", volume=5e-9, tanks=2)
    parts = gaussian(0.5), Tube(name="tube", bore=1.2e-4, length=0.3), column, cell
    path = itinerary(
        *parts,
        Detector(time_constant=0.1),
        passing=stream(retention_factor=np.array([1.0, 3.0])),
        lanes=("one", "other"),
    )
    marched, product = travel(path), multiply(path)
    for one, other in zip(marched.parts, product.parts, strict=True):
        for name in ("mean_simulated", "variance_simulated", "skewness_simulated"):
            expected = getattr(one, name)
            assert getattr(other, name) == pytest.approx(expected, rel=3e-3, abs=1e-6, nan_ok=True)
    for name, values in marched.signal.items():
        assert product.signal[name] == pytest.approx(values, rel=1e-3, nan_ok=True), name
    for name, values in marched.column_alone.items():
        assert product.column_alone[name] == pytest.approx(values, rel=1e-3), name


def test_many_solutes_that_need_different_grids_share_a_block():
    column = Column(name="column", bore=2.1e-3, length=0.05, particle_diameter=3e-6, plates=5000)
    factors = np.array([0.0, 1.0, 30.0])
    path = itinerary(plug(0.1), column, passing=stream(retention_factor=factors), lanes=("a",) * 3)
    together = multiply(path)
    for lane, factor in enumerate(factors):
        alone = multiply(itinerary(plug(0.1), column, passing=stream(retention_factor=factor)))
        for name in ("width_half", "tailing_5", "apex"):
            expected = alone.recorded[name][0]
            assert together.recorded[name][lane] == pytest.approx(expected, rel=2e-6), name


S_BEND = ((0.15, 0.02, False), (0.15, 0.02, True))


@pytest.mark.parametrize(
    ("parts", "reason"),
    [
        ((plug(1.0),), "nothing smooths it"),
        ((plug(1.0), Tube(name="stub", bore=1e-4, length=1e-4)), "Fourier number of stub"),
    ],
)
def test_what_is_no_product_is_refused(parts, reason):
    with pytest.raises(AccuracyError, match=reason):
        multiply(itinerary(*parts))


def test_a_band_with_edges_says_what_its_frequencies_leave_open():
    # a plug and a short tube alone: the front is met by ever higher frequencies
    sharp, passing = tube_with(0.004, 1.0)
    found = multiply(itinerary(plug(0.05), sharp, passing=passing))
    smooth, passing = tube_with(1.0, 1.0)
    eased = multiply(itinerary(plug(0.05), smooth, passing=passing))
    assert found.numerical_error["height"] > 3 * eased.numerical_error["height"]
    assert eased.numerical_error["height"] < 1e-5 * eased.recorded["height"]


def test_journeys_through_a_bend_are_products_where_it_is_tabulated_or_they_are_many():
    coil = Tube(name="coil", bore=1e-4, length=0.3, bend_radius=0.1)
    assert not not_multiplied(spread(itinerary(plug(1.0), coil)))
    passages = spread(itinerary(plug(1.0), replace(coil, length=0.02)))
    assert "coil has bends" in not_multiplied(passages)
    assert not not_multiplied(passages, many=True)
    solved = spread(itinerary(plug(1.0), Tube(name="S", bore=1e-4, length=0.3, bends=S_BEND)))
    assert "S has bends" in not_multiplied(solved)
    assert not not_multiplied(solved, many=True)
