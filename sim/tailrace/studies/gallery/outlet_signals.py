"""What leaves a tube after a brief injection, at Fourier numbers from 0.01 to 10."""

from typing import Any

import numpy as np

from tailrace.measures.registry import APEX
from tailrace.scenario.scenario import Scenario
from tailrace.signals.band import Band
from tailrace.signals.cubic import sample
from tailrace.studies.gallery.curves import curve_errors, points_of, travelled
from tailrace.studies.gallery.exhibit import ERROR, Exhibit, table_of
from tailrace.studies.gallery.tube_pulses import BRIEF, pulse
from tailrace.studies.lanes import band_of

FOURIER_NUMBERS = (0.01, 0.03, 0.1, 0.3, 1.0, 3.0, 10.0)
LATEST = 3.0
"""Residence times; a tail at 0.01 goes on beyond."""
MEANINGS = {
    "fourier_number": ("1", "Fourier number of the tube, pi D L / F"),
    "time": ("1", "time from the injection over the residence time"),
    "signal": ("1", "simulated signal times the residence time"),
    "long_tube_theory": ("1", "Gaussian of Taylor's variance, in the same measure"),
    ERROR: ("1", "of the simulated curve, largest over its height"),
}


def exhibit(scenario: Scenario | None = None) -> Exhibit:
    """Compute the figure; no scenario matters to it."""
    itineraries = [pulse(fourier) for fourier in FOURIER_NUMBERS]
    results = travelled(itineraries)
    errors = curve_errors(itineraries, results)
    pieces = [
        _piece(fourier, band_of(result), error)
        for fourier, result, error in zip(FOURIER_NUMBERS, results, errors, strict=True)
    ]
    crests = [float(one.recorded[APEX][0]) for one in results]
    return Exhibit(
        name="outlet-signals",
        title="What leaves a tube after a brief injection",
        caption=(
            "Simulated signal at the outlet of a tube, in units of its residence time, for fourier "
            "numbers X from 0.01 to 10, and the Gaussian of long-tube theory (dashed). The theory "
            "holds from about X = 3 upward; in shorter tubes the liquid on the axis arrives after "
            f"half the residence time (at X = {FOURIER_NUMBERS[0]:g} the signal peaks at "
            f"{crests[0]:.2f}) and a long tail follows, of which a Gaussian knows nothing."
        ),
        alt=(
            "Seven panels, one a Fourier number. At 0.01, 0.03 and 0.1 a sharp front at half "
            "the residence time with a falling tail, over a wide, flat dashed Gaussian; at 0.3 a "
            "small peak in front of a hump; at 1, 3 and 10 ever narrower bells around the "
            f"residence time. Maxima at {', '.join(f'{at:.2f}' for at in crests)} residence times."
        ),
        table=table_of(MEANINGS, pieces),
    )


def _piece(fourier: float, band: Band, error: float) -> dict[str, Any]:
    picked, _ = points_of(band, 1e-4)
    times = np.union1d(picked[picked <= LATEST], np.linspace(0, LATEST, 151))
    spread = 1 / np.sqrt(24 * fourier)
    with np.errstate(under="ignore"):
        theory = np.exp(-(((times - 1) / spread) ** 2) / 2) / (spread * np.sqrt(2 * np.pi))
    return {
        "fourier_number": fourier,
        "time": times,
        "signal": sample(band, times[None])[0],
        "long_tube_theory": theory,
        ERROR: error,
    }


__all__ = ["BRIEF", "FOURIER_NUMBERS", "exhibit"]
