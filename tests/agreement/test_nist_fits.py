"""The optimiser of ``fit`` on the certified sets of NIST (lower and average difficulty)."""

import json

import numpy as np
import pytest
from reference.tree import ROOT

from tailrace.studies.measured.optimising import least_squares

SETS = json.loads((ROOT / "tests" / "data" / "nist_strd.json").read_text("utf-8"))
DIGITS = 6
exp, pi = np.exp, np.pi


def lanczos(b, x):
    return b[0] * exp(-b[1] * x) + b[2] * exp(-b[3] * x) + b[4] * exp(-b[5] * x)


def gauss(b, x):
    peaks = b[2] * exp(-((x - b[3]) ** 2) / b[4] ** 2) + b[5] * exp(-((x - b[6]) ** 2) / b[7] ** 2)
    return b[0] * exp(-b[1] * x) + peaks


def chwirut(b, x):
    return exp(-b[0] * x) / (b[1] + b[2] * x)


def enso(b, x):
    def wave(one, other, period):
        return one * np.cos(2 * pi * x / period) + other * np.sin(2 * pi * x / period)

    return b[0] + wave(b[1], b[2], 12) + wave(b[4], b[5], b[3]) + wave(b[7], b[8], b[6])


MODELS = {
    "Misra1a": lambda b, x: b[0] * (1 - exp(-b[1] * x)),
    "Misra1b": lambda b, x: b[0] * (1 - (1 + b[1] * x / 2) ** -2),
    "Misra1c": lambda b, x: b[0] * (1 - (1 + 2 * b[1] * x) ** -0.5),
    "Misra1d": lambda b, x: b[0] * b[1] * x / (1 + b[1] * x),
    "DanWood": lambda b, x: b[0] * x ** b[1],
    "Kirby2": lambda b, x: (b[0] + b[1] * x + b[2] * x**2) / (1 + b[3] * x + b[4] * x**2),
    "Hahn1": lambda b, x: (
        (b[0] + b[1] * x + b[2] * x**2 + b[3] * x**3) / (1 + b[4] * x + b[5] * x**2 + b[6] * x**3)
    ),
    "Nelson": lambda b, x, other: b[0] - b[1] * x * exp(-b[2] * other),
    "MGH17": lambda b, x: b[0] + b[1] * exp(-x * b[3]) + b[2] * exp(-x * b[4]),
    "Roszman1": lambda b, x: b[0] - b[1] * x - np.arctan(b[2] / (x - b[3])) / pi,
    "ENSO": enso,
    **dict.fromkeys(("Chwirut1", "Chwirut2"), chwirut),
    **dict.fromkeys(("Gauss1", "Gauss2", "Gauss3"), gauss),
    **dict.fromkeys(("Lanczos1", "Lanczos2", "Lanczos3"), lanczos),
}


def test_all_sets_of_lower_and_average_difficulty_are_there():
    assert set(MODELS) == set(SETS)
    levels = [one["level"] for one in SETS.values()]
    assert (levels.count("lower"), levels.count("average")) == (8, 11)


@pytest.mark.parametrize("start", ["start1", "start2"])
@pytest.mark.parametrize("name", SETS)
def test_certified_values_are_met(name, start):
    one = SETS[name]
    response, *given = np.array(one["data"]).T
    if name == "Nelson":
        response = np.log(response)

    def residuals(values):
        with np.errstate(all="ignore"):
            left = MODELS[name](values, *given) - response
        return np.where(np.isfinite(left), left, 1e6)

    def jacobian(values):
        """Exact: the imaginary part of a step of 1e-30 i."""
        columns = []
        for k, value in enumerate(values):
            step = values.astype(complex)
            step[k] += 1e-30j * max(abs(value), 1e-12)
            with np.errstate(all="ignore"):
                slope = MODELS[name](step, *given).imag / (1e-30 * max(abs(value), 1e-12))
            columns.append(np.where(np.isfinite(slope), slope, 0.0))
        return np.array(columns).T

    with np.errstate(all="ignore"):  # far from the optimum
        found = least_squares(residuals, np.array(one[start]), jacobian, exact=True)
    certified = np.array(one["certified"])
    digits = -np.log10(np.maximum(np.abs(found.values / certified - 1), 1e-16))
    assert digits.min() >= DIGITS
    freedom = response.size - certified.size
    scatter = found.squares / freedom
    if one["squares"] > 1e-15:  # of Lanczos1 rounding alone is left
        assert found.squares == pytest.approx(one["squares"], rel=1e-6)
        deviation = np.sqrt(scatter * np.diag(found.covariance))
        assert deviation == pytest.approx(np.array(one["deviation"]), rel=1e-4)
