"""Resolution, height and noise, simulated, against what closed forms say of them."""

import numpy as np
import pytest
from reference.journeys import FLOW, gaussian, itinerary, plug, stream
from scipy.signal import lfilter
from scipy.stats import gamma, norm

from tailrace.journey import travel
from tailrace.measures.chromatogram import gaussian_valley
from tailrace.parts.cell.part import Cell
from tailrace.parts.column.part import Column
from tailrace.parts.detector.part import Detector
from tailrace.records.separation import separation
from tailrace.scenario.scenario import Scenario

DEAD_TIME, PLATES = 60.0, 2e4
RETENTION = np.array([2.0, 2.08, 3.0])
WIDTHS = DEAD_TIME * (1 + RETENTION) / np.sqrt(PLATES)


def column():
    length = DEAD_TIME * FLOW / (0.6 * np.pi * 1e-6)
    bed = {"bore": 2e-3, "particle_diameter": 3e-6, "porosity": 0.6}
    return Column(name="column", length=length, plates=PLATES, **bed)


def travelled(*parts, **solute):
    passing = stream(retention_factor=RETENTION, **solute)
    return travel(itinerary(*parts, passing=passing, lanes=("a", "b", "c")))


def test_resolution_of_a_column_is_that_of_its_plates():
    # Of Gaussians with N plates: Rs = sqrt(N)/2 (k2 - k1)/(2 + k1 + k2), from Rs = dt/(4 sigma)
    # with the mean of two sigma (Said's form of the resolution equation; from memory). A peak of
    # N plates is no Gaussian: the rest is of the order of 1/N and of the injection's width.
    found = separation(travelled(gaussian(1e-3), column()))
    expected = np.sqrt(PLATES) / 2 * np.diff(RETENTION) / (2 + RETENTION[1:] + RETENTION[:-1])
    assert found.half_height == pytest.approx(expected, rel=2e-4)
    assert found.column_alone == pytest.approx(expected, rel=2e-4)
    assert found.first + found.second == ("a", "b", "b", "c")
    assert found.critical == 0


def test_a_tenth_of_the_plates_is_a_twentieth_of_the_resolution():
    # Rs goes with the root of the plates: 0.9486833 (Martin, Eon and Guiochon, J. Chromatogr. 108
    # (1975) 229; from memory). The injected band takes a tenth of the plates of the first peak.
    found = separation(travelled(gaussian(WIDTHS[0] / 3), column()))
    assert found.half_height[0] / found.column_alone[0] == pytest.approx(0.9486833, rel=3e-3)
    sum_of_widths = np.sqrt(WIDTHS**2 + WIDTHS[0] ** 2 / 9)
    exact = (WIDTHS[1:] + WIDTHS[:-1]) / (sum_of_widths[1:] + sum_of_widths[:-1])
    assert found.half_height / found.column_alone == pytest.approx(exact, rel=2e-4)


def test_the_valley_on_the_recorded_trace():
    found = separation(travelled(gaussian(1e-3), column(), Detector(interval=0.1)))
    centres = DEAD_TIME * (1 + RETENTION[:2])
    times = np.linspace(centres[0] - 3, centres[1] + 3, 20001)
    trace = sum(norm.pdf(times, c, s) for c, s in zip(centres, WIDTHS[:2], strict=True))
    between = trace[np.searchsorted(times, centres[0]) : np.searchsorted(times, centres[1])]
    expected = between.min() / trace[times > times[np.argmin(abs(trace - between.min()))]].max()
    # Peaks of 20 000 plates lean by a skewness of about 2/sqrt(N): a valley moves by a hundredth.
    assert found.valley_to_peak[0] == pytest.approx(expected, rel=0.02)
    assert found.valley_to_peak[0] == pytest.approx(
        gaussian_valley(4 * found.from_valley[0]), rel=1e-9
    )
    assert np.isnan(found.from_valley[1])


def test_the_tallest_concentration_of_a_peak():
    # c_max = n sqrt(N) / (V_R sqrt(2 pi)) with the retention volume V_R (any textbook, for example
    # Snyder and Kirkland, Introduction to Modern Liquid Chromatography; from memory); absorbance
    # by Lambert and Beer: 1200 m^2/mol = 12 000 L/mol/cm.
    tiny = Cell(name="cell", volume=FLOW * 1e-3, light_path=0.01)
    solute = {"amount": 2e-9, "absorptivity": 1200.0}
    signal = travelled(gaussian(1e-3), column(), tiny, **solute).signal
    tallest = np.sqrt(PLATES / (2 * np.pi)) / (FLOW * DEAD_TIME * (1 + RETENTION))
    assert signal["concentration_in_cell"] == pytest.approx(tallest, rel=2e-4)
    assert signal["concentration_recorded"] == pytest.approx(tallest, rel=2e-4)
    assert signal["absorbance"] == pytest.approx(2e-9 * tallest * 1200 * 0.01, rel=2e-4)
    assert signal["relative_signal"] == pytest.approx(1.0, rel=2e-4)


def test_the_concentration_of_a_plug_in_a_mixed_cell():
    # Three tanks answer an even injection of length T with the difference of two gamma
    # distributions (Levenspiel, Chemical Reaction Engineering, 3rd ed., chapter 14; from memory).
    length, residence = 60.0, 20.0
    cell = Cell(name="cell", volume=FLOW * residence, tanks=3)
    times = np.linspace(0, 3 * length, 300_001)
    filled = gamma.cdf(times, 3, scale=residence / 3)
    tallest = (filled - gamma.cdf(times - length, 3, scale=residence / 3)).max() / length
    signal = travel(itinerary(plug(length), cell)).signal
    assert signal["concentration_in_cell"] == pytest.approx([tallest / FLOW], rel=1e-5)


@pytest.mark.parametrize(
    ("constant", "interval", "averaged"),
    [(0.5, 0.05, False), (0.5, 0.05, True), (0.1, 0.4, True), (0.0, 0.2, True)],
)
def test_noise_is_that_of_filtered_white_noise(constant, interval, averaged):
    # Drawn, not derived: white noise of one-sided density 2 step (variance 1 a sample) through
    # the exact first-order filter, then averaged. 3 % is four standard errors of the spread of
    # 300 s over the shorter correlation time; the seed is fixed.
    step = 0.002
    noise = np.random.default_rng(7).standard_normal(3_000_000)
    decay = np.exp(-step / constant) if constant else 0.0
    signal = lfilter([1 - decay], [1, -decay], noise)
    if averaged:
        points = int(interval / step)
        signal = signal[: signal.size // points * points].reshape(-1, points).mean(axis=1)
    bandwidth = Detector(
        time_constant=constant, interval=interval, averaged=averaged
    ).noise_bandwidth()
    assert signal.std() == pytest.approx(float(np.sqrt(bandwidth * 2 * step)), rel=0.03)


def test_noise_grows_as_the_detector_is_made_faster():
    # A first-order filter passes noise as one over the root of its time constant; the mean over an
    # interval as one over the root of the interval (Papoulis; from memory).
    stated = {"noise": 2e-5, "noise_time_constant": 1.0}
    fast = Detector(time_constant=np.array([1.0, 0.25, 0.01]), **stated)
    assert fast.recorded_noise() == pytest.approx([2e-5, 4e-5, 2e-4])
    averaged = Detector(interval=np.array([2.0, 0.5]), averaged=True, **stated)
    assert averaged.recorded_noise() == pytest.approx([2e-5, 4e-5])
    brief = Detector(time_constant=1.0, interval=1e-6, averaged=True, **stated)
    assert brief.recorded_noise() == pytest.approx(2e-5, rel=1e-6)
    assert np.isnan(Detector(**stated).recorded_noise())


def test_signal_to_noise_is_twice_the_height_over_the_noise():
    # 2 H/h with peak-to-peak noise (USP <621>, Ph. Eur. 2.2.46; from memory).
    detector = Detector(time_constant=0.25, noise=2e-5, noise_time_constant=1.0)
    cell = Cell(name="cell", volume=1e-9, light_path=0.01)
    solute = {"amount": 1e-12, "absorptivity": 1200.0}
    result = travelled(gaussian(1e-3), column(), cell, detector, **solute)
    height = result.recorded["height"] / FLOW * 1e-12 * 1200 * 0.01
    assert result.signal["signal_to_noise"] == pytest.approx(2 * height / 4e-5)


PAIR = """
[method]
flow = "0.3 mL/min"
eluent = { viscosity = "1.0 mPa*s" }
[[solutes]]
name = "a"
diffusivity = "1e-9 m^2/s"
retention_factor = 3.0
[[solutes]]
name = "b"
diffusivity = "0.9e-9 m^2/s"
retention_factor = 3.3
[injection]
shape = "plug"
volume = "1 uL"
[[path]]
name = "tube"
part = "tube"
bore = "0.12 mm"
length = "300 mm"
[[path]]
name = "column"
part = "column"
bore = "2.1 mm"
length = "50 mm"
particle = "fully porous"
particle_diameter = "3 um"
"""


def test_the_error_of_a_valley_covers_how_far_it_is_off():
    path = Scenario.from_text(PAIR, ".", name="pair").itinerary()
    fine, rough = (
        separation(travel(path.computed(accuracy=accuracy, solver=None)))
        for accuracy in (1e-5, 1e-2)
    )
    for name, error in (("valley_to_peak", "valley_error"), ("from_valley", "from_valley_error")):
        off = abs(getattr(rough, name)[0] - getattr(fine, name)[0])
        # covered, and not by hundreds
        assert 0 < off < getattr(rough, error)[0] < 0.1 * getattr(rough, name)[0]
        assert getattr(fine, error)[0] < 0.1 * getattr(rough, error)[0]
