"""Figures of an instrument: its peak through cells and filters, its plates, its variances."""

from typing import Any, TypeAlias

import numpy as np

from tailrace.journey import travel
from tailrace.journey.result import Result
from tailrace.measures.registry import APEX, PLATES, TAILING, VARIANCE, WIDTH
from tailrace.parts.detector.part import Detector
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.target import StudyError
from tailrace.studies.gallery.curves import curve_errors, metrics_of, points_of, travelled
from tailrace.studies.gallery.exhibit import ERROR, Exhibit, table_of
from tailrace.studies.gallery.instrument import Instrument, instrument_of, rounded
from tailrace.studies.lanes import band_of

CELL_SHARES = (0.1, 0.2, 0.5, 1.0, 2.0)
"""Cell volumes over the volume of the peak that meets the cell."""
LEAST = 2e-3
MICROLITRE = 1e-9
CELL_COLUMNS = {
    "cell_volume": ("m^3", "of the flow cell; 0 is the peak at its inlet"),
    "peak_volume": ("m^3", "of the peak at the inlet: width at half height times flow"),
    "time": ("s", "from the start of the injection"),
    "signal": ("1/s", "seen by the light, over the amount injected"),
    "plates_kept": ("1", "plates at half height over those at the inlet of the cell"),
    TAILING: ("1", "symmetry factor at 5 % of the height"),
    ERROR: ("1", "of the curve, largest over its height"),
}


def cell_volumes(scenario: Scenario | None = None) -> Exhibit:
    """Compute the figure for a Scenario, or for the gallery's own."""
    instrument = instrument_of(scenario, "cell-volumes", ("cell",), counted=False)
    place = instrument.place("observes")
    inlet = instrument.with_passages(range(place))
    (met,) = travelled([inlet.itinerary()])
    flow = float(np.max(instrument.stream.flow_rate))
    own = float(met.recorded[WIDTH][0]) * flow
    volumes = [rounded(share * own / MICROLITRE) * MICROLITRE for share in CELL_SHARES]
    through = instrument.with_passages(range(place + 1))
    itineraries = [
        inlet.itinerary(),
        *(through.with_part("observes", volume=one).itinerary() for one in volumes),
    ]
    results = travelled(itineraries)
    errors = curve_errors(itineraries, results)
    plain = met.recorded[WIDTH][0], met.recorded[APEX][0]
    pieces = [
        {"cell_volume": volume, "peak_volume": own} | _seen(result, error, plain)
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
        table=table_of(CELL_COLUMNS, pieces),
    )


def _seen(result: Result, error: float, plain: tuple[float, float]) -> dict[str, Any]:
    """``plain``: width at half height and time of the maximum without what broadens."""
    seen = {name: values[0] for name, values in result.recorded.items()}
    times, values = points_of(band_of(result), LEAST)
    kept = np.square(seen[APEX] / seen[WIDTH] * plain[0] / plain[1])
    return seen | {"time": times, "signal": values, "plates_kept": kept, ERROR: error}


FILTER_SHARES = (0.0, 0.1, 0.25, 0.5, 1.0, 2.0)
"""Time constants over the standard deviation of the peak that meets the filter."""
FILTER_COLUMNS = {
    "time_constant": ("s", "of the first-order filter"),
    "time": ("s", "from the start of the injection"),
    "signal": ("1/s", "recorded, over the amount injected"),
    WIDTH: ("s", "width at half height"),
    TAILING: ("1", "symmetry factor at 5 % of the height"),
    "plates_kept": ("1", "plates at half height over those without a filter"),
    ERROR: ("1", "of the curve, largest over its height"),
}


def time_constants(scenario: Scenario | None = None) -> Exhibit:
    """Compute the figure for a Scenario, or for the gallery's own."""
    instrument = instrument_of(scenario, "time-constants", counted=False)
    path = [at for at, (part, _) in enumerate(instrument.passages) if not part.records]
    before = instrument.with_passages(path)
    (met,) = travelled([before.itinerary()])
    width = float(np.sqrt(met.recorded[VARIANCE][0]))
    constants = [rounded(share * width) for share in FILTER_SHARES]
    itineraries = [
        before.with_last(Detector(time_constant=constant)).itinerary() for constant in constants
    ]
    results = travelled(itineraries)
    errors = curve_errors(itineraries, results)
    plain = results[0].recorded[WIDTH][0], results[0].recorded[APEX][0]
    pieces = [
        {"time_constant": constant} | _seen(result, error, plain)
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
        table=table_of(FILTER_COLUMNS, pieces),
    )


STAIRCASE_COLUMNS = {
    "part": ("", "with which the path is longer by one part, in the order of the flow"),
    "plates": ("1", "at half height, of the column with this part and those above it"),
    "lost": ("1", "plates less than without this part"),
    "back": ("1", "plates that come back to the whole path if this part alone is ideal"),
    ERROR: ("1", "of the plates, over them"),
}


def staircase(scenario: Scenario | None = None) -> Exhibit:
    """Compute the figure for a Scenario, or for the gallery's own."""
    instrument = instrument_of(scenario, "staircase", ("column",))
    column = instrument.place("separates")
    others = [at for at in range(len(instrument.passages)) if at != column]
    paths = [sorted([column, *others[:count]]) for count in range(1, len(others) + 1)]
    shorter = travelled([instrument.with_passages(path).itinerary() for path in paths[:-1]])
    whole = travel(instrument.with_passages(paths[-1]).itinerary(), blame=True)
    results = [*shorter, whole]
    alone = metrics_of(results[-1:], "column_alone", PLATES)[0]
    plates = np.array([alone, *(one.recorded[PLATES][0] for one in results)])
    errors = np.array([one.numerical_error[PLATES][0] for one in results])
    names = ["column alone", *(instrument.passages[at][0].name for at in others)]
    lost = np.concatenate([[0.0], -np.diff(plates)])
    assert whole.regained is not None
    back = np.array([0.0, *(whole.regained.plates[one][0] for one in names[1:])])
    piece = {
        "part": names,
        "plates": plates,
        "lost": lost,
        "back": back,
        # The column's own plates are those of one exact response, read off its samples.
        ERROR: np.concatenate([[0.0], errors / plates[1:]]),
    }
    best = np.argsort(-back[1:], kind="stable")[:2] + 1
    kept = 100 * plates[-1] / alone
    named = [f"{_thousands(back[at])} plates from {names[at]}" for at in best]
    return Exhibit(
        name="staircase",
        title="From the column's plates to those recorded, part by part",
        caption=(
            f"Plates at half height of {instrument.solute} with the column alone, and as the "
            "other parts of the path are put in place one after the other, in the order of the "
            f"flow: what a part takes there depends on what came before it. Of {_thousands(alone)} "
            f"plates {_thousands(plates[-1])} are recorded ({kept:.0f} %); if one part alone were "
            f"ideal, most would come back to the whole: {', then '.join(named)}."
        ),
        alt=(
            "Bars from top to bottom, each shorter than the one above it: "
            + ", ".join(
                f"{name} {_thousands(count)}" for name, count in zip(names, plates, strict=True)
            )
            + "."
        ),
        table=table_of(STAIRCASE_COLUMNS, [piece]),
    )


def _thousands(value: float) -> str:
    return f"{float(f'{value:.3g}'):.0f}"


FLOWS = np.geomspace(0.125, 4, 16)
"""Over the flow of the method."""
MICROMETRE, BAR, MILLILITRE_A_MINUTE = 1e-6, 1e5, 1e-6 / 60
FLOW_COLUMNS = {
    "flow_rate": ("m^3/s", "pumped"),
    "height_column": ("m", "length over plates of the column alone, at half height"),
    "height_recorded": ("m", "length over plates recorded, at half height"),
    "pressure": ("Pa", "over the whole path; empty where the viscosity is not known"),
    "pressure_limit": ("Pa", "of the scenario; empty where it gives none"),
    ERROR: ("1", "of the recorded plate height, over it"),
}


def plate_height(scenario: Scenario | None = None) -> Exhibit:
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
        table=table_of(FLOW_COLUMNS, [piece]),
    )


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
RETENTION_COLUMNS = {
    "column": ("", "bore x length, particle diameter and kind"),
    "flow_rate": ("m^3/s", "at which this column is run"),
    "retention_factor": ("1", "k"),
    "plates_column": ("1", "plates of the column alone, at half height"),
    "plates_recorded": ("1", "plates recorded, at half height"),
    "kept": ("1", "plates recorded over those of the column alone"),
    ERROR: ("1", "of the plates recorded, over them"),
}


def retention(scenario: Scenario | None = None) -> Exhibit:
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
        table=table_of(RETENTION_COLUMNS, [piece]),
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
    "variance_textbook": ("s^2", "sum over all parts, tubes by long-tube theory"),
    "variance_exact": ("s^2", "sum over all parts, tubes by the closed form for their length"),
    "variance_simulated": ("s^2", "of the simulated signal"),
    "plates_textbook": ("1", "square of the mean over the textbook sum"),
    "plates_exact": ("1", "square of the mean over the exact sum"),
    "plates_recorded": ("1", "read at half height of the simulated signal"),
    ERROR: ("1", "of the plates recorded, over them; variances are surer"),
}


def sum_of_variances(scenario: Scenario | None = None) -> Exhibit:
    """Compute the figure for a Scenario, or for the gallery's own."""
    instrument = instrument_of(scenario, "sum-of-variances", ("column",))
    random = np.random.default_rng(SEED)
    results = travelled([_drawn(instrument, random).itinerary() for _ in range(INSTRUMENTS)])
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
        table=table_of(SUM_COLUMNS, [piece]),
    )


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
