"""Set-up of every test: floating-point errors raise, figures are closed, seeds are fixed."""

import os
import sys

import numpy as np
import pytest
from hypothesis import HealthCheck, settings

if "PYTEST_XDIST_WORKER" in os.environ:
    # Workers share the processors; a test that wants more threads sets them itself.
    os.environ.setdefault("NUMBA_NUM_THREADS", "1")

settings.register_profile(
    "repeatable",
    derandomize=True,
    deadline=None,
    max_examples=25,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("repeatable")


@pytest.fixture(autouse=True)
def strict_floating_point():
    with np.errstate(divide="raise", over="raise", invalid="raise"):
        yield


@pytest.fixture(autouse=True)
def closed_figures():
    yield
    pyplot = sys.modules.get("matplotlib.pyplot")
    assert pyplot is None or not pyplot.get_fignums()
