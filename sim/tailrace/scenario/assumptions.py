"""What a run rests on that the scenario file does not say itself, and what that can mean."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from tailrace.eluent.diffusion import TYPICAL_ERROR, TYPICAL_ERROR_WORDS, scheibel
from tailrace.eluent.viscosity import viscosity_source, viscosity_uncertainty
from tailrace.journey.hydraulics import pressure
from tailrace.journey.result import Result
from tailrace.parts import KINDS, part_class
from tailrace.parts.base import Passages
from tailrace.parts.behind import recording_cell
from tailrace.parts.column.part import POROSITIES, Column
from tailrace.parts.table import PathTable, is_number
from tailrace.parts.usual import outside
from tailrace.quantities.arrays import FloatArray
from tailrace.quantities.kinds import plain, show
from tailrace.scenario.build import (
    OF_ALL_PARTS,
    curve_plates,
    detector_of,
    diffusivities,
    has_correlation,
    injector_of,
    itinerary,
    method_viscosity,
    molar_volume_of,
    most_viscous,
    part_of,
    stated_temperature,
    temperatures,
)
from tailrace.scenario.contents import Contents
from tailrace.scenario.left_out import left_out
from tailrace.scenario.model import (
    DetectorTable,
    Document,
    LimitsTable,
    LoopTable,
    MethodTable,
    SoluteTable,
)
from tailrace.scenario.timed import from_times

LARGE = 600e-6
"""m^3/mol from which estimates of diffusivities are told to be rough (from memory)."""
LIES = "a look at the radius of the bends of these tubes"
"""What settles whether tubes are bent."""
BENCH = 0.05
"""Bend radius to which tubes are held that say nothing of how they lie, m."""
USUAL_BORE, USUAL_FLOW = 4.6e-3, (0.04e-6 / 60, 8e-6 / 60)
MORE_POROUS = 0.1
"""Share by which a porosity may lie outside its usual range unnoted (our own choice)."""
ANY_FLOW = (1e-9 / 60, 1e-5 / 60)
"""Flows, m^3/s: with a column of this bore (m; others in proportion to the section), without one.

Common practice, no source.
"""


def assumptions(scenario: Contents) -> list[str]:
    """Return one sentence for each default or estimate, in the order of the file."""
    document = scenario.document
    found = [
        *_method(document.method),
        *_gradient(scenario),
        *_solutes(scenario),
        *from_times(scenario),
        *_shares(document.solutes),
        *_sample(document),
        *_injection(scenario),
        *_columns(document),
        *_curve_plates(scenario),
        *_stays(scenario),
        *_kept(scenario.document),
    ]
    for one in document.path:
        found += [f"{one.name}: {what}" for what in _part(one, document.method)]
    return [
        *found,
        *_recording(document),
        *_no_tube(document),
        *_detector(document.detector),
        *_limits(document.limits),
        *_changes(scenario),
    ]


def _method(method: MethodTable) -> Iterator[str]:
    if "temperature" not in method.model_fields_set:
        yield f"method: temperature {show(method.temperature, 'temperature')}, none given"
    if method.given_viscosity is None:
        mixed = method.eluent.composition
        mixture = "-".join(mixed)
        yield (
            f"{mixture}: viscosity {show(method_viscosity(method), 'viscosity')} at "
            f"{show(method.temperature, 'temperature')}, estimated for low pressure within "
            f"{100 * viscosity_uncertainty(mixed, method.temperature):.2g} % "
            f"({viscosity_source(mixed)})"
        )


def _gradient(scenario: Contents) -> Iterator[str]:
    gradient = scenario.document.gradient
    if gradient is None:
        return
    if gradient.dwell_volume is None:
        yield "gradient: no dwell volume, none given; it starts at the inlet of the first column"
    yield (
        "gradient: reaches the column undispersed and travels through it unretained; "
        "log10 k falls in a straight line with the fraction of the strong liquid"
    )
    highest = "the pressure of other compositions may be higher"
    share, most = most_viscous(scenario.document)
    if np.isfinite(share):
        total = most * pressure(itinerary(scenario).passages).total
        highest = (
            f"filled with the most viscous liquid of the programme ({100 * share:.3g} % strong) "
            f"the path takes {show(total, 'pressure', 3)}"
        )
    yield (
        "gradient: viscosity, diffusivity and pressure are those of the eluent of [method] "
        f"throughout; {highest}"
    )


def _solutes(scenario: Contents) -> Iterator[str]:
    solutes = scenario.document.solutes
    for one, diffusivity in zip(solutes, diffusivities(scenario), strict=True):
        if one.diffusivity is None:
            yield (
                f"{one.name}: diffusivity {show(diffusivity, 'diffusivity', 3)}, estimated "
                f"(Wilke-Chang, typically within {TYPICAL_ERROR_WORDS}; Scheibel gives "
                f"{show(_scheibel(one, scenario.document.method), 'diffusivity', 3)})"
                f"{_from_formula(one)}"
            )
            if molar_volume_of(one) > LARGE:
                yield (
                    f"{one.name}: with {show(molar_volume_of(one), 'molar volume', 3)} beyond the "
                    "small molecules that these estimates were made for (peptides, proteins); "
                    "they may be off by far more: give a measured diffusivity"
                )


def _scheibel(solute: SoluteTable, method: MethodTable) -> float:
    return float(
        scheibel(
            molar_volume_of(solute),
            method.eluent.composition,
            method.temperature,
            method_viscosity(method),
        )
    )


def _from_formula(solute: SoluteTable) -> str:
    if solute.formula is None:
        return ""
    rings = f"{solute.rings} ring{'' if solute.rings == 1 else 's'}"
    return (
        f", from a molar volume of {show(molar_volume_of(solute), 'molar volume', 3)} "
        f"({solute.formula} with {rings}, Schroeder)"
    )


def _shares(solutes: Sequence[SoluteTable]) -> Iterator[str]:
    for key, name in (("amount", "amounts"), ("absorptivity", "absorptivities")):
        if len(solutes) > 1 and any(getattr(one, key) is None for one in solutes):
            yield f"solutes: equal {name} on the chromatogram, as not all are given"


def _sample(document: Document) -> Iterator[str]:
    strong = getattr(document.injection, "strong", None)
    if strong is not None or any(one.sample_retention_factor for one in document.solutes):
        yield (
            "sample: its solvent reaches the column undispersed and travels through it "
            "unretained; where tubes before the column spread the band far beyond the injected "
            "volume, it does more there than is computed here"
        )
        if isinstance(document.injection, LoopTable) and strong is None:
            yield "sample: its solvent leaves the loop as a plug of the volume that is filled"


def _injection(scenario: Contents) -> Iterator[str]:
    part = injector_of(scenario)
    for what in part.assumptions(scenario.document.injection.model_fields_set):
        yield f"{part.name}: {what}"


def _columns(document: Document) -> Iterator[str]:
    names = [one.name for one in document.path if part_class(one.part).separates]
    if len(names) > 1:
        yield f"{', '.join(names)}: in series; solutes are retained alike on all of them"


def _curve_plates(scenario: Contents) -> Iterator[str]:
    for name, plates in curve_plates(scenario).items():
        if np.isfinite(plates).all():
            of = zip(plates, scenario.document.solutes, strict=True)
            each = ", ".join(f"{plain(float(one), 3)} for {solute.name}" for one, solute in of)
            yield f"{name}: plates by its plate-height curve, since none are given: {each}"


def _stays(scenario: Contents) -> Iterator[str]:
    """What is kept as it was found at another temperature."""
    document, method = scenario.document, scenario.document.method
    if method.temperature != stated_temperature(method) and not has_correlation(method):
        yield "method: viscosity and diffusivities kept as given: no correlation is known"
    for one in document.path:
        if part_class(one.part).separates and len(set(temperatures(one, method))) > 1:
            names = unfollowed(scenario, f"{one.name}.temperature")
            if names:
                stated = show(temperatures(one, method)[0], "temperature")
                yield (
                    f"{one.name}: retention of {', '.join(names)} kept as found at {stated}, for "
                    "want of retention_change"
                )


def _kept(document: Document) -> Iterator[str]:
    """Retention that does not go with the composition, where that is another than stated."""
    names = [one.name for one in document.solutes if one.retention_factor and one.s is None]
    if document.method.stated_strong is not None and document.gradient is None and names:
        yield f"retention of {', '.join(names)} kept as found at stated_strong, for want of s"


def unfollowed(scenario: Contents, field: str) -> list[str]:
    """Solutes whose retention does not go with a temperature: ``method.temperature``, a column's.

    None for fields that are no temperature of a column.
    """
    document = scenario.document
    warmed = [
        one.name
        for one in document.path
        if part_class(one.part).separates
        and field.removeprefix("path.").replace('"', "")
        == f"{'method' if one.temperature is None else one.name}.temperature"
    ]
    given = {
        one.name: one.retention_change is not None or one.retention_enthalpy is not None
        for one in document.solutes
        if one.kw or one.retention_factor
    }
    return [name for name, known in given.items() if warmed and not known]


def _part(one: PathTable, method: MethodTable) -> Iterator[str]:
    if one.temperature is not None and one.temperature != method.temperature:
        here = show(one.temperature, "temperature")
        if has_correlation(method):
            yield f"at {here} viscosity and diffusivity rescaled (diffusivity x viscosity / T kept)"
        else:
            yield f"at {here} viscosity and diffusivity kept as given: no correlation is known"
    given = one.model_fields_set | (method.model_fields_set & OF_ALL_PARTS)
    yield from part_of(one, method).assumptions(given)


def _recording(document: Document) -> Iterator[str]:
    parts = [part_of(one, document.method) for one in document.path]
    given = None if document.detector is None else document.detector.cell
    at = recording_cell(parts, given)
    if at is not None and not given and (sum(part.observes for part in parts) > 1):
        yield f'detector: the signal is recorded in "{parts[at].name}", the last cell on the path'


def _no_tube(document: Document) -> Iterator[str]:
    """A column and the cell without a tube between them: hardly ever so at the bench."""
    path = [(one.name, part_class(one.part)) for one in document.path]
    last = max((at for at, (_, kind) in enumerate(path) if kind.separates), default=len(path))
    cell = next((at for at in range(last, len(path)) if path[at][1].observes), None)
    if cell is not None and not any(kind.laminar for _, kind in path[last:cell]):
        yield (
            f"path: no tube between {path[last][0]} and {path[cell][0]}; where there is one it "
            "counts in full, with a gradient too, since nothing behind the column is focused"
        )


def _detector(detector: DetectorTable | None) -> list[str]:
    if detector is None:
        return ["detector: none given; the peak that leaves the path is the recorded one"]
    part = detector_of(detector)
    found = [f"{part.name}: {what}" for what in part.assumptions(detector.model_fields_set)]
    if detector.rise_time is not None:
        constant = show(float(np.max(part.time_constant)), "duration", 3)
        found.append(
            f"{part.name}: rise time from 10 to 90 % of a step, as of one filter of time constant "
            f"{constant} (a 2.2th of it)"
        )
    return found


def _limits(limits: LimitsTable) -> Iterator[str]:
    if limits.pressure is None:
        yield "limits: no pressure given; none is checked but the cell's"


def _changes(scenario: Contents) -> Iterator[str]:
    document = scenario.document
    heated = any(getattr(one, "heater", False) for one in document.path)
    if document.changes and document.method.needs_temperature_control and not heated:
        yield "changes: no part is marked heater = true; none is forbidden as taking heat away"
    yield from kept_by_changes(scenario)


def kept_by_changes(scenario: Contents) -> Iterator[str]:
    """Changes of the method that retention does not follow in the model."""
    kept = unfollowed(scenario, "method.temperature")
    for one in scenario.document.changes:
        new = one.set.get("method", {})
        if "eluent" in new or ("temperature" in new and kept):
            yield f"{one.name}: retention factors kept as given, though the method changes"


def remarks(scenario: Contents, result: Result) -> list[str]:
    """What a result rests on most, with its size: estimates, tubes not bent, effects left out."""
    told = any(one.settled == LIES for one in result.assumptions)
    straight = None if told else straightness_remark(scenario, result)
    found = (diffusion_remark(scenario), straight)
    return [*(one for one in found if one is not None), *left_out(scenario, result)]


WORTH_SAYING = 0.05
"""% of plates: less is not told (our own choice)."""


def straightness_remark(scenario: Contents, result: Result) -> str | None:
    """One sentence on what tubes that are taken as straight would do if they were bent.

    None where every tube, or the method, says how they lie.
    """
    if scenario.document.method.bend_radius is not None:
        return None
    lies = {one.name for one in scenario.document.path if "bend_radius" in one.model_fields_set}
    total = np.sum([part.variance_recorded for part in result.parts], axis=0)
    change, names = np.zeros(total.size), []
    for (part, stream), found in zip(itinerary(scenario).passages, result.parts, strict=True):
        added = part.variance_if_bent(BENCH, stream.over(total.size))
        if added is None or part.name in lies:
            continue
        names.append(part.name)
        change += added * found.variance_recorded / found.variance_simulated
    if not names or not np.all(np.isfinite(change)):
        return None
    plates = 100 * (total / (total + change) - 1)
    if np.all(np.abs(plates) < WORTH_SAYING):
        return None
    low, high = (plain(value, 2) for value in (plates.min(), plates.max()))
    more = f"{low} %" if low == high else f"{low} to {high} %"
    return (
        f"Tubes are taken as straight: {', '.join(names)}. On a radius of "
        f"{show(BENCH, 'bend radius')} the recorded plates would be about {more} more (closed "
        'form); give their bend_radius, or "straight".'
    )


AT_ODDS = 1.25
"""Ratio of two statements of one retention factor from which they are said to differ."""
LEAST_KW = 6.0
"""Retention factor in the weak liquid alone, below which a gradient hardly separates (our own)."""


def unusual(scenario: Contents) -> list[str]:
    """One sentence for each value of a part that lies outside what instruments have."""
    found = [
        line
        for one in scenario.document.path
        for line in outside(one.part, one.name, _sizes(one, scenario))
    ]
    porous = _rare_porosity(scenario)
    return [*_rare_flow(scenario), *_logarithms(scenario), *_at_odds(scenario), *porous, *found]


def _rare_porosity(scenario: Contents) -> Iterator[str]:
    """Columns that hold much more, or less, than such particles do."""
    for part in (part_of(one, scenario.document.method) for one in scenario.document.path):
        if not isinstance(part, Column) or np.isnan(part.porosity).all():
            continue
        low, high = POROSITIES[part.particle]
        low, high = low * (1 - MORE_POROUS), high * (1 + MORE_POROUS)
        if not low <= float(np.max(part.porosity)) <= high:
            yield (
                f"{part.name}: porosity {float(np.max(part.porosity)):.3g} lies outside what is "
                f"usual of {part.particle} particles, {low:.2g} to {high:.2g} (common practice, no "
                "source); check the dead time, the volumes of the path and the bore"
            )


def _logarithms(scenario: Contents) -> Iterator[str]:
    """Solutes whose kw is more likely its logarithm."""
    if scenario.document.gradient is None:
        return
    for one in scenario.document.solutes:
        if one.kw is not None and one.kw < LEAST_KW:
            yield (
                f"{one.name}: kw = {one.kw:g} is hardly retained by any liquid; if that is its "
                f"decadic logarithm, write kw = {10**one.kw:.3g}"
            )


def _at_odds(scenario: Contents) -> Iterator[str]:
    """Solutes whose kw and s, with which the sample's solvent acts, say another k in the eluent."""
    document, strong = scenario.document, getattr(scenario.document.injection, "strong", None)
    water = document.method.eluent.composition.get("water", 0.0)
    if strong is None or document.gradient is not None or not 0 < water < 1:
        return
    for one in document.solutes:
        if not (one.kw and one.s and one.retention_factor):
            continue
        by_law = one.kw / 10 ** (one.s * (1 - water))
        if not 1 / AT_ODDS <= by_law / one.retention_factor <= AT_ODDS:
            yield (
                f"{one.name}: kw and s give k = {by_law:.3g} in the eluent, and k is "
                f"{one.retention_factor:.3g}; the sample's solvent acts with the former: write "
                f"kw = {one.retention_factor * 10 ** (one.s * (1 - water)):.3g}, or correct s"
            )


def _rare_flow(scenario: Contents) -> Iterator[str]:
    """A flow that hardly anybody uses with such a column, or at all without one."""
    flow = scenario.document.method.flow
    parts = [part_of(one, scenario.document.method) for one in scenario.document.path]
    bores = [float(np.min(one.bore)) for one in parts if isinstance(one, Column)]
    scale = (min(bores) / USUAL_BORE) ** 2 if bores else 1.0
    low, high = (scale * one for one in (USUAL_FLOW if bores else ANY_FLOW))
    if not low <= flow <= high:
        column = f" with a column of {show(min(bores), 'bore')} bore" if bores else ""
        yield (
            f"method: flow {show(flow, 'flow rate')} lies outside what is usual{column}, "
            f"{show(low, 'flow rate', 2)} to {show(high, 'flow rate', 2)} (common practice, no "
            "source); check the point and the unit"
        )


def _sizes(one: PathTable, scenario: Contents) -> dict[str, float]:
    """Numbers of a part by key, SI, its volume among them where the part itself has no key."""
    found = {key: value for key, value in one.part_values().items() if is_number(value)}
    return {"volume": float(np.max(part_of(one, scenario.document.method).volume))} | found


def diffusion_remark(scenario: Contents) -> str | None:
    """One sentence on estimated diffusivities and the variance of the tubes; None where all
    diffusivities are given."""
    solutes = scenario.document.solutes
    estimated = np.array([one.diffusivity is None for one in solutes])
    if not estimated.any():
        return None
    names = "all solutes" if len(solutes) > 1 else solutes[0].name
    if not estimated.all():
        names = ", ".join(
            one.name for one, guessed in zip(solutes, estimated, strict=True) if guessed
        )
    text = f"Diffusivity of {names}: an estimate, good to {TYPICAL_ERROR_WORDS}"
    response = tube_response(itinerary(scenario).passages)
    if response is None:
        return text + "."
    strongest = np.max(np.abs(response[estimated]))
    return (
        f"{text}; {100 * TYPICAL_ERROR:.0f} % less of it gives the tubes about "
        f"{100 * TYPICAL_ERROR * strongest:.2g} % more variance (closed form)."
    )


def tube_response(passages: Passages) -> FloatArray | None:
    """Relative change of the tubes' variance for a relative change of the diffusivity.

    Returns
    -------
    (lanes,) array, 1, or None
        d ln(variance) / d ln(D) from the tubes' closed forms, between 0 for tubes too short for
        diffusion to matter and -1 for long ones. None where the path has no tubes.
    """
    step = 0.01
    tubes = [(part, stream) for part, stream in passages if part.laminar]
    if not tubes:
        return None
    less, more = (
        sum(
            KINDS[part.kind]
            .theory(part, replace(stream, diffusivity=stream.diffusivity * factor))
            .variance
            for part, stream in tubes
        )
        for factor in (1 - step, 1 + step)
    )
    return np.asarray((more - less) / (more + less) / step)
