"""Results made by hand, for rooms that show or store results and compute none."""

import numpy as np
import pytest
from scipy.special import erfcx

from tailrace.journey.result import PartResult, Pressure, Result
from tailrace.signals.band import Band

# name, kind, volume (m^3), residence (s), Fourier number, variance (s^2): theory, exact, simulated
NAN = float("nan")
INJECTION = ("injection", "injector", NAN, 0.0, NAN, 0.0033, 0.0033, 0.0033)
SEAT = ("needle seat", "tube", 2.27e-9, 0.227, 0.0346, 0.0620, 0.0104, 0.01041)
HEATER = ("column heater", "tube", 3.4e-9, 0.34, 0.1, 0.0480, 0.0173, 0.01734)
JOINT = ("column inlet connection", "fitting", 7.9e-11, 0.0079, NAN, 6.2e-5, 6.2e-5, 6.2e-5)
COLUMN = ("column", "column", 1.8e-7, 56.0, NAN, 0.180, 0.180, 0.1801)
OUTLET = ("outlet tube", "tube", 3.4e-9, 0.34, 0.11, 0.0441, 0.0169, 0.01695)
CELL = ("flow cell", "cell", 1.3e-8, 1.3, NAN, 0.845, 0.845, 0.8452)
DETECTOR = ("detector", "detector", NAN, 0.0, NAN, 0.25, NAN, 0.2513)
LONG = (
    "capillary from the sampling valve to the solvent preheater",
    *("tube", 1.1e-8, 1.1, 0.2, 0.252, 0.12, 0.1201),
)
WHOLE = (INJECTION, SEAT, HEATER, JOINT, COLUMN, OUTLET, CELL, DETECTOR)


def tailed(time, mean, variance, tail):
    """Gaussian convolved with an exponential (Foley and Dorsey, Anal. Chem. 55 (1983) 730; from
    memory), with the share ``tail`` of the variance in the exponential."""
    tau = np.sqrt(variance * tail)
    sigma = np.sqrt(variance * (1 - tail))
    late = (time - (mean - tau)) / sigma
    with np.errstate(under="ignore", over="ignore"):
        inner = np.minimum((sigma / tau - late) / np.sqrt(2), 25.0)
        values = np.exp(-(late**2) / 2) * erfcx(np.maximum(inner, -25.0)) / (2 * tau)
    return np.where((sigma / tau - late) / np.sqrt(2) < -25.0, 0.0, values)


def band_of(means, variances, tail=0.3, points=400):
    """One lane for each mean, sampled over four widths before and eight behind it."""
    widths = np.sqrt(variances)
    start, step = means - 4 * widths, 12 * widths / points
    time = start[:, None] + step[:, None] * np.arange(points)
    rows = [tailed(*lane, tail) for lane in zip(time, means, variances, strict=True)]
    return Band(np.array(rows), start, step)


def measured(band):
    """Enough measures to fill a report; they need not be good ones."""
    times, rows = band.times, band.values
    apex = times[np.arange(band.lanes), rows.argmax(axis=1)]
    above = (rows > rows.max(axis=1, keepdims=True) / 2).sum(axis=1) * band.step
    mean = (times * rows).sum(axis=1) * band.step
    variance = ((times - mean[:, None]) ** 2 * rows).sum(axis=1) * band.step
    plates = 8 * np.log(2) * (apex / above) ** 2
    flat = {"apex": apex, "height": rows.max(axis=1), "area": band.area, "mean": mean}
    flat |= {"variance": variance, "skewness": 0.4 + 0 * mean, "width_half": above}
    flat |= {"plates_half_height": plates, "plates_tangent": plates}
    flat |= {"plates_five_sigma": 0.9 * plates, "plates_moments": mean**2 / variance}
    return flat | {"tailing_5": 1.25 + 0 * mean, "asymmetry_10": 1.21 + 0 * mean}


def made_up_pressure(parts, cell_inlet):
    names = [part.name for part in parts if part.kind != "detector"]
    drops = {name: 1e5 * (1 + k) for k, name in enumerate(names)}
    total = sum(drops.values())
    highest = {"highest": total, "highest_at_cell": cell_inlet}
    return Pressure(total=total, parts=drops, cell_inlet=cell_inlet, **highest)


def hand_made(lanes=("cohumulone",), rows=WHOLE, warnings=()):
    """A result with the given solutes and rows of numbers; the n-th solute elutes later."""
    scale = 1 + 0.7 * np.arange(len(lanes))
    parts, mean, variance = [], 0.1 * np.ones(len(lanes)), 0 * scale
    for name, kind, volume, residence, fourier, *variances in rows:
        stretch = scale if kind == "column" else np.ones(len(lanes))
        mean = mean + residence * stretch
        theory, exact, simulated = (value * stretch**2 for value in variances)
        variance = variance + simulated
        full = np.full(len(lanes), 1.0)
        parts.append(
            PartResult(
                name=name,
                kind=kind,
                volume=volume * full,
                residence=residence * stretch,
                fourier_number=fourier * full,
                mean_closed_form=residence * stretch,
                mean_simulated=residence * stretch * 1.0001,
                variance_gaussian_theory=theory,
                variance_exact=exact,
                variance_simulated=simulated,
                variance_volume=simulated * 1e-8**2,
                skewness_exact=NAN * full,
                skewness_simulated=0.5 * full,
                amount_lost=1e-9 * full,
                gradient_focusing=NAN * full,
                band=band_of(mean, variance),
            )
        )
    recorded = measured(parts[-1].band) | {"amount_recovered": np.full(len(lanes), 1 - 8e-9)}
    alone, column_band = None, None
    columns = [part for part in parts if part.kind == "column"]
    if columns:
        column_band = band_of(mean, columns[0].variance_simulated, tail=1e-3)
        alone = {"plates_half_height": measured(column_band)["plates_half_height"]}
        alone["tailing_5"] = np.ones(len(lanes))
    has_cell = any(part.kind == "cell" for part in parts)
    return Result(
        lanes=tuple(lanes),
        parts=tuple(parts),
        recorded=recorded,
        column_alone=alone,
        column_band=column_band,
        numerical_error={name: 1e-4 * np.abs(value) for name, value in recorded.items()},
        pressure=made_up_pressure(parts[1:], 0.0 if has_cell else NAN),
        warnings=tuple(warnings),
    )


@pytest.fixture
def result():
    """One solute, eight parts, a column and a detector."""
    return hand_made()


@pytest.fixture(scope="session")
def make_result():
    """The maker itself, for tests that want other solutes or parts."""
    return hand_made


@pytest.fixture(scope="session")
def rows():
    """Rows of numbers by name, to build other paths from."""
    return {row[0]: row for row in WHOLE} | {"long": LONG}
