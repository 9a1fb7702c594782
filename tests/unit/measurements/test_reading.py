"""Files of signals in every layout: read alike, or refused in one sentence."""

import numpy as np
import pytest
from reference.signals import as_e1947, as_text, peak

from tailrace.measurements.reading import load_signal, read_signal
from tailrace.measurements.signal import SignalError, Wanted

TIMES = np.arange(300) * 0.1
VALUES = peak(TIMES, centre=12.0) + 0.5

TEXTS = {
    "comma": (as_text(TIMES, VALUES), {}),
    "semicolon, decimal comma": (
        as_text(TIMES, VALUES, head="Zeit [s];Signal [mAU]", delimiter=";", decimal=","),
        {},
    ),
    "tab, units in a line of their own": (
        as_text(TIMES / 60, VALUES, head="Run 1\n\nTime\tSignal\nmin\tmAU", delimiter="\t"),
        {"time_unit": "min"},
    ),
    "spaces": (as_text(TIMES, VALUES, head="t/s  y/mAU", delimiter="  "), {}),
    "comment sign": (as_text(TIMES, VALUES, head="# time_s,signal_mAU"), {}),
    "minutes in the heading": (
        as_text(TIMES / 60, VALUES, head="Retention time (min),Signal (mAU)"),
        {"time_unit": "min"},
    ),
    "footer": (as_text(TIMES, VALUES) + "\nEnd of data\nchecked by\n", {}),
    "axis titles": (
        "X Axis Title: Minutes\nY Axis Title: mAU\n" + as_text(TIMES / 60, VALUES, head=""),
        {"time_unit": "min"},
    ),
    "interval": (
        "Start: 0 s\nSampling interval: 100 ms\nmAU\n" + "\n".join(f"{one:.6f}" for one in VALUES),
        {"time_unit": "ms"},
    ),
    "rate, decimal comma": (
        "Detector mAU\nSampling rate: 10 Hz\n"
        + "\n".join(f"{one:.6f}".replace(".", ",") for one in VALUES),
        {},
    ),
    "quotes, decimal comma": (
        '"time (s)","signal (mAU)"\n'
        + "\n".join(
            f'"{time:.6f}","{value:.6f}"'.replace(".", ",")
            for time, value in zip(TIMES, VALUES, strict=True)
        ),
        {},
    ),
}


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "latin-1"])
@pytest.mark.parametrize("name", TEXTS)
def test_a_text_is_understood(name, encoding):
    text, expected = TEXTS[name]
    signal = read_signal(text.encode(encoding), "run.csv")
    assert signal.times == pytest.approx(TIMES, abs=4e-5)
    assert signal.values == pytest.approx(VALUES, abs=1e-6)
    assert signal.signal_unit == "mAU"
    assert signal.layout.time_unit == expected.get("time_unit", "s")
    assert signal.layout.time_unit_from == "file"


@pytest.mark.parametrize(("sign", "decimal"), [("'", "."), ("\u202f", "."), (",", "."), (".", ",")])
def test_thousands_are_understood(sign, decimal):
    """In a file with a decimal comma 1.234 is a thousand and more."""
    rows = [
        f"{t:.1f}".replace(".", decimal) + ";" + f"{round(1e3 * v):,}".replace(",", sign)
        for t, v in zip(TIMES, VALUES, strict=True)
    ]
    signal = read_signal("\n".join(["time (s);Counts", *rows]).encode(), "a")
    assert signal.values == pytest.approx(np.round(1e3 * VALUES))
    assert signal.times == pytest.approx(TIMES)
    assert signal.signal_unit == "Counts"


def test_columns_by_number_and_by_heading():
    rows = [
        f"{at},{t:.6f},{v / 2:.6f},{v:.6f}"
        for at, (t, v) in enumerate(zip(TIMES, VALUES, strict=True))
    ]
    text = "\n".join(["index,time (s),UV 254,UV 280", *rows]).encode()
    assert read_signal(text, "a").values == pytest.approx(VALUES / 2, abs=1e-6)
    for asked in (4, "4", "uv 280"):
        assert read_signal(text, "a", Wanted(signal=asked)).values == pytest.approx(
            VALUES, abs=1e-6
        )
    with pytest.raises(SignalError, match="3 UV 254"):
        read_signal(text, "a", Wanted(signal="UV 300"))


def test_what_the_file_does_not_say_is_taken_and_told():
    signal = read_signal(as_text(TIMES, VALUES, head="").encode(), "a")
    assert (signal.layout.time_unit, signal.layout.time_unit_from) == ("s", "assumed")
    signal = read_signal(as_text(TIMES, VALUES, head="").encode(), "a", Wanted(time_unit="min"))
    assert signal.times == pytest.approx(60 * TIMES)


def test_e1947_even_uneven_and_without_an_interval(tmp_path):
    file = tmp_path / "a.cdf"
    even = read_signal(as_e1947(file, VALUES, actual_delay_time=0.2), "a.cdf")
    assert even.times == pytest.approx(TIMES + 0.2)
    minutes = as_e1947(
        file, VALUES, actual_sampling_interval=0.1 / 60, retention_unit="time in minutes"
    )
    assert read_signal(minutes, "a.cdf").times == pytest.approx(TIMES)
    uneven = TIMES + 0.03 * np.sin(TIMES)
    assert read_signal(as_e1947(file, VALUES, times=uneven), "a.cdf").times == pytest.approx(
        uneven, abs=1e-5
    )
    without = {"actual_sampling_interval": -9999.0, "actual_run_time_length": 29.9}
    assert read_signal(as_e1947(file, VALUES, **without), "a").times == pytest.approx(TIMES)
    bare = as_e1947(file, VALUES, actual_sampling_interval=None)
    with pytest.raises(SignalError, match="actual_sampling_interval, found none"):
        read_signal(bare, "a")
    assert read_signal(bare, "a", Wanted(interval=0.1)).times == pytest.approx(TIMES)


REFUSED = {
    "empty": (b"", "empty file"),
    "blanks": (b"  \n\n", "empty file"),
    "words": (b"once upon a time\n", "expected lines of numbers"),
    "few points": (b"1,2\n2,3\n3,4\n", "at least 20 points, found 3"),
    "falling times": (as_text(TIMES[::-1], VALUES).encode(), "times that rise"),
    "rounded times": (as_text(TIMES, VALUES, digits=0).encode(), "each time once"),
    "values alone": ("\n".join(f"{v:.5f}" for v in VALUES).encode(), "interval"),
    "clocks": (
        "\n".join(f"{k},9:00:{t:04.1f},{t}" for k, t in enumerate(TIMES)).encode(),
        "on a clock",
    ),
    "commas within and between": (
        as_text(TIMES, VALUES, decimal=",").encode(),
        "found both",
    ),
    "one value": (as_text(TIMES, 0 * VALUES + 3).encode(), "found one value only"),
    "hours": (as_text(1e4 * TIMES, VALUES, head="time (h),a").encode(), "unit of time"),
    "a bad line": (as_text(TIMES, VALUES).replace("1.500000,", "1.5x,", 1).encode(), "line 17"),
    "HDF5": (b"\x89HDF\r\n\x1a\n" + bytes(50), "netCDF-4"),
    "spreadsheet": (b"PK\x03\x04" + bytes(50), "compressed"),
    "picture": (bytes(range(256)) * 20, "found other bytes"),
    "damaged netCDF": (b"CDF\x01" + bytes(40), "ASTM E1947"),
}  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_no_signal_is_refused_in_one_sentence(name):
    content, why = REFUSED[name]
    with pytest.raises(SignalError, match=why) as refused:
        read_signal(content, "run.csv")
    assert str(refused.value).startswith("run.csv: ")
    assert "\n" not in str(refused.value)


def test_a_missing_file_and_a_folder_are_refused(tmp_path):
    for path, found in ((tmp_path / "none.csv", "no such file"), (tmp_path, "a folder, a pipe")):
        with pytest.raises(SignalError, match=f"expected a file of a signal, found {found}"):
            load_signal(path)


def test_doubles_are_averaged_and_missing_values_left_out():
    lines = as_text(TIMES, VALUES).splitlines()
    lines.insert(50, lines[50])
    lines[100] = lines[100].split(",")[0] + ",nan"
    signal = read_signal("\n".join(lines).encode(), "a")
    assert (signal.duplicates, signal.missing) == (1, 1)
    assert signal.times.size == TIMES.size - 1
