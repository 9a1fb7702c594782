"""Numbers of a fit that rounding must not decide: derivatives, and uncertainties at an end."""

from types import SimpleNamespace

import numpy as np
import pytest
from scipy.stats import norm

from tailrace.report.measured.diagnosis import _shown
from tailrace.signals import Band
from tailrace.studies.measured import trying
from tailrace.studies.measured.optimising import Optimum
from tailrace.studies.measured.problem import Side
from tailrace.studies.measured.trying import Tried


def _delayed(values, times, step):
    """The derivative with the delay as ``Side.changes`` has it, nothing projected out."""
    side = object.__new__(Side)
    side.times = times
    side.projected = lambda signal, slopes: slopes
    return side.changes(Band(values[None], np.array([-8.0]), np.array([step])), 0.0, np.empty(0))[0]


def test_the_derivative_with_the_delay_is_that_of_the_curve_and_keeps_its_digits():
    """A normal curve's is known; of one that is rounded otherwise 13 digits are the same."""
    step, times = 0.05, np.linspace(-5.0, 5.0, 77)
    values = norm.pdf(np.arange(-8.0, 8.0, step))
    found = _delayed(values, times, step)
    assert found == pytest.approx(times * norm.pdf(times), abs=2e-5)
    rounded = values * (1 + 1e-16 * np.random.default_rng(1).choice([-1, 0, 1, 2], values.size))
    assert np.abs(_delayed(rounded, times, step) - found).max() < 2e-14


def test_a_value_at_an_end_of_what_was_tried_has_no_uncertainty(monkeypatch):
    """No squares rise beyond it: the covariance gave a radius of 7 m give or take 500 m."""
    monkeypatch.setattr(trying, "rest_of", lambda *_: SimpleNamespace(scatter=1.0))
    problem = SimpleNamespace(
        sizes=np.array([2.0, 3.0]), bounds=(np.array([0.5, 0.5, -9.0]), np.array([1.0, 4.0, 9.0]))
    )
    optimum = Optimum(
        values=np.array([1.0, 1.0, 0.2]), squares=1.0, jacobian=np.diag([1e-2, 0.5, 1.0]),
        left=np.zeros(3),
    )  # fmt: skip
    tried = Tried(
        suspects=(None, None), problem=problem, optimum=optimum, evidence=0.0, squares=(1.0,)
    )
    assert tried.deviations == pytest.approx([np.nan, 6.0], nan_ok=True)
    assert _shown(7.2, "length", "m", float(tried.deviations[0])) == _shown(7.2, "length", "m")
    assert "±" in _shown(7.2, "length", "m", 1.0)
