"""Radii of very close bends cannot be told apart; whoever is shown a fitted one is told."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from tailrace.eluent.stream import Stream
from tailrace.journey.product import cumulants_of
from tailrace.parts.tube.part import Tube
from tailrace.report.measured import diagnosis, fit
from tailrace.report.measured.section import CLOSE_BENDS

STREAM = Stream(flow_rate=1e-6 / 60, diffusivity=np.array([1e-10]), viscosity=1e-3, density=1000.0)
TUBE = Tube(name="coil", bore=0.25e-3, length=2.0)


def variance(strength):
    """Of a coil of some De^2 nu/D, as studies of measured signals take it."""
    schmidt = STREAM.viscosity / (STREAM.density * STREAM.diffusivity[0])
    squared = strength / schmidt
    radius = TUBE.dean_number(STREAM, 1.0) ** 2 / squared
    return float(cumulants_of([replace(TUBE, bend_radius=radius).as_factor(STREAM)])[0].variance[0])


def test_bends_are_alike_above_a_hundred_thousand_and_not_below():
    assert variance(8e5) == pytest.approx(variance(2e5), rel=1e-6)
    assert variance(2e4) > 1.03 * variance(2e5)


@pytest.mark.parametrize(
    ("field", "told"),
    [("coil.bend_radius", True), ("coil.bends 1.radius", True), ("coil.bore", False)],
)
def test_a_fitted_radius_comes_with_that_caution(field, told):
    nothing = dict.fromkeys(("at_fault", "stood_in", "alike", "unseen", "indistinguishable"), ())
    likely = SimpleNamespace(fields=(field,), probability=0.9, name=field)
    study = SimpleNamespace(hypotheses=(likely,), next_measurement=None, **nothing)
    assert (CLOSE_BENDS in diagnosis.cautions(study)) == told
    freed = SimpleNamespace(field=field, told_by_data=True, cut="")
    assert (CLOSE_BENDS in fit.cautions(SimpleNamespace(free=(freed,), **nothing))) == told
