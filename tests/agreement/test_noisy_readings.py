"""Readings from simulated noise, against order statistics of the normal distribution."""

import numpy as np
import pytest
from reference.tolerances import SCENARIO
from scipy.integrate import quad
from scipy.stats import norm

import tailrace
from tailrace.measurements.evening import Even
from tailrace.measurements.measuring import measured_file, read_plainly
from tailrace.measurements.noise import range_near
from tailrace.measurements.signal import Layout, Signal
from tailrace.scenario.target import StudyError
from tailrace.studies.tolerance.noisy import resolved

SEEN = SCENARIO.replace('volume = "4 uL"', 'volume = "4 uL"\nlight_path = "10 mm"').replace(
    "diffusivity =",
    'amount = "1 nmol"\nabsorptivity = "5000 L/mol/cm"\ndiffusivity =',
) + (
    '[detector]\nnoise = "0.2 mAU"\nnoise_time_constant = "0.1 s"\ntime_constant = "0.1 s"\n'
    'interval = "40 ms"\n'
)
ASKED = """
[[reading]]
measure = "signal-to-noise ratio"
simulated = 120

[[reading]]
measure = "plates"
solute = "two"
simulated = 120

[[reading]]
measure = "resolution"
simulated = 120
"""


def range_of(count):
    """Mean and standard deviation of the range of so many normal values, by their integrals
    (Tippett, Biometrika 17 (1925) 364; from memory), the second by simulation."""
    mean = quad(lambda x: 1 - norm.cdf(x) ** count - norm.sf(x) ** count, -9, 9, limit=400)[0]
    some = np.ptp(np.random.default_rng(1).standard_normal((2000, count)), axis=1)
    assert some.mean() == pytest.approx(mean, abs=4 * some.std() / np.sqrt(2000))
    return mean, some.std()


def test_the_range_over_20_widths_spreads_by_8_per_cent():
    # 20 widths of 35 points: white noise
    count = 700
    mean, deviation = range_of(count)
    assert deviation / mean == pytest.approx(0.08, abs=0.005)
    noise = np.random.default_rng(2).standard_normal((400, 3 * count))
    found = [range_near(one, [(10, 3 * count)], count, 2 * count) for one in noise]
    assert {points for _, points in found} == {count}
    sizes = np.array([size for size, _ in found])
    assert sizes.mean() == pytest.approx(mean, rel=0.02)
    assert sizes.std() / sizes.mean() == pytest.approx(0.08, abs=0.012)


def loaded(folder, *rows):
    file = folder / "noisy.toml"
    file.write_text("".join(rows))
    return tailrace.load(file)


def test_readings_are_those_of_many_signals(tmp_path):
    ratio, plates, resolution = resolved(loaded(tmp_path, SEEN, ASKED))
    assert (ratio.relative, ratio.freedom, ratio.simulated) == (True, 119, 120)
    # the noise of few independent points behind its filter spreads more than 8 %
    assert 0.07 < ratio.deviation < 0.16
    # resolution from one width and the other: as half the root of plates' spread, about
    assert 0 < resolution.deviation < plates.deviation < 0.1
    again = resolved(loaded(tmp_path, SEEN.replace("0.2 mAU", "0.1 mAU"), ASKED))
    assert again[1].deviation == pytest.approx(plates.deviation / 2, rel=0.25)


def test_one_signal_is_read_as_measure_does():
    times = 0.1 * np.arange(3000)
    random = np.random.default_rng(4)
    values = 100 * np.exp(-(((times - 60) / 3) ** 2) / 2) + random.standard_normal(3000)
    layout = Layout(form="text", times_from="rows", time_unit="s", time_unit_from="file")
    signal = Signal(
        name="one", sha256="", layout=layout, times=times, values=values, signal_unit="mAU"
    )
    whole = measured_file(signal)
    plain = read_plainly(Even(start=0.0, step=0.1, values=values, even=True))
    for name in ("apex", "width_half", "plates_half_height", "area"):
        assert plain[name] == pytest.approx(whole.metrics[name], rel=1e-9)
    assert plain["signal_to_noise"] == pytest.approx(whole.signal_to_noise, rel=1e-9)
    assert whole.noise_widths == pytest.approx(20, rel=0.02)


@pytest.mark.parametrize(
    ("text", "rows", "said"),
    [
        (SCENARIO, ASKED, "found something missing"),
        (SEEN, '[[reading]]\nmeasure = "pressure"\nsimulated = 20\n', "read off the signal"),
    ],
)
def test_what_cannot_be_simulated_is_refused(tmp_path, text, rows, said):
    with pytest.raises(StudyError, match=said):
        resolved(loaded(tmp_path, text, rows))
