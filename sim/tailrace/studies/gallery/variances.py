"""Figure of random instruments: sums of variances over what is simulated."""

from collections.abc import Sequence

import numpy as np

from tailrace.measures.registry import PLATES
from tailrace.quantities.arrays import FloatArray
from tailrace.scenario.target import StudyError
from tailrace.studies.gallery.curves import metrics_of, travelled
from tailrace.studies.gallery.exhibit import ERROR, Exhibit, table_of
from tailrace.studies.gallery.instrument import Asked, Instrument, instrument_of
from tailrace.wording import say

INSTRUMENTS = 50
SEED = 50
"""Of the random numbers; another seed gives other instruments and the same picture."""
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
SUM_COLUMNS = {
    "instrument": ("1", "number of the variant"),
    "fourier_number": ("1", "pi D L / F of the tube that adds most"),
    "variance_textbook": ("s^2", "sum of all parts but the column, tubes by long-tube theory"),
    "variance_exact": ("s^2", "the same sum, tubes by the closed form for their length"),
    "variance_simulated": ("s^2", "that all parts but the column add to the simulated signal"),
    "plates_textbook": ("1", "square of the mean over the textbook sum, the column in it"),
    "plates_exact": ("1", "square of the mean over the exact sum, the column in it"),
    "plates_recorded": ("1", "read at half height of the simulated signal"),
    ERROR: ("1", "of the plates recorded, over them; variances are surer"),
}
SUM_ALT = (
    "Two panels over the Fourier number, from {low:.2g} to {high:.2g} on a logarithmic scale, with "
    "a line at one, and a cross and a circle for each of {count} instruments. Left, variances over "
    "the simulated ones: crosses of the exact sum lie on the line, circles of the textbook sum "
    "from {least:.2f} to {most:.2f}; of the half of the instruments with the larger Fourier "
    "numbers the highest circle lies at {later:.2f}. Right, plates over those recorded: circles "
    "from {fewest:.2f} to {many:.2f}, crosses from {exact_fewest:.2f} to {exact_many:.2f}."
)


def sum_of_variances(asked: Asked) -> Exhibit:
    """Compute the figure for the instrument asked for."""
    instrument = instrument_of(asked, "sum-of-variances", ("column", "tube"))
    random = np.random.default_rng(SEED)
    piece = _summed(instrument, [_drawn(instrument, random) for _ in range(INSTRUMENTS)])
    recorded = piece["plates_recorded"]
    over = piece["variance_textbook"] / piece["variance_simulated"]
    apart = float(np.nanmax(np.abs(piece["variance_exact"] / piece["variance_simulated"] - 1)))
    ratio, exact = (piece[f"plates_{way}"] / recorded for way in ("textbook", "exact"))
    fourier = piece["fourier_number"]
    ends = {"least": over.min(), "most": over.max(), "fewest": ratio.min(), "many": ratio.max()}
    return Exhibit(
        name="sum-of-variances",
        title=say("The sum of variances over what is simulated"),
        caption=say(
            "Variances that the parts outside the column add, and plates, of {count} random "
            "variants of one instrument: summed by textbook formulae and by exact ones, over those "
            "of the simulated signal, against the Fourier number of the tube that adds most. Exact "
            "variances add up to the simulated ones within {apart:.1g} %, the textbook sum is "
            "{least:.2f} to {most:.2f} times as large; plates from it are {fewest:.2f} to "
            "{many:.2f} times those read at half height, since the half height sees little of a "
            "tail.",
            count=INSTRUMENTS,
            apart=100 * apart,
            **ends,
        ),
        alt=say(
            SUM_ALT,
            count=INSTRUMENTS,
            low=fourier.min(),
            high=fourier.max(),
            later=over[fourier >= np.median(fourier)].max(),
            exact_fewest=exact.min(),
            exact_many=exact.max(),
            **ends,
        ),
        table=table_of(SUM_COLUMNS, [piece]),
    )


def _summed(instrument: Instrument, variants: Sequence[Instrument]) -> dict[str, FloatArray]:
    """The columns of the table."""
    results = travelled([one.itinerary() for one in variants])
    numbers = {
        name: np.array([[getattr(part, name)[0] for part in one.parts] for one in results])
        for name in (
            "fourier_number",
            "variance_gaussian_theory",
            "variance_exact",
            "variance_simulated",
        )
    }
    textbook, exact, simulated = list(numbers.values())[1:]
    if not np.isfinite(exact).all():
        raise StudyError(
            "expected a linear column for the figure sum-of-variances, found an overloaded one, "
            "whose variance has no closed form; leave out capacity or name another figure"
        )
    laminar = np.isfinite(numbers["fourier_number"])
    most = np.argmax(np.where(laminar, exact, -1.0), axis=1)
    fourier = numbers["fourier_number"][np.arange(INSTRUMENTS), most]
    outside = [not part.separates for part, _ in instrument.passages]
    recorded = metrics_of(results, "recorded", PLATES)
    square = np.square(metrics_of(results, "recorded", "mean"))
    return {
        "instrument": np.arange(1.0, INSTRUMENTS + 1),
        "fourier_number": fourier,
        "variance_textbook": textbook[:, outside].sum(axis=1),
        "variance_exact": exact[:, outside].sum(axis=1),
        "variance_simulated": simulated[:, outside].sum(axis=1),
        "plates_textbook": square / textbook.sum(axis=1),
        "plates_exact": square / exact.sum(axis=1),
        "plates_recorded": recorded,
        ERROR: metrics_of(results, "numerical_error", PLATES) / recorded,
    }


def _drawn(instrument: Instrument, random: np.random.Generator) -> Instrument:
    """One variant: every number of SPREAD that a part has, times a random factor."""
    numbers = {
        name: float(getattr(instrument.stream, name)[0]) * _factor(random, most)
        for name, most in SPREAD_OF_STREAM.items()
    }
    changed = instrument.with_stream(**numbers)
    for place, (part, _) in enumerate(instrument.passages):
        new = {
            name: getattr(part, name) * _factor(random, most)
            for name, most in SPREAD.get(part.kind, {}).items()
        }
        if part.records:
            # Recorded points would add the chance of where they fall to what is compared.
            new["interval"] = float("nan")
        changed = changed.with_part(place, **new)
    return changed


def _factor(random: np.random.Generator, most: float) -> float:
    return float(most ** random.uniform(-1, 1))
