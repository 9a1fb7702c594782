"""Peaks of a measured signal on the page against `tailrace.measure`."""

import numpy as np
import pytest
from reference import javascript

import tailrace

pytestmark = pytest.mark.skipif(bool(javascript.missing()), reason=javascript.missing())
METRICS = (
    "apex",
    "height",
    "width_half",
    "plates_half_height",
    "tailing_5",
    "asymmetry_10",
    "area",
)
CLOSE = 2e-4
"""Relative: the program takes its noise, which ends the windows, from blank stretches as well."""


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


@pytest.mark.parametrize(("noise", "uneven"), [(1e-3, False), (0.05, False), (0.02, True)])
def test_every_peak_is_found_and_read_as_by_the_program(noise, uneven, tmp_path):
    time, values = signal(noise, uneven)
    path = tmp_path / "run.csv"
    rows = "\n".join(f"{t:.6f},{v:.9g}" for t, v in zip(time, values, strict=True))
    path.write_text("time (s),signal (mAU)\n" + rows)
    (one,) = tailrace.measure(path).files.values()
    found = javascript.engine()("measured", {"time": time.tolist(), "values": values.tolist()})
    assert len(found) == len(one.peaks) == 5
    for metric in METRICS:
        mine = [peak["metrics"][metric] for peak in found]
        assert mine == pytest.approx(one.metrics[metric], rel=CLOSE), metric


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
