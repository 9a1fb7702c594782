"""Plate height against flow: the column alone, and as the instrument records it."""

import numpy as np

from tailrace.measures.registry import PLATES
from tailrace.scenario.scenario import Scenario
from tailrace.studies.gallery.curves import metrics_of, travelled
from tailrace.studies.gallery.exhibit import ERROR, Exhibit, table_of
from tailrace.studies.gallery.instrument import instrument_of

FLOWS = np.geomspace(0.125, 4, 16)
"""Over the flow of the method."""
MICROMETRE, BAR, MILLILITRE_A_MINUTE = 1e-6, 1e5, 1e-6 / 60
MEANINGS = {
    "flow_rate": ("m^3/s", "pumped"),
    "height_column": ("m", "length over plates of the column alone, at half height"),
    "height_recorded": ("m", "length over plates recorded, at half height"),
    "pressure": ("Pa", "over the whole path; empty where the viscosity is not known"),
    "pressure_limit": ("Pa", "of the scenario; empty where it gives none"),
    ERROR: ("1", "of the recorded plate height, over it"),
}


def exhibit(scenario: Scenario | None = None) -> Exhibit:
    """Compute the figure for a Scenario, or for the gallery's own."""
    instrument = instrument_of(scenario, "plate-height", ("column",))
    flow, column = float(np.max(instrument.stream.flow_rate)), instrument.part("separates")
    if not np.isnan(column.plates) and np.isnan(column.plates_flow):
        # Plates without a flow would hold at any: here they are those of the method.
        instrument = instrument.with_part("separates", plates_flow=flow)
    flows = FLOWS * flow
    results = travelled([instrument.with_stream(flow_rate=one).itinerary() for one in flows])
    recorded = metrics_of(results, "recorded", PLATES)
    heights = {
        "height_column": column.length / metrics_of(results, "column_alone", PLATES),
        "height_recorded": column.length / recorded,
    }
    piece = {
        "flow_rate": flows,
        **heights,
        "pressure": np.array([one.pressure.total for one in results]),
        "pressure_limit": instrument.pressure_limit,
        ERROR: metrics_of(results, "numerical_error", PLATES) / recorded,
    }
    best = {name: int(np.argmin(values)) for name, values in heights.items()}
    told = {name: f"{values[best[name]] / MICROMETRE:.3g} µm" for name, values in heights.items()}
    at = {name: f"{flows[case] / MILLILITRE_A_MINUTE:.2g} mL/min" for name, case in best.items()}
    fast = heights["height_recorded"][-1] / heights["height_column"][-1]
    return Exhibit(
        name="plate-height",
        title="Plate height against flow: what the column does, and what is recorded",
        caption=(
            "Length of the column over plates at half height, against the flow, for the column "
            f"alone and as recorded on the instrument, for {instrument.solute} with a retention "
            f"factor of {float(np.max(instrument.stream.retention_factor)):g}. The column alone is "
            f"best at {at['height_column']} with {told['height_column']}; recorded, the best is "
            f"{told['height_recorded']} at {at['height_recorded']}, and at the highest flow "
            f"{fast:.1f} times the column's own plate height."
        ),
        alt=(
            "Two curves over the flow on a logarithmic scale. That of the column alone falls to a "
            f"minimum of {told['height_column']} and rises slowly. The recorded one lies above it, "
            f"with its minimum of {told['height_recorded']}, and rises much faster."
        ),
        table=table_of(MEANINGS, [piece]),
    )
