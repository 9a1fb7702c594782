"""Paths with a gradient, products before and behind the column, against marches and themselves."""

from dataclasses import replace

import numpy as np
import pytest
from reference.gradients import column, stream
from reference.journeys import gaussian, itinerary, plug
from reference.products import apart

from tailrace.errors import AccuracyError
from tailrace.journey import migration
from tailrace.journey.migrated import Migrated
from tailrace.journey.migration import by_products, not_by_products
from tailrace.journey.product import multiply
from tailrace.journey.propagation import spread
from tailrace.parts import KINDS
from tailrace.parts.cell.part import Cell
from tailrace.parts.chamber.part import Chamber
from tailrace.parts.column.gradient import MigrationColumn
from tailrace.parts.detector.part import Detector
from tailrace.parts.tube.part import Tube
from tailrace.signals.resolution import Resolution
from tailrace.studies.cases import joined

STEEP = column(6.0, 300.0, 4.0, ((0.0, 0.2), (60.0, 0.9)), dwell=8.0)
STEPPED = column(6.0, 80.0, 3.0, ((0.0, 0.1), (20.0, 0.1), (20.0, 0.6), (90.0, 0.7)), plates=3e3)
SHALLOW = column(6.0, 12.0, 2.0, ((0.0, 0.2), (300.0, 0.6)), head_volume=2e-9, plates=8e3)
MIXER = Chamber(name="mixer", volume=6e-9, tanks=2)
CELL = Cell(name="cell", volume=8e-9, tanks=2)
DETECTOR = Detector(time_constant=0.2, interval=0.05)
PATHS = {
    "steep": (gaussian(1.0), MIXER, STEEP, Tube(name="tube", bore=1.2e-4, length=1.0), DETECTOR),
    "stepped": (gaussian(0.6), STEPPED, CELL, DETECTOR),
    "shallow": (plug(1.5), MIXER, SHALLOW, CELL, Detector()),
    "edges": (plug(1.5), STEPPED, DETECTOR),
    "two columns": (plug(1.5), MIXER, SHALLOW, CELL, replace(STEEP, name="second"), DETECTOR),
}


@pytest.mark.parametrize("part", [STEEP, STEPPED], ids=["steep", "stepped"])
def test_derivatives_at_zero_are_the_cumulants(part):
    """Of a peak so narrow that all of it goes the way of its middle, which closed form follows."""
    sigma, passing = 1e-3, stream()
    path = Migrated(spread(itinerary(gaussian(sigma), part, passing=passing)))
    sums, said = path.sums[-1], KINDS[part.kind].theory(part, passing.over(1))
    own = part.variance_passed(passing.over(1)) * sigma**2
    assert sums.mean == pytest.approx(said.mean, rel=1e-6)
    assert sums.variance == pytest.approx(said.variance + own, rel=1e-5)
    reduced = 0.35 * np.sin(np.linspace(0.15, np.pi / 2, 16))
    omega = reduced / np.sqrt(sums.variance)
    found = path.spectra(omega[None], (1,))[0][0] * np.exp(1j * omega * sums.mean)
    powers = reduced[:, None] ** (2 * np.arange(5))
    real = np.linalg.lstsq(powers, np.log(np.abs(found)) / reduced**2, rcond=None)[0]
    odd = np.linalg.lstsq(powers, np.angle(found) / reduced, rcond=None)[0]
    assert odd[0] == pytest.approx(0.0, abs=2e-6)
    assert -2 * real[0] == pytest.approx(1.0, rel=2e-5)
    assert 6 * odd[1] == pytest.approx(sums.third[0] / sums.variance[0] ** 1.5, rel=1e-3)


def path(name, refinement=1.0):
    made = itinerary(*PATHS[name], passing=stream())
    return replace(made, resolution=Resolution(refinement=refinement))


@pytest.mark.parametrize("name", PATHS)
def test_products_about_a_gradient_are_within_the_error_of_the_march(name):
    # twice as fine as usual, where the estimate of the march's error does not fall short
    found = apart(path(name, 2.0))
    assert {key for key, (one, allowed, _) in found.items() if abs(one) > allowed} == set()


@pytest.mark.parametrize("name", PATHS)
def test_the_error_that_is_stated_holds_what_finer_passages_change(name):
    usual, finer = by_products(path(name)), by_products(path(name, 3.0))
    for key, error in usual.numerical_error.items():
        moved = np.abs(usual.recorded[key] - finer.recorded[key])
        assert not np.any(moved > error), key


def test_what_is_said_of_parts_is_what_they_add():
    result = by_products(path("steep"))
    tube, detector = (result.parts[at] for at in (3, 4))
    assert tube.variance_simulated == pytest.approx(tube.variance_exact, rel=1e-9)
    # behind the column nothing is focused; before it all but what the compressed share passes
    assert result.parts[3].gradient_focusing == pytest.approx(0.0)
    assert 0.5 < result.parts[1].gradient_focusing[0] < 1.0
    # its filter, and what points take: their sum is that of the curve
    assert detector.variance_simulated == pytest.approx(0.2**2, rel=1e-4)


def test_where_no_band_migrates_it_is_the_product_and_some_paths_are_marched():
    plain = itinerary(gaussian(0.5), CELL, DETECTOR, passing=stream())
    np.testing.assert_equal(by_products(plain).recorded, multiply(plain).recorded)
    own = MigrationColumn(
        **{
            one: getattr(STEEP, one)
            for one in ("name", "bore", "length", "particle_diameter", "plates", "porosity")
        },
        sample_factor=0.5,
        sample_volume=1e-8,
    )
    for parts, why in (
        ((gaussian(1.0), CELL, STEEP, DETECTOR), "cell stands before"),
        ((gaussian(1.0), own, CELL), "a solvent of its own"),
        ((gaussian(1.0), STEEP, Tube(name="t", bore=2e-4, length=0.02, bend_radius=0.02)), "bends"),
    ):
        wrong = itinerary(*parts, passing=stream(retention_factor=2.0))
        assert why in not_by_products(spread(wrong))
    with pytest.raises(AccuracyError, match="march it"):
        by_products(itinerary(gaussian(1.0), CELL, STEEP, passing=stream()))


def test_what_begins_alike_passes_the_column_once(monkeypatch):
    # three injections, each with two detectors
    sigmas, constants = [0.6, 0.6, 0.9, 0.9, 1.3, 1.3], [0.1, 0.4] * 3
    each = [
        itinerary(gaussian(one), STEPPED, CELL, replace(DETECTOR, time_constant=filtered),
                  passing=stream())
        for one, filtered in zip(sigmas, constants, strict=True)
    ]  # fmt: skip
    alone = [by_products(one) for one in each]
    crossed, march = [], migration.passed

    def counted(passage, band, resolution):
        crossed.append(band.lanes)
        return march(passage, band, resolution)

    monkeypatch.setattr(migration, "passed", counted)
    whole = by_products(joined(each))
    assert crossed == [3, 3]
    for case, one in enumerate(alone):
        for name, value in one.recorded.items():
            apart = abs(whole.recorded[name][case] - value[0])
            assert not apart > one.numerical_error[name][0] + 1e-9 * abs(value[0]), name
        assert whole.column_alone["variance"][case] == pytest.approx(
            one.column_alone["variance"][0], rel=1e-6
        )
