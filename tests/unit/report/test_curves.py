"""Curves of a run as CSV."""

import csv
import io

import numpy as np
import pytest

import tailrace
from tailrace.report.run import bands_csv, recorded_csv
from tailrace.scenario.examples import folder


@pytest.fixture(scope="module")
def result():
    return tailrace.run(folder() / "improved-core-shell.toml")


def rows(content):
    return list(csv.DictReader(io.StringIO(content.decode(), newline="")))


def test_moments_of_the_recorded_curve_are_those_of_the_run(result):
    table = rows(recorded_csv(result))
    for lane, name in enumerate(result.lanes):
        own = [row for row in table if row["solute"] == name]
        times = np.array([float(row["time [s]"]) for row in own])
        values = np.array([float(row["signal [1/s]"]) for row in own])
        mean = values @ times / values.sum()
        assert mean == pytest.approx(result.recorded["mean"][lane], rel=1e-6)
        variance = values @ (times - mean) ** 2 / values.sum()
        assert variance == pytest.approx(result.recorded["variance"][lane], rel=1e-4)


def test_every_band_up_to_the_recording_is_there(result):
    found = {row["part"] for row in rows(bands_csv(result))}
    assert found == {part.name for part in result.parts}
