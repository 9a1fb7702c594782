"""The same peak through a series of time constants of the detector."""

from typing import Any

import numpy as np

from tailrace.journey.result import Result
from tailrace.measures.registry import APEX, TAILING, VARIANCE, WIDTH
from tailrace.parts.detector.part import Detector
from tailrace.scenario.scenario import Scenario
from tailrace.studies.gallery.curves import curve_errors, points_of, travelled
from tailrace.studies.gallery.exhibit import ERROR, Exhibit, table_of
from tailrace.studies.gallery.instrument import Instrument, instrument_of, rounded
from tailrace.studies.lanes import band_of

SHARES = (0.0, 0.1, 0.25, 0.5, 1.0, 2.0)
"""Time constants over the standard deviation of the peak that meets the filter."""
LEAST = 2e-3
MEANINGS = {
    "time_constant": ("s", "of the first-order filter"),
    "time": ("s", "from the start of the injection"),
    "signal": ("1/s", "recorded, over the amount injected"),
    WIDTH: ("s", "width at half height"),
    TAILING: ("1", "symmetry factor at 5 % of the height"),
    "plates_kept": ("1", "plates at half height over those without a filter"),
    ERROR: ("1", "of the curve, largest over its height"),
}


def exhibit(scenario: Scenario | None = None) -> Exhibit:
    """Compute the figure for a Scenario, or for the gallery's own."""
    instrument = instrument_of(scenario, "time-constants", counted=False)
    path = [at for at, (part, _) in enumerate(instrument.passages) if not part.records]
    before = instrument.with_passages(path)
    (met,) = travelled([before.itinerary()])
    width = float(np.sqrt(met.recorded[VARIANCE][0]))
    constants = [rounded(share * width) for share in SHARES]
    itineraries = [_filtered(before, constant).itinerary() for constant in constants]
    results = travelled(itineraries)
    errors = curve_errors(itineraries, results)
    plain = results[0].recorded[WIDTH][0], results[0].recorded[APEX][0]
    pieces = [
        _piece(constant, result, error, plain)
        for constant, result, error in zip(constants, results, errors, strict=True)
    ]
    kept = [100 * float(piece["plates_kept"]) for piece in pieces]
    return Exhibit(
        name="time-constants",
        title="The same peak through slower and slower electronics",
        caption=(
            f"The peak of {instrument.solute} behind the flow cell, recorded with time constants "
            f"of 0 to {constants[-1]:g} s; it meets the detector with a standard deviation of "
            f"{width:.2g} s. A time constant of a quarter of that ({constants[2]:g} s) "
            f"leaves {kept[2]:.0f} % of the plates, one as long as it ({constants[4]:g} s) "
            f"{kept[4]:.0f} % and a tail."
        ),
        alt=(
            f"{len(constants)} peaks on one time axis. With longer time constants they become "
            "lower, later and wider, and tail. Plates kept: "
            + ", ".join(
                f"{share:.0f} % at {one:g} s" for one, share in zip(constants, kept, strict=True)
            )
            + "."
        ),
        table=table_of(MEANINGS, pieces),
    )


def _filtered(before: Instrument, constant: float) -> Instrument:
    detector = Detector(time_constant=constant)
    return before.with_last(detector)


def _piece(
    constant: float, result: Result, error: float, plain: tuple[float, float]
) -> dict[str, Any]:
    """``plain``: width at half height and time of the maximum without a filter."""
    seen = {name: values[0] for name, values in result.recorded.items()}
    times, values = points_of(band_of(result), LEAST)
    return {
        "time_constant": constant,
        "time": times,
        "signal": values,
        WIDTH: seen[WIDTH],
        TAILING: seen[TAILING],
        "plates_kept": (seen[APEX] / seen[WIDTH] * plain[0] / plain[1]) ** 2,
        ERROR: error,
    }
