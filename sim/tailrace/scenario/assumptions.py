"""What a run rests on that the scenario file does not say itself, and what that can mean."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

import numpy as np

from tailrace.eluent.diffusion import TYPICAL_ERROR, TYPICAL_ERROR_WORDS, scheibel
from tailrace.eluent.viscosity import viscosity_source, viscosity_uncertainty
from tailrace.journey.hydraulics import pressure
from tailrace.journey.result import Result
from tailrace.parts import KINDS, part_class
from tailrace.parts.base import Passages
from tailrace.parts.behind import recording_cell
from tailrace.parts.column.gradient import MigrationColumn
from tailrace.parts.column.part import Column
from tailrace.parts.table import PathTable
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
from tailrace.scenario.weighing import BESIDE, WHOLE, Line, of_parts, ordered, shares

LARGE = 600e-6
"""m^3/mol from which estimates of diffusivities are told to be rough (from memory)."""
LIES = "a look at the radius of the bends of these tubes"
"""What settles whether tubes are bent."""
BENCH = 0.05
"""Bend radius to which tubes are held that say nothing of how they lie, m."""


def assumptions(scenario: Contents) -> list[str]:
    """Return one sentence for each default or estimate, those first on which most depends."""
    document, share = scenario.document, shares(scenario)
    parts = {one.name: part_of(one, document.method) for one in document.path}
    column = sum(share[name] for name, part in parts.items() if part.separates)
    tubes = sum(share[name] for name, part in parts.items() if part.laminar)
    assumed = [(one.name, what) for one in document.path for what in _part(one, document.method)]
    assumed += [(injector_of(scenario).name, what) for what in _injection(scenario)]
    weighed: list[tuple[float, Iterable[str]]] = [
        (WHOLE, _recording(document)),
        (WHOLE, _gradient(scenario)),
        (WHOLE, _stays(scenario)),
        (WHOLE, _kept(document)),
        (WHOLE, _temperature(document.method)),
        (column, from_times(scenario)),
        (column, _columns(document)),
        (column, _plates(scenario)),
        (1 - column, _sample(scenario)),
        (tubes, _solutes(scenario)),
        (tubes, _before_heater(document)),
        (viscosity_error(document.method), _viscosity(document.method)),
        (BESIDE, _no_tube(document)),
        (BESIDE, _shares(document.solutes)),
        (BESIDE, _limits(document.limits)),
        (BESIDE, _changes(scenario)),
    ]
    lines: list[Line] = [
        (max(weight, BESIDE), "", line) for weight, found in weighed for line in found
    ]
    detector = document.detector
    if detector is None:
        lines.append((WHOLE, "detector", NO_DETECTOR))
    else:
        assumed += [(detector_of(detector).name, what) for what in _detector(detector)]
    return ordered([*lines, *of_parts(assumed, share)])


def _temperature(method: MethodTable) -> Iterator[str]:
    if "temperature" not in method.model_fields_set:
        yield f"method: temperature {show(method.temperature, 'temperature')}, none given"


def viscosity_error(method: MethodTable) -> float:
    """Within which the viscosity is estimated, 1; 0 where it is given."""
    if method.given_viscosity is not None:
        return 0.0
    return float(viscosity_uncertainty(method.eluent.composition, method.temperature))


def _viscosity(method: MethodTable) -> Iterator[str]:
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
    share, _ = most_viscous(scenario.document)
    if np.isfinite(share):
        total = pressure(itinerary(scenario).passages).highest
        highest = (
            f"filled with the most viscous liquid of the programme ({100 * share:.3g} % strong) "
            f"the path takes {show(total, 'pressure', 3)}, and that is held against limits and "
            "[[accept]]"
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


def _before_heater(document: Document) -> Iterator[str]:
    """Parts whose liquid is as warm as the method before anything has heated it."""
    path = document.path
    heater = next((at for at, one in enumerate(path) if getattr(one, "heater", False)), 0)
    names = [one.name for one in path[:heater] if one.temperature is None]
    if names:
        here = show(document.method.temperature, "temperature")
        yield (
            f"{', '.join(names)}: at the {here} of the method, though before {path[heater].name}; "
            'where the liquid is still cold there, give them temperature = "25 degC"'
        )


def in_the_sample(scenario: Contents) -> str | None:
    """k of each solute in the sample's solvent, as a sentence; None where it has none."""
    column, liquid = next(
        ((part, liquid) for part, liquid in itinerary(scenario).passages if part.focuses),
        (None, None),
    )
    if liquid is None or not isinstance(column, MigrationColumn) or not column.bent_band:
        return None
    solutes = scenario.document.solutes
    lanes = (len(solutes),)
    own, eluent = (
        np.broadcast_to(each, lanes) for each in (column.sample_factor, liquid.retention_factor)
    )
    gradient = scenario.document.gradient is not None
    listed = ", ".join(
        f"{plain(float(k), 3)} of {one.name}"
        + ("" if gradient else f" ({plain(float(there), 3)} in the eluent)")
        for one, k, there in zip(solutes, own, eluent, strict=True)
        if np.isfinite(k)
    )
    if getattr(scenario.document.injection, "strong", None) is None:
        return f"Retention factor k in the sample's solvent: {listed}; as given"
    by = "kw" if all(one.kw is not None for one in solutes) else "k in the eluent"
    return (
        f"Retention factor k in the sample's solvent: {listed}; an estimate from {by} and s, "
        "by which log10 k falls in a straight line with the fraction of the strong liquid"
    )


def _sample(scenario: Contents) -> Iterator[str]:
    document = scenario.document
    yield from filter(None, [in_the_sample(scenario)])
    strong = getattr(document.injection, "strong", None)
    if strong is not None or any(one.sample_retention_factor for one in document.solutes):
        yield (
            "sample: its solvent reaches the column undispersed and travels through it "
            "unretained; where tubes before the column spread the band far beyond the injected "
            "volume, it does more there than is computed here"
        )
        if isinstance(document.injection, LoopTable) and strong is None:
            yield "sample: its solvent leaves the loop as a plug of the volume that is filled"


def _injection(scenario: Contents) -> list[str]:
    return injector_of(scenario).assumptions(scenario.document.injection.model_fields_set)


def _columns(document: Document) -> Iterator[str]:
    names = [one.name for one in document.path if part_class(one.part).separates]
    if len(names) > 1:
        yield f"{', '.join(names)}: in series; solutes are retained alike on all of them"


SAME_PLATES = 0.005
"""Share by which plates may differ from those given unnoted (our own choice)."""


def _plates(scenario: Contents) -> Iterator[str]:
    """Plates by the curve: where none are given, and what those given become here."""
    names = [one.name for one in scenario.document.solutes]

    def each(plates: FloatArray) -> str:
        return ", ".join(
            f"{plain(float(one), 3)} for {name}" for one, name in zip(plates, names, strict=True)
        )

    for name, plates in curve_plates(scenario).items():
        if np.isfinite(plates).all():
            yield f"{name}: plates by its plate-height curve, since none are given: {each(plates)}"
    for part, liquid in itinerary(scenario).passages:
        if not isinstance(part, Column) or part.in_gradient or not np.isfinite(part.plates).all():
            continue
        carried = np.broadcast_to(part.plates_carried(liquid), (len(names),))
        if np.any(np.abs(carried - 1) > SAME_PLATES):
            flow = show(float(np.max(part.plates_flow)), "flow rate")
            yield (
                f"{part.name}: its {float(np.max(part.plates)):g} plates found at {flow} become by "
                "its plate-height curve, at this flow and in this eluent, "
                f"{each(carried * part.plates)}"
            )


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


NO_DETECTOR = "none given; the peak that leaves the path is the recorded one"


def _detector(detector: DetectorTable) -> list[str]:
    part = detector_of(detector)
    found = part.assumptions(detector.model_fields_set)
    if detector.rise_time is not None:
        constant = show(float(np.max(part.time_constant)), "duration", 3)
        found.append(
            f"rise time from 10 to 90 % of a step, as of one filter of time constant "
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
    at_temperature = unfollowed(scenario, "method.temperature")
    for one in scenario.document.changes:
        new = one.set.get("method", {})
        if "eluent" in new or ("temperature" in new and at_temperature):
            yield f"{one.name}: retention factors kept as given, though the method changes"


def remarks(scenario: Contents, result: Result) -> list[str]:
    """What a result rests on most, with its size: estimates, tubes not bent, effects left out."""
    says_straight = any(one.settled == LIES for one in result.assumptions)
    straight = None if says_straight else straightness_remark(scenario, result)
    sample = in_the_sample(scenario)
    found = (sample and f"{sample}.", diffusion_remark(scenario), straight)
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
    plates = 100 * (total / (total + change) - 1)
    if not names or not np.all(np.isfinite(plates)) or np.all(np.abs(plates) < WORTH_SAYING):
        return None
    low, high = (plain(value, 2) for value in (plates.min(), plates.max()))
    more = f"{low} %" if low == high else f"{low} to {high} %"
    return (
        f"Tubes are taken as straight: {', '.join(names)}. On a radius of "
        f"{show(BENCH, 'bend radius')} the recorded plates would be about {more} more (closed "
        'form); give their bend_radius, or "straight".'
    )


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
