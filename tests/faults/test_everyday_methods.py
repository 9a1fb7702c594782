"""Scenarios that were refused though nothing is odd about them."""

import numpy as np
import pytest

from tailrace.journey import travel
from tailrace.journey.propagation import propagate, spread
from tailrace.scenario.scenario import Scenario

METHOD = """
[method]
flow = "1 mL/min"
viscosity = "0.5 mPa*s"
[injection]
shape = "plug"
volume = "1 uL"
[[path]]
name = "t"
part = "tube"
bore = "0.12 mm"
length = "200 mm"
[[path]]
name = "c"
part = "column"
bore = "4.6 mm"
length = "250 mm"
particle_diameter = "5 um"
plates = 20000
"""
SOLUTE = """
[[solutes]]
name = "s{}"
retention_factor = {}
diffusivity = "1e-9 m^2/s"
"""


@pytest.mark.parametrize("factors", [(1, 2, 5, 10, 20)])
def test_the_number_of_solutes_refuses_nothing(factors):
    solutes = "".join(SOLUTE.format(index, one) for index, one in enumerate(factors))
    journey = Scenario.from_text(METHOD + solutes).itinerary()
    stages = propagate(tuple(spread(journey)), journey.resolution.coarser())
    assert stages[-1].moments.variance.shape == (len(factors),)


SPARSE = """
[method]
flow = "0.6 mL/min"
viscosity = "0.6 mPa*s"
[[solutes]]
name = "a"
retention_factor = 2.1
diffusivity = "1.2e-9 m^2/s"
[injection]
shape = "plug"
volume = "2 uL"
[[path]]
name = "column"
part = "column"
bore = "2.1 mm"
length = "100 mm"
particle_diameter = "2.7 um"
plates = 17000
[detector]
interval = "3 s"
sampling_phase = {}
"""


def test_points_too_far_apart_take_no_variance_off_a_peak():
    found = np.array(
        [
            travel(Scenario.from_text(SPARSE.format(phase)).itinerary())
            .parts[-1]
            .variance_simulated
            for phase in (0.0, 0.2, 0.4, 0.6, 0.8)
        ]
    )
    assert np.isnan(found).any()
    assert np.all(found[np.isfinite(found)] >= 0)
