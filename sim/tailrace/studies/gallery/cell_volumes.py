"""A peak through a series of flow cells, from a tenth of to twice its own volume."""

from typing import Any

import numpy as np

from tailrace.journey.result import Result
from tailrace.measures.registry import APEX, TAILING, WIDTH
from tailrace.scenario.scenario import Scenario
from tailrace.studies.gallery.curves import curve_errors, points_of, travelled
from tailrace.studies.gallery.exhibit import ERROR, Exhibit, table_of
from tailrace.studies.gallery.instrument import instrument_of, rounded
from tailrace.studies.lanes import band_of

SHARES = (0.1, 0.2, 0.5, 1.0, 2.0)
"""Cell volumes over the volume of the peak that meets the cell."""
LEAST = 2e-3
MICROLITRE = 1e-9
MEANINGS = {
    "cell_volume": ("m^3", "of the flow cell; 0 is the peak at its inlet"),
    "peak_volume": ("m^3", "of the peak at the inlet: width at half height times flow"),
    "time": ("s", "from the start of the injection"),
    "signal": ("1/s", "seen by the light, over the amount injected"),
    "plates_kept": ("1", "plates at half height over those at the inlet of the cell"),
    TAILING: ("1", "symmetry factor at 5 % of the height"),
    ERROR: ("1", "of the curve, largest over its height"),
}


def exhibit(scenario: Scenario | None = None) -> Exhibit:
    """Compute the figure for a Scenario, or for the gallery's own."""
    instrument = instrument_of(scenario, "cell-volumes", ("cell",), counted=False)
    place = instrument.place("observes")
    inlet = instrument.with_passages(range(place))
    (met,) = travelled([inlet.itinerary()])
    flow = float(np.max(instrument.stream.flow_rate))
    own = float(met.recorded[WIDTH][0]) * flow
    volumes = [rounded(share * own / MICROLITRE) * MICROLITRE for share in SHARES]
    through = instrument.with_passages(range(place + 1))
    itineraries = [
        inlet.itinerary(),
        *(through.with_part("observes", volume=one).itinerary() for one in volumes),
    ]
    results = travelled(itineraries)
    errors = curve_errors(itineraries, results)
    plain = met.recorded[WIDTH][0], met.recorded[APEX][0]
    pieces = [
        _piece(volume, own, result, error, plain)
        for volume, result, error in zip([0.0, *volumes], results, errors, strict=True)
    ]
    kept = [100 * float(piece["plates_kept"]) for piece in pieces]
    tanks = instrument.part("observes").tanks
    mixed = f"mixed as {tanks:g} tanks in series" if tanks > 1 else "wholly mixed"
    return Exhibit(
        name="cell-volumes",
        title="The same peak in larger and larger flow cells",
        caption=(
            f"The peak of {instrument.solute} at the inlet of the flow cell, "
            f"{own / MICROLITRE:.3g} µL wide at half height, and as cells from a tenth of to twice "
            f"this volume show it, {mixed}. A cell of a tenth of the peak's volume keeps "
            f"{kept[1]:.0f} % of the plates, one of half of it {kept[3]:.0f} %, and one as large "
            f"as the peak {kept[4]:.0f} %."
        ),
        alt=(
            "The shaded peak at the inlet, and five peaks on the same time axis, which become "
            "lower, later and wider the larger the cell. Plates kept: "
            + ", ".join(
                f"{share:.0f} % with {one / MICROLITRE:g} µL"
                for one, share in zip(volumes, kept[1:], strict=True)
            )
            + "."
        ),
        table=table_of(MEANINGS, pieces),
    )


def _piece(
    volume: float, own: float, result: Result, error: float, plain: tuple[float, float]
) -> dict[str, Any]:
    """``plain``: width at half height and time of the maximum at the inlet."""
    seen = {name: values[0] for name, values in result.recorded.items()}
    times, values = points_of(band_of(result), LEAST)
    return {
        "cell_volume": volume,
        "peak_volume": own,
        "time": times,
        "signal": values,
        "plates_kept": np.square(seen[APEX] / seen[WIDTH] * plain[0] / plain[1]),
        TAILING: seen[TAILING],
        ERROR: error,
    }
