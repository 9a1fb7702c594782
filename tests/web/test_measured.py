"""Peaks of a measured signal on the page against `tailrace.measure`."""

import re
from pathlib import Path

import numpy as np
import pytest
from reference import javascript

import tailrace
from tailrace.measurements import spots
from tailrace.measurements.evening import evened
from tailrace.measurements.measuring import measured_file, read_plainly
from tailrace.measurements.reading import read_signal
from tailrace.measurements.signal import SignalError

pytestmark = pytest.mark.skipif(bool(javascript.missing()), reason=javascript.missing())
FOLDER = Path(__file__).parents[2] / "scenarios"
METRICS = (
    "apex",
    "height",
    "width_half",
    "plates_half_height",
    "tailing_5",
    "asymmetry_10",
    "area",
)
CLOSE = 1e-9
"""Relative."""


def signal(noise, uneven=False, seed=3):
    random = np.random.default_rng(seed)
    time = np.arange(0, 300, 0.1)
    if uneven:
        time = time + random.uniform(-0.02, 0.02, time.size)
    values = 0.4 + 2e-4 * time
    for apex, height, width, tail in (
        (40, 60, 0.8, 0.5),
        (90, 100, 1.2, 0.9),
        (98.5, 30, 1.2, 0.3),
        (180, 12, 2.0, 1.5),
        (240, 45, 2.5, 0.0001),
    ):
        fine = np.arange(-60, 60, 0.02)
        shape = np.exp(-((fine / width) ** 2) / 2)
        lags = np.arange(0, 40, 0.02)
        shape = np.convolve(shape, np.exp(-lags / tail))[: fine.size]
        values = values + height * np.interp(time, apex + fine, shape / shape.max())
    return time, values + noise * random.standard_normal(time.size)


def peaks(text):
    """Of a file, as the page reads it."""
    signal = javascript.engine()("columnsRead", text)["signal"]
    points = {key: signal[key] for key in ("time", "values", "quantum")}
    return javascript.engine()("measured", points)


def told(found, metric):
    """Of every peak; NaN where it is not resolved."""
    values = [peak["metrics"][metric] for peak in found]
    return [float("nan") if one is None else one for one in values]


@pytest.mark.parametrize(("noise", "uneven"), [(1e-3, False), (0.05, False), (0.02, True)])
def test_every_peak_is_found_and_read_as_by_the_program(noise, uneven, tmp_path):
    time, values = signal(noise, uneven)
    path = tmp_path / "run.csv"
    rows = "\n".join(f"{t:.6f},{v:.9g}" for t, v in zip(time, values, strict=True))
    path.write_text("time (s),signal (mAU)\n" + rows)
    (one,) = tailrace.measure(path).files.values()
    found = peaks(path.read_text())
    assert len(found) == len(one.peaks) == 5
    for metric in METRICS:
        mine = told(found, metric)
        assert mine == pytest.approx(one.metrics[metric], rel=CLOSE, nan_ok=True), metric


@pytest.mark.parametrize("name", ["lessons/hidden-joint-1", "measured/quiet-baseline-flow-1"])
def test_shipped_files_are_read_as_by_the_program(name):
    path = FOLDER / f"{name}.csv"
    (one,) = tailrace.measure(path).files.values()
    found = peaks(path.read_text("utf-8"))
    for metric in (*METRICS, "variance"):
        assert told(found, metric) == pytest.approx(one.metrics[metric], rel=CLOSE, nan_ok=True)


@pytest.mark.parametrize("seeds", [[15, 0], [15, 3], [20], [2**32 - 1, 7]])
def test_random_numbers_are_those_of_numpy(seeds):
    drawn = javascript.engine()("normals", seeds, 50_000)
    expected = np.random.default_rng(seeds).standard_normal(50_000)
    assert np.abs(expected).max() > 3.66  # beyond where the tail begins
    np.testing.assert_allclose(drawn, expected, rtol=1e-13, atol=1e-15)


def written(time, values):
    rows = "\n".join(f"{t:.6f},{v:.9g}" for t, v in zip(time, values, strict=True))
    return "time (s),signal (mAU)\n" + rows


def same(text):
    """How many metrics neither of the two tells; all others are the same, and the same are told."""
    one, found = measured_file(read_signal(text.encode(), "run.csv")), peaks(text)
    assert len(found) == len(one.peaks)
    assert [bool(each["state"]) for each in found] == [each != "" for each in one.states]
    hidden = 0
    for metric, expected in one.metrics.items():
        assert told(found, metric) == pytest.approx(expected, rel=1e-8, nan_ok=True), metric
        hidden += np.isnan(expected).sum()
    return hidden


@pytest.mark.parametrize(
    ("noise", "seed"), [(0.6, 3), (0.6, 7), (0.6, 8), (1.0, 3), (1.5, 4), (1.5, 5)]
)
def test_what_noise_hides_is_not_told(noise, seed):
    """The draws are the same: so it is at the very margin, too."""
    assert same(written(*signal(noise, seed=seed))) > 0


def test_of_a_peak_with_points_missing_nothing_is_told():
    time, values = signal(0.05)
    for gap, hidden in (((35, 37), 14), ((130, 150), 0)):
        there = (time < gap[0]) | (time > gap[1])
        assert same(written(time[there], values[there])) == hidden


def test_of_a_top_that_is_cut_off_nothing_is_told():
    time, values = signal(0.05)
    assert same(written(time, np.minimum(values, 50))) == 28


def test_long_signals_are_thinned_alike():
    """Of more than 60,000 points peaks are looked for on means of neighbours."""
    random = np.random.default_rng(1)
    time = np.arange(0, 700, 0.01)
    values = 0.1 * random.standard_normal(time.size)
    for apex, height in ((100, 40), (300, 3), (550, 25)):
        values += height * np.exp(-0.5 * ((time - apex) / 2) ** 2)
    assert time.size > spots.MOST_POINTS
    same(written(time, values))


def test_of_too_many_peaks_the_most_prominent_are_read():
    places = np.arange(5, 2150, 10)
    time = np.arange(0, 2150, 0.05)
    values = 1e-3 * np.random.default_rng(1).standard_normal(time.size)
    for at, apex in enumerate(places):
        values += (10 + at * 37 % 50) * np.exp(-0.5 * ((time - apex) / 0.3) ** 2)
    text = written(time, values)
    expected = read_plainly(evened(read_signal(text.encode(), "run.csv")))["apex"]
    assert len(places) > len(expected) == spots.MOST_PEAKS
    assert [one["apex"] for one in peaks(text)] == pytest.approx(expected)


def test_one_window_is_read_as_by_the_program(tmp_path):
    time, values = signal(0.02)
    path = tmp_path / "run.csv"
    rows = "\n".join(f"{t:.6f},{v:.9g}" for t, v in zip(time, values, strict=True))
    path.write_text("time (s),signal (mAU)\n" + rows)
    (one,) = tailrace.measure(path, window=(30.0, 60.0)).files.values()
    (found,) = javascript.engine()(
        "measured", {"time": time.tolist(), "values": values.tolist()}, [30.0, 60.0]
    )
    for metric in METRICS:
        assert found["metrics"][metric] == pytest.approx(one.metrics[metric][0], rel=1e-6)
    assert found["metrics"]["variance"] == pytest.approx(one.metrics["variance"][0], rel=1e-6)


def test_a_flat_top_is_said(tmp_path):
    time, values = signal(1e-3)
    found = javascript.engine()(
        "measured", {"time": time.tolist(), "values": np.minimum(values, 50).tolist()}
    )
    assert [peak["state"] for peak in found][:2] == ["its top is cut off"] * 2


TIMES = np.arange(120) * 0.1
HEIGHTS = 1234.5 + 9e4 * np.exp(-0.5 * ((TIMES - 6) / 0.8) ** 2)


def text(head, delimiter=",", sign=".", apart="", size=1.0, number=False):
    """The signal as columns, with a sign between thousands."""
    rows = [head]
    for k, (time, height) in enumerate(zip(size * TIMES, HEIGHTS, strict=True)):
        told = f"{height:,.2f}".translate(str.maketrans({",": apart, ".": sign}))
        cells = [*([str(k)] if number else []), f"{time:.6f}".replace(".", sign), told]
        rows.append(delimiter.join(cells))
    return "\n".join(rows)


ALONE = "\n".join(f"{one:.2f}" for one in HEIGHTS)
LAYOUTS = {
    "plain": text("time (s),signal (mAU)"),
    "no head": text(""),
    "minutes": text("time_min;mAU", ";", size=1 / 60),
    "hours": text("time (h)\tmAU", "\t", size=1 / 3600),
    "milliseconds": text("time (ms)|mAU", "|", size=1e3),
    "a flow above": "Flow 0.5 mL/min, run time 10 min\n" + text("t,signal"),
    "axis titles": "X Axis Title: Minutes\n" + text("", size=1 / 60),
    "decimal comma": text("Zeit [s];Signal", ";", ","),
    "thousands by points": text("time (s);counts", ";", ",", "."),
    "thousands by apostrophes": text("time (s)\tcounts", "\t", ".", "'"),
    "thousands by commas": text("time (s);counts", ";", ".", ","),
    "a number of each row": text("index,time (s),signal", number=True),
    "spaces": text("t/s  y/mAU", "   "),
    "remarks and a footer": "# run 7\n" + text("time (s),y") + "\nsum,12.5\nchecked\n",
    "a value is missing": text("time (s),y").replace("1234.50", "nan", 1),
    "an interval": "Sampling interval: 100 ms\nmAU\n" + ALONE,
    "a rate": "Sampling rate: 10 Hz\n" + ALONE.replace(".", ","),
    "quoted": '"time (s)";"y"\n' + re.sub(r"[\d.]+", r'"\g<0>"', text("", ";")),
    "values alone": ALONE,
    "falling times": "\n".join(reversed(text("").splitlines())),
    "a bad line": text("time (s),y").replace("0.300000,", "0.3x,", 1),
    "commas within and between": text("time,y", ",", ","),
    "on a clock": "\n".join(f"9:00:{k:04.1f},{k * k}" for k in TIMES),
    "one value": re.sub(",.*", ",3", text("")),
    "of the wrong unit": text("time (h),y", size=5e4),
}


@pytest.mark.parametrize("name", LAYOUTS)
def test_columns_are_read_as_by_the_program(name):
    """Numbers that are not those of the program would be worse than none."""
    read = javascript.engine()("columnsRead", LAYOUTS[name])
    try:
        expected = read_signal(LAYOUTS[name].encode(), "run.csv")
    except SignalError as error:
        assert read["refused"][:15] in str(error)
        return
    found = read["signal"]
    assert found["time"] == pytest.approx(expected.times, abs=1e-9)
    assert found["values"] == pytest.approx(expected.values, nan_ok=True)
    assert found["unit"] == expected.layout.time_unit
    assert found["stated"] == (expected.layout.time_unit_from == "file")
    assert found["quantum"] == pytest.approx(expected.quantum)
    assert expected.layout.signal_column.startswith(str(found["column"] + 1))


@pytest.mark.parametrize("digits", [2, 12])
@pytest.mark.parametrize("count", [2, 12])
def test_peaks_far_apart_on_a_flat_baseline_are_not_cut(count, digits):
    """55 standard deviations apart, without noise; each is read as if it stood alone."""
    time = np.arange(0, 66 * count + 60, 0.1)
    apexes = 74 + 66 * np.arange(count)
    values = np.sum([100 * np.exp(-(((time - at) / 1.2) ** 2) / 2) for at in apexes], axis=0)
    text = written(time, np.round(values, digits))
    same(text)
    found = peaks(text)
    assert [one["state"] for one in found] == [""] * count
    assert told(found, "width_half") == pytest.approx([2.3548 * 1.2] * count, rel=1e-3)


@pytest.mark.parametrize(("apart", "cut"), [(8, True), (12, True), (16, False), (24, False)])
def test_a_peak_is_cut_where_its_neighbour_leaves_something_above_the_baseline(apart, cut):
    """At half of these a Gaussian of 1.2 s has 4e-3, 4e-6, 2e-10 and 2e-22 of its height."""
    time = np.arange(0, 260, 0.1)
    apexes = 60 + apart * np.arange(4)
    values = np.sum([100 * np.exp(-(((time - at) / 1.2) ** 2) / 2) for at in apexes], axis=0)
    text = written(time, values)
    same(text)
    assert [bool(one["state"]) for one in peaks(text)] == [cut] * 4
