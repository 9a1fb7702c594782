"""Derivatives of the recorded signal behind columns that focus, against closed forms."""

import numpy as np
import pytest
from agreement.test_derivatives import (
    CASES,
    FOCUSING,
    LIQUID,
    OFFSETS,
    WITHIN,
    differentiated,
    moved,
    of_formulas,
)
from reference.parts import sharply_through_a_plug

from tailrace.parts.chamber.part import Chamber
from tailrace.parts.injector.part import Injector
from tailrace.studies.derivatives import of_signal

SHARP = {
    name: (
        (Injector(volume=volume), Chamber(name="tank", volume=5e-11), FOCUSING),
        sharply_through_a_plug,
    )
    for name, volume in (("sharp sample", 2e-8), ("sharp sample that ends as its solvent", 1e-8))
}
"""As behind a tube that holds a four-hundredth of them; the solvent ends 1 s after they begin."""


@pytest.mark.parametrize(
    ("name", "numbers"),
    [
        ("gradient", [(0, "sigma"), (1, "dwell_volume"), (1, "plates"), (-1, "flow_rate")]),
        ("sample in a solvent of its own", [(1, "sample_factor"), (-1, "flow_rate")]),
        *((name, [(1, "volume"), (2, "sample_volume"), (2, "plates")]) for name in SHARP),
    ],
)
def test_the_signal_behind_a_column_that_focuses_has_slopes(name, numbers):
    """The closed form's spectrum turned back by its own sum, and differences of sixth order."""
    parts, spectrum, *_ = (CASES | SHARP)[name]
    now = np.array([getattr(LIQUID if at < 0 else parts[at], field) for at, field in numbers])
    build = moved(parts, numbers)
    found = differentiated(parts, numbers[:1])
    mean, variance = (found.metrics[f"recorded/{one}"][0, 0] for one in ("mean", "variance"))
    omega = 40 / np.sqrt(variance) * np.linspace(0, 1, 500)
    times = mean + np.sqrt(variance) * np.linspace(-4, 5, 37)

    def curve(row):
        path, streams = zip(*build(row).passages, strict=True)
        whole = spectrum(*path, streams[0], omega)
        whole[0] /= 2
        return omega[1] / np.pi * (np.exp(1j * np.outer(times, omega)) @ whole).real

    slopes = of_signal(build, now, [(0.0, np.inf)] * len(now), times)
    top = slopes.values.max()
    assert slopes.values[0] == pytest.approx(curve(now), abs=WITHIN * top)
    for row, value in enumerate(now):
        wanted = 0.0
        for offset, weight in OFFSETS.items():
            changed = now.copy()
            changed[row] *= 1 + 1e-4 * offset
            wanted = wanted + weight / 1e-4 * curve(changed)
        scale = max(top, np.abs(wanted).max())
        assert slopes.slopes[row, 0] * value == pytest.approx(wanted, abs=WITHIN * scale)


@pytest.mark.parametrize("name", SHARP)
def test_metrics_of_a_sharp_sample_in_a_solvent_of_its_own_have_slopes(name):
    numbers = [(0, "volume"), (1, "volume"), (2, "sample_factor"), (2, "plates"), (-1, "flow_rate")]
    of_formulas(*SHARP[name], numbers)
