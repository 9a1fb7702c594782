"""Plates against retention for columns of four formats on the same instrument."""

from typing import TypeAlias

import numpy as np

from tailrace.measures.registry import PLATES
from tailrace.scenario.scenario import Scenario
from tailrace.studies.gallery.curves import metrics_of, travelled
from tailrace.studies.gallery.exhibit import ERROR, Exhibit, table_of
from tailrace.studies.gallery.instrument import Instrument, instrument_of

MILLILITRE_A_MINUTE = 1e-6 / 60
Format: TypeAlias = tuple[float, float, float, str, float]
FORMATS: tuple[Format, ...] = (
    (4.6, 150, 5.0, "fully porous", 1.0),
    (4.6, 100, 2.7, "core-shell", 1.5),
    (2.1, 100, 2.7, "core-shell", 0.4),
    (2.1, 50, 1.7, "fully porous", 0.5),
)
"""Bore and length, mm; particles, um, and their kind; flow, mL/min, as is usual for them (common
practice, no source)."""
RETENTION_FACTORS = tuple(np.geomspace(0.5, 20, 12).tolist())
NAN = float("nan")
MEANINGS = {
    "column": ("", "bore x length, particle diameter and kind"),
    "flow_rate": ("m^3/s", "at which this column is run"),
    "retention_factor": ("1", "k"),
    "plates_column": ("1", "plates of the column alone, at half height"),
    "plates_recorded": ("1", "plates recorded, at half height"),
    "kept": ("1", "plates recorded over those of the column alone"),
    ERROR: ("1", "of the plates recorded, over them"),
}


def exhibit(scenario: Scenario | None = None) -> Exhibit:
    """Compute the figure for a Scenario, or for the gallery's own."""
    instrument = instrument_of(scenario, "retention", ("column",))
    cases = [(each, k) for each in FORMATS for k in RETENTION_FACTORS]
    results = travelled([_case(instrument, *case).itinerary() for case in cases])
    recorded, column, error = (
        metrics_of(results, group, PLATES)
        for group in ("recorded", "column_alone", "numerical_error")
    )
    piece = {
        "column": [_words(each) for each, _ in cases],
        "flow_rate": [each[4] * MILLILITRE_A_MINUTE for each, _ in cases],
        "retention_factor": [k for _, k in cases],
        "plates_column": column,
        "plates_recorded": recorded,
        "kept": recorded / column,
        ERROR: error / recorded,
    }
    kept = 100 * np.reshape(recorded / column, (len(FORMATS), -1))
    low, high = RETENTION_FACTORS[0], RETENTION_FACTORS[-1]
    return Exhibit(
        name="retention",
        title="One instrument, four columns: the smaller the column, the more is lost",
        caption=(
            "Plates recorded, and their share of what the column alone gives, against the "
            "retention factor k, for columns of four formats at usual flows on the same "
            f"instrument. Of the widest and longest column {kept[0, 0]:.0f} % are kept at "
            f"k = {low:g} and {kept[0, -1]:.0f} % at k = {high:g}; of the smallest "
            f"{kept[-1, 0]:.0f} % and {kept[-1, -1]:.0f} %, since early peaks of small columns "
            "are the narrowest."
        ),
        alt=(
            "Two panels over the retention factor on a logarithmic scale, plates recorded and "
            "share kept, with a line for each column. Share kept at the least and the largest "
            "retention: "
            + "; ".join(
                f"{_words(each)}: {row[0]:.0f} % and {row[-1]:.0f} %"
                for each, row in zip(FORMATS, kept, strict=True)
            )
            + "."
        ),
        table=table_of(MEANINGS, [piece]),
    )


def _case(instrument: Instrument, each: Format, retention_factor: float) -> Instrument:
    bore, length, particle_diameter, particle, flow = each
    column = {
        "bore": 1e-3 * bore,
        "length": 1e-3 * length,
        "particle_diameter": 1e-6 * particle_diameter,
        "particle": particle,
        "plates": NAN,
        "plates_flow": NAN,
        "porosity": NAN,
        "core_ratio": NAN,
    }
    changed = instrument.with_part("separates", **column)
    return changed.with_stream(
        flow_rate=flow * MILLILITRE_A_MINUTE, retention_factor=retention_factor
    )


def _words(each: Format) -> str:
    bore, length, particle_diameter, particle, _ = each
    return f"{bore:g} × {length:g} mm, {particle_diameter:.1f} µm {particle}"
