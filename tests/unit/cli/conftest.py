"""Commands within this process tell nothing that depends on how fast the machine is."""

import math

import pytest

from tailrace.cli import studying


@pytest.fixture(autouse=True)
def never_slow(monkeypatch):
    """How long is left is told from SOON on: a test of its own sets it."""
    monkeypatch.setattr(studying, "SOON", math.inf)
