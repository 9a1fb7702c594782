"""The sum of variances against simulation, for fifty random variants of an instrument."""

import numpy as np

from tailrace.measures.registry import PLATES, VARIANCE
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.target import StudyError
from tailrace.studies.gallery.curves import metrics_of, travelled
from tailrace.studies.gallery.exhibit import ERROR, Exhibit, table_of
from tailrace.studies.gallery.instrument import Instrument, instrument_of

INSTRUMENTS = 50
SEED = 50
"""Of the draws; another seed gives other instruments and the same picture."""
SPREAD = {
    "tube": {"bore": 1.5, "length": 3.0},
    "fitting": {"gap_length": 3.0},
    "chamber": {"volume": 3.0},
    "cell": {"volume": 3.0},
    "detector": {"time_constant": 3.0},
    "injector": {"volume": 3.0},
    "column": {},
}
"""Largest factor by which each number is multiplied or divided, even in its logarithm."""
SPREAD_OF_STREAM = {"flow_rate": 2.0, "diffusivity": 1.5, "retention_factor": 3.0}
MEANINGS = {
    "instrument": ("1", "number of the draw"),
    "variance_textbook": ("s^2", "sum over all parts, tubes by long-tube theory"),
    "variance_exact": ("s^2", "sum over all parts, tubes by the closed form for their length"),
    "variance_simulated": ("s^2", "of the simulated signal"),
    "plates_textbook": ("1", "square of the mean over the textbook sum"),
    "plates_exact": ("1", "square of the mean over the exact sum"),
    "plates_recorded": ("1", "read at half height of the simulated signal"),
    ERROR: ("1", "of the plates recorded, over them; variances are surer"),
}


def exhibit(scenario: Scenario | None = None) -> Exhibit:
    """Compute the figure for a Scenario, or for the gallery's own."""
    instrument = instrument_of(scenario, "sum-of-variances", ("column",))
    draws = np.random.default_rng(SEED)
    results = travelled([_drawn(instrument, draws).itinerary() for _ in range(INSTRUMENTS)])
    textbook, exact = (
        np.array([sum(getattr(part, way)[0] for part in one.parts) for one in results])
        for way in ("variance_gaussian_theory", "variance_exact")
    )
    simulated = metrics_of(results, "recorded", VARIANCE)
    recorded = metrics_of(results, "recorded", PLATES)
    square = np.square(metrics_of(results, "recorded", "mean"))
    if not np.isfinite(exact).all():
        raise StudyError(
            "expected a linear column for the figure sum-of-variances, found an overloaded one, "
            "whose variance has no closed form; leave out capacity or name another figure"
        )
    piece = {
        "instrument": np.arange(1.0, INSTRUMENTS + 1),
        "variance_textbook": textbook,
        "variance_exact": exact,
        "variance_simulated": simulated,
        "plates_textbook": square / textbook,
        "plates_exact": square / exact,
        "plates_recorded": recorded,
        ERROR: metrics_of(results, "numerical_error", PLATES) / recorded,
    }
    over = textbook / simulated
    apart = float(np.nanmax(np.abs(exact / simulated - 1)))
    ratio = piece["plates_textbook"] / recorded
    return Exhibit(
        name="sum-of-variances",
        title="The sum of variances against simulation",
        caption=(
            f"Variances and plates of {INSTRUMENTS} random variants of one instrument, summed by "
            "textbook formulae and by exact ones, against the simulated signal. Exact variances "
            f"add up to the simulated one within {apart:.0e}, the textbook sum is "
            f"{over.min():.2f} to {over.max():.2f} times as large; plates from it are "
            f"{ratio.min():.2f} to {ratio.max():.2f} times those read at half height, since the "
            "half height sees little of a tail."
        ),
        alt=(
            "Two panels with a diagonal. Left, variances: crosses of the exact sum lie on the "
            "diagonal, circles of the textbook sum on it or above. Right, plates: circles of the "
            "textbook sum lie below the diagonal, crosses of the exact one nearer to it."
        ),
        table=table_of(MEANINGS, [piece]),
    )


def _drawn(instrument: Instrument, draws: np.random.Generator) -> Instrument:
    """One variant: every number of SPREAD that a part has, times a random factor."""
    numbers = {
        name: float(getattr(instrument.stream, name)[0]) * _factor(draws, most)
        for name, most in SPREAD_OF_STREAM.items()
    }
    changed = instrument.with_stream(**numbers)
    for place, (part, _) in enumerate(instrument.passages):
        new = {
            name: getattr(part, name) * _factor(draws, most)
            for name, most in SPREAD.get(part.kind, {}).items()
        }
        if part.records:
            # Recorded points would add the chance of where they fall to what is compared.
            new["interval"] = float("nan")
        changed = changed.with_part(place, **new)
    return changed


def _factor(draws: np.random.Generator, most: float) -> float:
    return float(most ** draws.uniform(-1, 1))
