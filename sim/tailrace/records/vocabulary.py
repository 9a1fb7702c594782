"""The variables of a record: for each its unit and what it is, said once."""

from tailrace.journey.result import PartResult
from tailrace.measures.registry import METRICS, RESOLUTION, SIGNALS, of_pairs, of_peaks
from tailrace.quantities.described import descriptions

PARTS = {
    name: (str(said.unit), said.meaning)
    for name, said in descriptions(PartResult).items()
    if said.unit
}

MEASURES = {name: (row.unit, row.meaning) for name, row in of_peaks().items()}
SIGNAL = {name: (row.unit, row.meaning) for name, row in SIGNALS.items()}
SEPARATION = {
    "half_height": ("1", f"{METRICS[RESOLUTION].meaning}, recorded"),
    "numerical_error": ("1", f"discretisation error of the {METRICS[RESOLUTION].meaning}"),
    "column_alone": ("1", f"{METRICS[RESOLUTION].meaning}, column's own peaks"),
    **{name: (row.unit, row.meaning) for name, row in of_pairs().items() if name != RESOLUTION},
}

BAND = {
    "values": ("1/s", "amount per time, over the amount injected"),
    "start": ("s", "time of the first sample, from the start of the injection"),
    "step": ("s", "time between two samples"),
    "time": ("s", "time from the start of the injection"),
}

PRESSURE = {
    "total": ("Pa", "pressure drop of the whole path"),
    "drop": ("Pa", "pressure drop of each part"),
    "cell_inlet": ("Pa", "pressure at the inlet of the flow cell"),
}


def attributes(vocabulary, name):
    """Attributes of a variable: ``units`` and ``long_name``."""
    row = METRICS.get(name) if vocabulary is MEASURES else None
    units, meaning = vocabulary[name] if row is None else (row.unit, row.meaning)
    return {"units": units, "long_name": meaning}
