"""How far a tube's peak is from a Gaussian, against the Fourier number: exact and simulated."""

from typing import Any

import numpy as np

from tailrace.journey.result import Result
from tailrace.measures.registry import PLATES, VARIANCE
from tailrace.parts.tube.theory import reduced_cumulants
from tailrace.quantities.arrays import FloatArray
from tailrace.scenario.scenario import Scenario
from tailrace.studies.gallery.curves import travelled
from tailrace.studies.gallery.exhibit import ERROR, Exhibit, table_of
from tailrace.studies.gallery.tube_pulses import BRIEF, pulse

SIMULATED = (
    *(0.003, 0.006, 0.01, 0.02, 0.03, 0.06, 0.1, 0.15, 0.2, 0.25, 0.3, 0.4, 0.6),
    *(1.0, 2.0, 4.0, 10.0, 30.0, 100.0),
)
EXACT = np.geomspace(0.002, 150, 120)
NAN = float("nan")
MEANINGS = {
    "fourier_number": ("1", "Fourier number of the tube, pi D L / F"),
    "variance_exact": ("1", "variance that the tube adds over Taylor's, closed form"),
    "variance_simulated": ("1", "the same, simulated"),
    "skewness_exact": ("1", "skewness that the tube adds, closed form"),
    "skewness_simulated": ("1", "the same, simulated"),
    "plates_ratio": ("1", "plates by half height over plates by moments, simulated"),
    ERROR: ("1", "the largest of the three simulated figures', over the figure"),
}


def exhibit(scenario: Scenario | None = None) -> Exhibit:
    """Compute the figure; no scenario matters to it."""
    results = travelled([pulse(fourier) for fourier in SIMULATED])
    variance, skewness = _exact(EXACT)
    curve = {
        "fourier_number": EXACT,
        "variance_exact": variance,
        "skewness_exact": skewness,
        **dict.fromkeys(("variance_simulated", "skewness_simulated", "plates_ratio", ERROR), NAN),
    }
    points = [_point(fourier, result) for fourier, result in zip(SIMULATED, results, strict=True)]
    ratio = {point["fourier_number"]: float(point["plates_ratio"]) for point in points}
    share = float(_exact(np.array([0.1]))[0][0])
    return Exhibit(
        name="fourier-number",
        title="How far a tube's peak is from a Gaussian",
        caption=(
            "Variance that a tube adds over that of long-tube theory, its skewness, and plates "
            "counted at half height over plates from moments, against the Fourier number X; lines "
            "are closed forms, circles simulated. At X = 0.1 the long-tube formula counts the "
            f"variance {1 / share:.2g} times too high, and plates read at half height are "
            f"{ratio[0.1]:.0f} times those of the moments."
        ),
        alt=(
            "Three panels over Fourier numbers from 0.003 to 100 on a logarithmic scale. The "
            f"variance ratio rises from {float(_exact(np.array([0.003]))[0][0]):.2f} at 0.003 by "
            f"{share:.2f} at 0.1 to 1 above 10. The skewness falls from 3.6 towards 0. The plate "
            f"ratio is {max(ratio.values()):.0f} at most, falls below 1 between 0.1 and 0.3, and "
            "comes back to 1. Circles lie on the lines."
        ),
        table=table_of(MEANINGS, [curve, *points]),
    )


def _exact(fourier: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Variance over Taylor's X/24 and skewness, (points,) arrays, 1."""
    variance, third = reduced_cumulants(fourier)
    return variance / (fourier / 24), third / variance**1.5


def _point(fourier: float, result: Result) -> dict[str, Any]:
    tube, seen, error = result.parts[-1], result.recorded, result.numerical_error
    exact = _exact(np.array([fourier]))
    added = tube.variance_simulated[0]
    doubts = (
        error[VARIANCE][0] / added,
        error["skewness"][0] / tube.skewness_simulated[0],
        error[PLATES][0] / seen[PLATES][0],
    )
    return {
        "fourier_number": fourier,
        "variance_exact": exact[0],
        "variance_simulated": added * 24 * fourier,
        "skewness_exact": exact[1],
        "skewness_simulated": tube.skewness_simulated[0],
        "plates_ratio": (seen[PLATES] / seen["plates_moments"])[0],
        ERROR: max(doubts),
    }


__all__ = ["BRIEF", "SIMULATED", "exhibit"]
