"""Signal and noise: what is compared, and what is not known."""

import numpy as np
import pytest
from reference.journeys import FLOW, gaussian, itinerary, stream

from tailrace.journey import travel
from tailrace.journey.signal import compared, too_dark
from tailrace.parts.cell.part import Cell
from tailrace.parts.detector.part import Detector


def signal_with(volume=1e-9, light_path=float("nan"), constant=0.1):
    cell = Cell(name="cell", volume=volume, light_path=light_path)
    detector = Detector(time_constant=constant)
    return travel(itinerary(gaussian(1.0), cell, detector)).signal


def test_a_shorter_light_path_costs_signal_and_a_faster_detector_noise():
    first = signal_with(light_path=0.010, constant=0.1)
    after = compared(signal_with(light_path=0.003, constant=0.025), first)
    # 3 mm over 10 mm; a root of four for the noise (white noise). The peak is ten times as wide as
    # what the filter adds: a hundredth of its variance, half of that of its height.
    assert after["signal"] == pytest.approx([0.3], rel=0.006)
    assert after["noise"] == pytest.approx([2.0])
    assert after["signal_to_noise"] == pytest.approx(after["signal"] / 2)


def test_without_light_paths_the_concentrations_are_compared():
    first, after = signal_with(), signal_with(volume=5e-8)
    # A peak of variance 1 s^2 through a mixed volume of 5 s is the lower one.
    assert 0.05 < compared(after, first)["signal"][0] < 0.5
    assert np.isnan(first["light_path"]).all()


def test_where_one_light_path_is_missing_nothing_is_compared():
    first, after = signal_with(light_path=0.01), signal_with()
    assert np.isnan(compared(after, first)["signal"]).all()


def test_a_path_without_cell_column_and_detector_has_little_to_say():
    signal = travel(itinerary(gaussian(1.0))).signal
    known = {name for name, values in signal.items() if np.isfinite(values).all()}
    assert known == {"concentration_recorded"}
    # Height 1/(sigma sqrt(2 pi)) of a Gaussian over the flow.
    expected = 1 / (np.sqrt(2 * np.pi) * FLOW)
    assert signal["concentration_recorded"] == pytest.approx([expected], rel=1e-4)


def test_a_detector_without_any_filter_has_no_noise_to_speak_of():
    signal = travel(itinerary(gaussian(1.0), Detector(interval=0.05))).signal
    assert np.isnan(signal["relative_noise"]).all()


def test_a_peak_too_dark_for_a_detector_is_a_warning():
    cell = Cell(name="cell", volume=1e-9, light_path=0.01)
    solutes = stream(amount=np.array([1e-9, 1e-8]), absorptivity=np.array([6e3, 6e3]))
    result = travel(itinerary(gaussian(1.0), cell, passing=solutes, lanes=("thin", "thick")))
    # n absorptivity l / (F sigma sqrt(2 pi)) = 2.4 and 24 AU, by hand.
    assert result.signal["absorbance"] == pytest.approx([2.38, 23.8], rel=0.01)
    assert [line.split(":")[0] for line in result.warnings] == ["thin", "thick"]
    assert "24 AU" in result.warnings[1]
    assert too_dark({"absorbance": np.array([1.4, np.nan])}, ("a", "b")) == []
