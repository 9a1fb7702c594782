"""Neighbours of a result, and where they are stored."""

from dataclasses import replace

import numpy as np
import pytest

from tailrace.records.provenance import Provenance
from tailrace.records.record import as_record, as_result
from tailrace.records.separation import separation, weights
from tailrace.records.store import read_record, write_record

ABOUT = Provenance(title="t", scenario_sha256="00", scenario="", version="0")


@pytest.fixture
def result(make_result):
    signal = {"relative_signal": np.array([0.4, 0.5, 0.6]), "noise": np.full(3, np.nan)}
    return replace(make_result(lanes=("a", "b", "c")), signal=signal)


def test_pairs_are_in_the_order_of_elution(result):
    backwards = {name: values[::-1].copy() for name, values in result.recorded.items()}
    found = separation(replace(result, recorded=backwards))
    assert (found.first, found.second) == (("c", "b"), ("b", "a"))


def test_resolution_by_hand(result):
    recorded = {"apex": np.array([10.0, 12.0, 30.0]), "width_half": np.array([1.0, 3.0, 2.0])}
    errors = {"apex": np.full(3, 0.01), "width_half": np.full(3, 0.02)}
    found = separation(replace(result, recorded=recorded, numerical_error=errors))
    # 1.17741 of 2 s over 4 s and of 18 s over 5 s; errors 0.02/2 + 0.04/4 and 0.02/18 + 0.04/5.
    assert found.half_height == pytest.approx([0.588705, 4.238676], rel=1e-6)
    assert found.numerical_error / found.half_height == pytest.approx([0.02, 0.0091111], rel=1e-5)
    assert found.critical == 0


def test_a_solute_without_a_peak_is_passed_over(result):
    recorded = {name: values.copy() for name, values in result.recorded.items()}
    recorded["apex"][1] = np.nan
    found = separation(replace(result, recorded=recorded))
    assert (found.first, found.second) == (("a",), ("c",))


def test_one_solute_has_no_neighbour(make_result):
    found = separation(make_result())
    assert found.first == ()
    assert found.critical is None


def test_weights_are_amounts_times_absorptivities(result):
    known = {"amount": np.array([1.0, 2.0, 4.0]), "absorptivity": np.array([4.0, 1.0, 1.0])}
    assert weights(replace(result, signal=known)) == pytest.approx([1.0, 0.5, 1.0])
    partly = {"amount": known["amount"], "absorptivity": np.array([4.0, np.nan, 1.0])}
    assert weights(replace(result, signal=partly)) == pytest.approx([0.25, 0.5, 1.0])
    assert weights(replace(result, signal={})) == pytest.approx([1, 1, 1])


def test_signal_and_resolution_are_stored_with_their_units(result, tmp_path):
    write_record(tmp_path / "record.h5", as_record(result, ABOUT))
    record = read_record(tmp_path / "record.h5")
    assert record["resolution"]["half_height"].values == pytest.approx(
        separation(result).half_height
    )
    assert list(record["resolution"]["second"].values) == ["b", "c"]
    assert record["resolution"]["from_valley"].attrs["units"] == "1"
    back = as_result(record)
    assert back.signal["relative_signal"] == pytest.approx([0.4, 0.5, 0.6])
    assert np.isnan(back.signal["noise"]).all()


def test_a_record_without_signal_is_read(make_result, tmp_path):
    write_record(tmp_path / "record.h5", as_record(make_result(), ABOUT))
    assert as_result(read_record(tmp_path / "record.h5")).signal == {}
