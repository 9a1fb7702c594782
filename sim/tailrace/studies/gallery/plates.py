"""Figures of an instrument: its peak through cells and filters, its plates, its variances."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import cache, partial
from typing import Any, TypeAlias

import numpy as np

from tailrace.journey import travel
from tailrace.journey.regained import askable
from tailrace.journey.result import Result
from tailrace.measures.registry import APEX, PLATES, PLATES_OWN, TAILING, VARIANCE, WIDTH
from tailrace.parts.detector.part import Detector
from tailrace.parts.injector.part import Injector
from tailrace.quantities.arrays import FloatArray
from tailrace.studies.gallery.branches import branched
from tailrace.studies.gallery.captions import of_cells, of_heights, of_retention
from tailrace.studies.gallery.curves import metrics_of, points_of, quickest, travelled
from tailrace.studies.gallery.exhibit import ERROR, Exhibit, table_of
from tailrace.studies.gallery.instrument import Asked, Instrument, instrument_of, rounded
from tailrace.studies.improving.ordering import sampled_shapley_values, shapley_values_of_game
from tailrace.studies.lanes import band_of
from tailrace.threads import in_threads
from tailrace.wording import say

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


def cell_volumes(asked: Asked) -> Exhibit:
    """Compute the figure for the instrument asked for."""
    instrument = instrument_of(asked, "cell-volumes", ("cell",), counted=False)
    place = instrument.place("observes")
    inlet = instrument.with_passages(range(place))
    (bands,) = travelled([inlet.itinerary()])
    flow = float(np.max(instrument.stream.flow_rate))
    own = float(bands.recorded[WIDTH][0]) * flow
    volumes = [rounded(share * own / MICROLITRE) * MICROLITRE for share in CELL_SHARES]
    if asked.values is not None:
        volumes = asked.values.tolist()
    through = instrument.with_passages(range(place + 1))
    itineraries = [
        inlet.itinerary(),
        *(through.with_part("observes", volume=one).itinerary() for one in volumes),
    ]
    results, errors = branched(itineraries)
    plain = bands.recorded[WIDTH][0], bands.recorded[APEX][0]
    pieces = [
        {"cell_volume": volume, "peak_volume": own} | _seen(result, error, plain)
        for volume, result, error in zip([0.0, *volumes], results, errors, strict=True)
    ]
    kept = [100 * float(piece["plates_kept"]) for piece in pieces]
    tanks = instrument.part("observes").tanks
    mixed = say("wholly mixed")
    if tanks > 1:
        mixed = say("mixed as {tanks:g} tanks in series", tanks=tanks)
    return Exhibit(
        name="cell-volumes",
        title=say("The same peak in larger and larger flow cells"),
        caption=of_cells(
            [one / own for one in volumes],
            solute=instrument.solute,
            wide=own / MICROLITRE,
            mixed=mixed,
            kept=_few("{kept:.0f} % at {value:.2g}", [one / own for one in volumes], kept[1:]),
        ),
        alt=say(
            "The shaded peak at the inlet, and {count} peaks on the same time axis, which become "
            "lower, later and wider the larger the cell. Plates kept: {kept}.",
            count=len(volumes),
            kept=_each(
                "{kept:.0f} % with {value:g} µL", [one / MICROLITRE for one in volumes], kept[1:]
            ),
        ),
        table=table_of(CELL_COLUMNS, pieces),
    )


def _each(form: str, values: Sequence[float], kept: Sequence[float]) -> str:
    """What is kept at each value, by commas."""
    pairs = zip(values, kept, strict=True)
    return ", ".join(say(form, value=value, kept=share) for value, share in pairs)


def _few(form: str, values: Sequence[float], kept: Sequence[float]) -> str:
    """The same of the first, the middle one and the last."""
    chosen = dict.fromkeys((0, len(values) // 2, len(values) - 1))
    return _each(form, [values[at] for at in chosen], [kept[at] for at in chosen])


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


def time_constants(asked: Asked) -> Exhibit:
    """Compute the figure for the instrument asked for."""
    instrument = instrument_of(asked, "time-constants", counted=False)
    path = [at for at, (part, _) in enumerate(instrument.passages) if not part.records]
    before = instrument.with_passages(path)
    (bands,) = travelled([before.itinerary()])
    width = float(np.sqrt(bands.recorded[VARIANCE][0]))
    constants = [rounded(share * width) for share in FILTER_SHARES]
    if asked.values is not None:
        constants = [0.0, *asked.values[asked.values > 0].tolist()]
    itineraries = [
        before.with_last(Detector(time_constant=constant)).itinerary() for constant in constants
    ]
    results, errors = branched(itineraries)
    plain = results[0].recorded[WIDTH][0], results[0].recorded[APEX][0]
    pieces = [
        {"time_constant": constant} | _seen(result, error, plain)
        for constant, result, error in zip(constants, results, errors, strict=True)
    ]
    kept = [100 * float(piece["plates_kept"]) for piece in pieces]
    return Exhibit(
        name="time-constants",
        title=say("The same peak through slower and slower electronics"),
        caption=say(
            "The peak of {solute} behind the flow cell, recorded with time constants of 0 to "
            "{longest:g} s; it meets the detector with a standard deviation of {width:.2g} s. "
            "Plates kept: {kept}.",
            solute=instrument.solute,
            longest=constants[-1],
            width=width,
            kept=_few("{kept:.0f} % at {value:g} s", constants[1:], kept[1:]),
        ),
        alt=say(
            "{count} peaks on one time axis. With longer time constants they become lower, later "
            "and wider, and tail. Plates kept: {kept}.",
            count=len(constants),
            kept=_each("{kept:.0f} % at {value:g} s", constants, kept),
        ),
        table=table_of(FILTER_COLUMNS, pieces),
    )


STAIRCASE_COLUMNS = {
    "part": ("", "part of the path; the one that takes most comes first"),
    "plates": ("1", "of the column, less what this part and those above it take"),
    "lost": ("1", "plates that the part takes, averaged over all orders (Shapley value)"),
    "back": ("1", "plates that come back to the whole path if this part alone is ideal"),
    ERROR: ("1", "of the plates, over them"),
}
WHOLE_GAME, ORDERS, SEED = 8, 40, 1
"""Parts up to which every selection of them is computed; random orders of more, and their seed."""
AT_ONCE = 1 / 300
"""Standard deviation of an injection left out over the column's: plates differ by 1e-5."""


STAIRCASE_CAPTION = (
    "Of {alone} plates at half height that the column alone gives {solute}, {recorded} are "
    "recorded ({kept:.0f} %; both at the column's own retention): hatched is what each "
    "part takes, averaged over all orders in which parts could be put in place (its "
    "Shapley value), and all of them make up the whole loss. What counts for a single "
    "change is what comes back if that part alone is ideal (diamonds), most of all from "
    "{most}."
)


def staircase(asked: Asked) -> Exhibit:
    """Compute the figure for the instrument asked for."""
    instrument = instrument_of(asked, "staircase", ("column",))
    whole = travel(instrument.itinerary(), blame=True)
    assert whole.regained is not None and whole.column_alone is not None
    alone, recorded = whole.column_alone[PLATES][0], whole.recorded[PLATES_OWN][0]
    places = [
        at
        for at in askable(instrument.passages)
        if np.all(instrument.passages[at][0].variance_passed(instrument.passages[at][1]) == 1)
    ]
    names = [instrument.passages[at][0].name for at in places]
    share, doubt = _shares(instrument, places, whole, asked.engine)
    order = np.argsort(-share, kind="stable")
    lost = np.concatenate([[0.0], share[order]])
    plates = alone - np.cumsum(lost)
    back = np.array([0.0, *(whole.regained.plates[names[at]][0] for at in order)])
    errors = whole.numerical_error[PLATES_OWN][0] + np.concatenate([[0.0], doubt[order]])
    piece = {
        "part": [say("column alone"), *(names[at] for at in order)],
        "plates": plates,
        "lost": lost,
        "back": back,
        # The column's own plates are those of one exact response, read off its samples.
        ERROR: np.concatenate([[0.0], (errors / plates)[1:]]),
    }
    best = np.argsort(-back[1:], kind="stable")[:2] + 1
    kept = 100 * recorded / alone
    named = [f"{piece['part'][at]} ({_thousands(back[at])})" for at in best]
    return Exhibit(
        name="staircase",
        title=say("From the column's plates to those recorded: what each part takes"),
        caption=say(
            STAIRCASE_CAPTION,
            alone=_thousands(alone),
            solute=instrument.solute,
            recorded=_thousands(recorded),
            kept=kept,
            most=say(", then from ").join(named),
        ),
        alt=say(
            "Bars from top to bottom, each shorter than the one above it by what a part takes, and "
            "diamonds. Plates left: {left}. Plates that come back if the part alone is ideal: "
            "{back}.",
            left=_listed(piece["part"], plates),
            back=_listed(piece["part"][1:], back[1:]),
        ),
        table=table_of(STAIRCASE_COLUMNS, [piece]),
    )


def _listed(names: Sequence[str], plates: FloatArray) -> str:
    return ", ".join(f"{one} {_thousands(count)}" for one, count in zip(names, plates, strict=True))


def _shares(
    instrument: Instrument, places: Sequence[int], whole: Result, engine: str
) -> tuple[FloatArray, FloatArray]:
    """Plates that each part takes, and their sampling errors; (places,) arrays, 1."""
    always = [at for at in range(len(instrument.passages)) if at not in places]
    assert whole.column_alone is not None
    alone = float(whole.column_alone[PLATES][0])
    sigma = AT_ONCE * float(np.sqrt(whole.column_alone[VARIANCE][0]))
    injector = Injector(shape="gaussian", sigma=sigma)

    @cache
    def taken(coalition: int) -> float:
        chosen = [at for bit, at in enumerate(places) if coalition >> bit & 1]
        if not chosen:
            return 0.0
        if len(chosen) == len(places):
            return alone - float(whole.recorded[PLATES_OWN][0])
        passages = [instrument.passages[at] for at in sorted({0, *always, *chosen})]
        if 0 not in chosen:
            passages[0] = injector, passages[0][1]
        itinerary = replace(instrument, passages=tuple(passages)).itinerary()
        return alone - float(quickest(itinerary, engine).recorded[PLATES_OWN][0])

    if len(places) <= WHOLE_GAME:
        game = np.array(in_threads(taken, range(1 << len(places))))
        return shapley_values_of_game(game), np.zeros(len(places))
    share, error = sampled_shapley_values(taken, range(len(places)), ORDERS, SEED)
    return np.array(list(share.values())), np.array(list(error.values()))


def _thousands(value: float) -> str:
    return f"{float(f'{value:.3g}'):.0f}"


FLOWS = np.geomspace(0.125, 4, 16)
"""Over the flow of the method."""
MICROMETRE, BAR, MILLILITRE_A_MINUTE = 1e-6, 1e5, 1e-6 / 60
FLOW_COLUMNS = {
    "flow_rate": ("m^3/s", "pumped"),
    "height_column": ("m", "length over plates of the column alone, at half height", "um"),
    "height_recorded": ("m", "length over plates recorded, at half height", "um"),
    "pressure": ("Pa", "over the whole path; empty where the viscosity is not known"),
    "pressure_limit": ("Pa", "of the scenario; empty where it gives none"),
    ERROR: ("1", "of the recorded plate height, over it"),
}


def plate_height(asked: Asked) -> Exhibit:
    """Compute the figure for the instrument asked for."""
    instrument = instrument_of(asked, "plate-height", ("column",))
    flow, column = float(np.max(instrument.stream.flow_rate)), instrument.part("separates")
    if not np.isnan(column.plates) and np.isnan(column.plates_flow):
        # Plates without a flow would hold at any: here they are those of the method.
        instrument = instrument.with_part("separates", plates_flow=flow)
    flows = FLOWS * flow if asked.values is None else np.sort(asked.values)
    cases = [instrument.with_stream(flow_rate=one).itinerary() for one in flows]
    results = travelled(cases, partial(quickest, engine=asked.engine))
    recorded = metrics_of(results, "recorded", PLATES)
    heights = {
        "height_column": column.length / metrics_of(results, "column_alone", PLATES),
        "height_recorded": column.length / recorded,
    }
    piece = {
        "flow_rate": flows,
        **heights,
        "pressure": np.array([one.pressure.highest for one in results]),
        "pressure_limit": instrument.pressure_limit,
        ERROR: metrics_of(results, "numerical_error", PLATES) / recorded,
    }
    best = {name: int(np.argmin(values)) for name, values in heights.items()}
    labels = {
        "own": heights["height_column"][best["height_column"]] / MICROMETRE,
        "least": heights["height_recorded"][best["height_recorded"]] / MICROMETRE,
        "own_flow": flows[best["height_column"]] / MILLILITRE_A_MINUTE,
        "flow": flows[best["height_recorded"]] / MILLILITRE_A_MINUTE,
    }
    return Exhibit(
        name="plate-height",
        title=say("Plate height against flow: what the column does, and what is recorded"),
        caption=of_heights(
            flows,
            solute=instrument.solute,
            factor=float(np.max(instrument.stream.retention_factor)),
            fast=heights["height_recorded"][-1] / heights["height_column"][-1],
            **labels,
        ),
        alt=_alt_of_heights(piece, labels) + _too_fast(piece),
        table=table_of(FLOW_COLUMNS, [piece]),
    )


def _alt_of_heights(piece: Mapping[str, Any], labels: Mapping[str, float]) -> str:
    own, recorded = (piece[f"height_{name}"] / MICROMETRE for name in ("column", "recorded"))
    return say(
        "Two curves of the plate height against the flow, from {slowest:.2g} to {fastest:.2g} "
        "mL/min. That of the column alone goes from {own_first:.3g} µm through its least, "
        "{own:.3g} µm at {own_flow:.2g} mL/min, to {own_last:.3g} µm. The recorded one lies above "
        "it and goes from {first:.3g} µm through its least, {least:.3g} µm at {flow:.2g} mL/min, "
        "to {last:.3g} µm.",
        slowest=piece["flow_rate"][0] / MILLILITRE_A_MINUTE,
        fastest=piece["flow_rate"][-1] / MILLILITRE_A_MINUTE,
        own_first=own[0],
        own_last=own[-1],
        first=recorded[0],
        last=recorded[-1],
        **labels,
    )


def _too_fast(piece: Mapping[str, Any]) -> str:
    """Which flows are hatched, in words; nothing where none is."""
    limit, pressure = piece["pressure_limit"], piece["pressure"]
    if not pressure[-1] > limit:
        return ""
    text = " Flows above {flow:.2g} mL/min are hatched: they need more than {limit:.0f} bar."
    reached = float(np.interp(limit, pressure, piece["flow_rate"])) / MILLILITRE_A_MINUTE
    return say(text, flow=reached, limit=limit / 1e5)


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


def retention(asked: Asked) -> Exhibit:
    """Compute the figure for the instrument asked for."""
    instrument = instrument_of(asked, "retention", ("column",))
    factors = RETENTION_FACTORS if asked.values is None else tuple(asked.values.tolist())
    cases = [(each, k) for each in FORMATS for k in factors]
    compute = partial(quickest, engine=asked.engine)
    results = travelled([_case(instrument, *case).itinerary() for case in cases], compute)
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
    return Exhibit(
        name="retention",
        title=say("One instrument, four columns: the smaller the column, the more is lost"),
        caption=of_retention(factors, kept),
        alt=_alt_of_retention(factors, kept, recorded.reshape(kept.shape)),
        table=table_of(RETENTION_COLUMNS, [piece]),
    )


def _alt_of_retention(factors: Sequence[float], kept: FloatArray, plates: FloatArray) -> str:
    lines = [
        say(
            "{column}: {first} to {last} plates, most at k = {best:.2g} ({most}), and {low:.0f} to "
            "{high:.0f} % kept",
            column=_words(each),
            first=_thousands(count[0]),
            last=_thousands(count[-1]),
            best=factors[int(np.argmax(count))],
            most=_thousands(count.max()),
            low=share[0],
            high=share[-1],
        )
        for each, share, count in zip(FORMATS, kept, plates, strict=True)
    ]
    return say(
        "Two panels over the retention factor on a logarithmic scale, plates recorded and the "
        "share kept of the column's own, with a line for each column. From k = {low:g} to "
        "k = {high:g}: {lines}.",
        low=factors[0],
        high=factors[-1],
        lines="; ".join(lines),
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
    form = "{bore:g} × {length:g} mm, {particles:.1f} µm {particle}"
    kind = say(particle)
    return say(form, bore=bore, length=length, particles=particle_diameter, particle=kind)
