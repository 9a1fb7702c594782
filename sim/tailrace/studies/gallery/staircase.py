"""From the plates of the column to those recorded, part by part."""

import numpy as np

from tailrace.measures.registry import PLATES
from tailrace.scenario.scenario import Scenario
from tailrace.studies.gallery.curves import metrics_of, travelled
from tailrace.studies.gallery.exhibit import ERROR, Exhibit, table_of
from tailrace.studies.gallery.instrument import instrument_of

MEANINGS = {
    "part": ("", "with which the path is longer by one part, in the order of the flow"),
    "plates": ("1", "at half height, of the column with this part and those above it"),
    "lost": ("1", "plates less than without this part"),
    ERROR: ("1", "of the plates, over them"),
}


def exhibit(scenario: Scenario | None = None) -> Exhibit:
    """Compute the figure for a Scenario, or for the gallery's own."""
    instrument = instrument_of(scenario, "staircase", ("column",))
    column = instrument.place("separates")
    others = [at for at in range(len(instrument.passages)) if at != column]
    paths = [sorted([column, *others[:count]]) for count in range(1, len(others) + 1)]
    results = travelled([instrument.with_passages(path).itinerary() for path in paths])
    alone = metrics_of(results[-1:], "column_alone", PLATES)[0]
    plates = np.array([alone, *(one.recorded[PLATES][0] for one in results)])
    errors = np.array([one.numerical_error[PLATES][0] for one in results])
    names = ["column alone", *(instrument.passages[at][0].name for at in others)]
    lost = np.concatenate([[0.0], -np.diff(plates)])
    piece = {
        "part": names,
        "plates": plates,
        "lost": lost,
        # The column's own plates are those of one exact response, read off its samples.
        ERROR: np.concatenate([[0.0], errors / plates[1:]]),
    }
    worst = np.argsort(-lost[1:], kind="stable")[:2] + 1
    kept, whole = 100 * plates[-1] / alone, np.sum(lost)
    named = [f"{names[at]} ({100 * lost[at] / whole:.0f} %)" for at in worst]
    return Exhibit(
        name="staircase",
        title="From the column's plates to those recorded, part by part",
        caption=(
            f"Plates at half height of {instrument.solute} with the column alone, and as the "
            "other parts of the path are put in place one after the other, in the order of the "
            f"flow. Of {_thousands(alone)} plates {_thousands(plates[-1])} are recorded "
            f"({kept:.0f} %); most of the loss is due to {' and '.join(named)}."
        ),
        alt=(
            "Bars from top to bottom, each shorter than the one above it: "
            + ", ".join(
                f"{name} {_thousands(count)}" for name, count in zip(names, plates, strict=True)
            )
            + "."
        ),
        table=table_of(MEANINGS, [piece]),
    )


def _thousands(value: float) -> str:
    return f"{float(f'{value:.3g}'):.0f}"
