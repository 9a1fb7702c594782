"""What a run rests on that the scenario file does not say itself."""

from tailrace.eluent.diffusion import TYPICAL_ERROR_WORDS, scheibel
from tailrace.eluent.viscosity import viscosity_source, viscosity_uncertainty
from tailrace.parts.column.packing import TYPICAL_ERROR as CURVE_ERROR
from tailrace.parts.column.part import Column
from tailrace.quantities.kinds import show
from tailrace.scenario.build import (
    diffusivities,
    has_correlation,
    method_viscosity,
    molar_volume_of,
)


def assumptions(scenario) -> list[str]:
    """Return one sentence for each default or estimate, in the order of the file.

    Parameters
    ----------
    scenario : Scenario
    """
    document = scenario.document
    found = [
        *_method(document.method),
        *_gradient(document.gradient),
        *_solutes(scenario),
        *_shares(document.solutes),
    ]
    for one in document.path:
        found += [f"{one.name}: {what}" for what in _part(one, document.method)]
    return [
        *found,
        *_detector(document.detector),
        *_limits(document.limits),
        *_changes(document),
    ]


def _method(method):
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


def _gradient(gradient):
    if gradient is None:
        return
    if gradient.dwell_volume is None:
        yield "gradient: no dwell volume, none given; it starts at the column's inlet"
    yield (
        "gradient: reaches the column undispersed and travels through it unretained; "
        "log10 k falls in a straight line with the fraction of the strong liquid"
    )
    yield (
        "gradient: viscosity, diffusivity and pressure are those of the eluent of [method] "
        "throughout; the pressure of other compositions may be higher"
    )


def _solutes(scenario):
    solutes = scenario.document.solutes
    for one, diffusivity in zip(solutes, diffusivities(scenario), strict=True):
        if one.diffusivity is None:
            yield (
                f"{one.name}: diffusivity {show(diffusivity, 'diffusivity', 3)}, estimated "
                f"(Wilke-Chang, typically within {TYPICAL_ERROR_WORDS}; Scheibel gives "
                f"{show(_cross_check(one, scenario), 'diffusivity', 3)}){_from_formula(one)}"
            )


def _cross_check(solute, scenario):
    method = scenario.document.method
    return scheibel(
        molar_volume_of(solute),
        method.eluent.composition,
        method.temperature,
        method_viscosity(method),
    )


def _from_formula(solute):
    if solute.formula is None:
        return ""
    rings = f"{solute.rings} ring{'' if solute.rings == 1 else 's'}"
    return (
        f", from a molar volume of {show(molar_volume_of(solute), 'molar volume', 3)} "
        f"({solute.formula} with {rings}, Schroeder)"
    )


def _shares(solutes):
    for key, name in (("amount", "amounts"), ("absorptivity", "absorptivities")):
        if len(solutes) > 1 and any(getattr(one, key) is None for one in solutes):
            yield f"solutes: equal {name} on the chromatogram, for want of all of them"


def _part(one, method):
    given = one.model_fields_set
    if one.temperature is not None and one.temperature != method.temperature:
        here = show(one.temperature, "temperature")
        if has_correlation(method):
            yield f"at {here} viscosity and diffusivity rescaled (diffusivity x viscosity / T kept)"
        else:
            yield f"at {here} viscosity and diffusivity kept as given, for want of a correlation"
    if one.part == "tube":
        yield "taken as straight and round"
    elif one.part == "fitting":
        if one.unswept > 0:
            yield "the unswept ring of the gap taken as still; only diffusion fills and empties it"
        else:
            yield "the whole gap taken as swept and mixed"
    elif one.part in ("chamber", "cell") and "tanks" not in given:
        yield "1 tank (mixed throughout), none given"
    if one.part == "cell" and one.light_path is None:
        yield "no light path given; signals are compared by concentration alone"
    if one.part == "cell" and "read" not in given:
        yield "the light beam sees the liquid that leaves"
    if one.part == "column":
        yield from _column(one)


def _column(one):
    if "particle" not in one.model_fields_set:
        yield f"particle {one.particle}, none given"
    yield from _packing(one)
    if one.plates is not None and one.plates_flow is None:
        yield "the plates given hold at any flow, for want of a plates_flow"
    if one.plates is None:
        yield (
            f"plates from the plate-height curve of a good column of {one.particle} particles, "
            f"typically within {100 * CURVE_ERROR:.0f} %"
        )
    if one.kinetics == "lumped" and one.mass_transfer_rate is None:
        yield "exchange with the particles as slow as the curve's C terms"
    if one.capacity is not None:
        yield "Langmuir isotherm; the solutes do not compete for the column"


def _packing(one):
    bed = Column(**one.model_dump(exclude={"part", "temperature"}, exclude_none=True))
    if one.particle == "core-shell" and one.core_ratio is None:
        yield f"core ratio {bed.core:g}; 0.63 to 0.74 are in use"
    if one.porosity is None:
        yield f"total porosity {bed.total_porosity:.3g}, the usual one of {one.particle} particles"
    if one.external_porosity is None:
        yield (
            f"{bed.external_porosity:g} of the bed between the particles; pressure drop by "
            "Kozeny-Carman, typically within 20 %, frits left out"
        )


def _detector(detector):
    if detector is None:
        yield "detector: none given; the peak that leaves the path is the recorded one"
        return
    if detector.time_constant is None and detector.rise_time is None:
        yield "detector: no time constant given; the signal is not smoothed"
    if detector.interval is None:
        yield "detector: no interval given; recorded as finely as it is computed"
    if detector.noise is None:
        yield "detector: no noise given; noise is relative, taken as white before the filter"
    elif detector.averaged or detector.time_constant != detector.noise_time_constant:
        stated = show(detector.noise_time_constant, "duration")
        yield f"detector: noise carried over from {stated} to this response as white noise"


def _limits(limits):
    if limits.pressure is None:
        yield "limits: no pressure given; none is checked but the cell's"


def _changes(document):
    heated = any(getattr(one, "heater", False) for one in document.path)
    if document.changes and document.method.needs_temperature_control and not heated:
        yield "changes: no part is marked heater = true; none is forbidden for want of heat"
    for one in document.changes:
        if {"eluent", "temperature"} & set(one.set.get("method", {})):
            yield f"{one.name}: retention factors kept as given, though the method changes"
