"""From the tables of a scenario to parts and streams."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import fields, replace
from functools import lru_cache
from itertools import pairwise
from typing import Any, TypeVar

import numpy as np

from tailrace.eluent.density import density
from tailrace.eluent.diffusion import rescaled, schroeder, wilke_chang
from tailrace.eluent.stream import WATER_DENSITY, Stream
from tailrace.eluent.viscosity import viscosity
from tailrace.errors import TailraceError
from tailrace.journey.hydraulics import under_pressure
from tailrace.journey.itinerary import Itinerary
from tailrace.parts import KINDS
from tailrace.parts.base import Part, Passage
from tailrace.parts.behind import up_to_cell
from tailrace.parts.column.gradient import GradientColumn, MigrationColumn
from tailrace.parts.column.part import Column
from tailrace.parts.detector.part import RISE_TIMES_IN_TIME_CONSTANTS, Detector
from tailrace.parts.injector.part import Injector
from tailrace.parts.placed import placed
from tailrace.parts.table import PathTable
from tailrace.parts.tube.loop.part import Loop
from tailrace.quantities.arrays import FloatArray, Number
from tailrace.quantities.kinds import show
from tailrace.scenario.by_identity import ByIdentity
from tailrace.scenario.contents import Contents
from tailrace.scenario.model import (
    DetectorTable,
    Document,
    GradientTable,
    LoopTable,
    MethodTable,
    SoluteTable,
)
from tailrace.scenario.problems import Problem
from tailrace.signals.resolution import Resolution

Made = TypeVar("Made", bound=Contents)

GAS_CONSTANT = 8.314462618
"""J/mol/K, exact in the SI of 2019."""
PROGRAMME_STEPS = 64
"""Compositions along a programme whose viscosity is asked for, but one."""
MOST_FACTOR = 1e4
"""A solute with a greater k at the end of the programme counts as one that never leaves; the same
bound holds for a retention factor that is given."""

OF_ALL_PARTS = {"bend_radius"}
"""Keys of the method that hold for every part which has them too and does not say."""
KEPT = 256
"""Parts and streams, made of tables, that are at hand."""


def itinerary(scenario: Contents) -> Itinerary:
    """Return the journey of a scenario."""
    found, detector = listed(scenario), scenario.document.detector
    cell = None if detector is None else detector.cell
    passages = up_to_cell(placed(found.passages), cell)
    method = scenario.document.method
    if method.pressure_dependence:
        passages = under_pressure(passages, method.eluent.composition)
    return replace(found, passages=passages)


def listed(scenario: Contents) -> Itinerary:
    """Return the parts with their streams, each as if it stood alone before the recording."""
    document = scenario.document
    # A study builds thousands of these, and the correlations behind a stream take most of the time.
    streams = {document.method.temperature: stream(scenario, document.method.temperature)}
    method_stream = streams[document.method.temperature]
    passages: list[Passage] = [(injector_of(scenario), method_stream)]
    for one in document.path:
        temperature = one.temperature or document.method.temperature
        part = part_of(one, document.method)
        if temperature not in streams:
            streams[temperature] = stream(scenario, temperature)
        liquid = streams[temperature]
        if part.separates:
            part, liquid = separating(scenario, part, one, liquid)
        if part.carries_over:
            passages[-1] = (passages[-1][0].handing_on(), passages[-1][1])
        passages.append((part, liquid))
    if document.detector is not None:
        passages.append((detector_of(document.detector), method_stream))
    limit = document.limits.pressure
    return Itinerary(
        lanes=tuple(one.name for one in document.solutes),
        passages=tuple(passages),
        pressure_limit=float("nan") if limit is None else limit,
        resolution=Resolution.for_accuracy(document.numerics.accuracy, document.numerics.solver),
    )


def stated_temperature(method: MethodTable) -> float:
    """At which what the file states of liquid and solutes holds, K."""
    return method.stated_temperature or method.temperature


def as_stated(method: MethodTable) -> MethodTable:
    """The method with the eluent of which the file states retention and diffusivities."""
    water, strong = method.eluent.water, method.stated_strong
    if strong is None or not 0 < water < 1 or math.isclose(1 - water, strong, rel_tol=1e-12):
        return method
    eluent = method.eluent.model_copy(update=method.eluent.with_share("water", 1 - strong))
    return method.model_copy(update={"eluent": eluent, "stated_strong": None})


def strength_ratio(solute: SoluteTable, method: MethodTable) -> float:
    """Retention factor in this eluent over that in the one where it was stated, 1.

    Linear solvent strength: log10 k falls by s times the fraction of what is no water.
    """
    if method.stated_strong is None or solute.s is None or not method.eluent.composition:
        return 1.0
    return float(10 ** (-solute.s * (1 - method.eluent.water - method.stated_strong)))


def method_viscosity(method: MethodTable) -> float:
    """Viscosity at the method's temperature, Pa s: the one given, or the composition's."""
    given = method.given_viscosity
    if given is not None:
        return _carried(method, given, stated_temperature(method), method.temperature)
    return float(viscosity(method.eluent.composition, method.temperature))


def most_viscous(document: Document) -> tuple[float, float]:
    """Fraction of the strong liquid at which a programme is most viscous, 1.

    And that viscosity over the eluent's, 1. NaN and 1 where there is no gradient, or its liquids
    are not known.
    """
    method, gradient = document.method, document.gradient
    strong = [name for name in method.eluent.composition if name != "water"]
    if gradient is None or method.given_viscosity is not None or len(strong) != 1:
        return float("nan"), 1.0
    ends = [one.strong for one in gradient.programme]
    share, most = _most_viscous(min(ends), max(ends), strong[0], method.temperature)
    return share, most / method_viscosity(method)


@lru_cache(maxsize=64)
def _most_viscous(low: float, high: float, strong: str, temperature: float) -> tuple[float, float]:
    shares = np.linspace(low, high, PROGRAMME_STEPS + 1).tolist()
    found = [float(viscosity({"water": 1 - one, strong: one}, temperature)) for one in shares]
    at = int(np.argmax(found))
    return float(shares[at]), found[at]


def viscosity_at(method: MethodTable, temperature: float) -> float:
    """Viscosity at a part's temperature, Pa s.

    A given viscosity is carried there by the ratio that the composition's correlation has; with
    no correlation it stays as given.
    """
    return _carried(method, method_viscosity(method), method.temperature, temperature)


def _carried(method: MethodTable, known: float, known_at: float, temperature: float) -> float:
    if temperature == known_at or not has_correlation(method):
        return known
    here, there = (
        float(viscosity(method.eluent.composition, at)) for at in (temperature, known_at)
    )
    return known * here / there


def density_at(method: MethodTable, temperature: float) -> float:
    """Density at a part's temperature, kg/m^3; about that of water where it is not known."""
    if not has_correlation(method):
        return WATER_DENSITY
    return float(density(method.eluent.composition, temperature))


def has_correlation(method: MethodTable) -> bool:
    """Whether the eluent room knows the viscosity of the method's composition."""
    if not method.eluent.composition:
        return False
    if method.given_viscosity is None:
        return True
    try:
        viscosity(method.eluent.composition, method.temperature)
    except TailraceError:
        return False
    return True


def molar_volume_of(solute: SoluteTable) -> float:
    """Molar volume at the boiling point, m^3/mol: given or from the formula, NaN for neither."""
    if solute.formula is not None:
        return schroeder(solute.formula, solute.rings)
    return math.nan if solute.molar_volume is None else solute.molar_volume


def diffusivities(scenario: Contents) -> FloatArray:
    """At the method's temperature, (lanes,) array, m^2/s."""
    method = scenario.document.method
    return np.array([_diffusivity(one, method) for one in scenario.document.solutes])


def _diffusivity(solute: SoluteTable, method: MethodTable) -> float:
    if solute.diffusivity is not None:
        stated, here, before = stated_temperature(method), method.temperature, as_stated(method)
        if (stated == here and before is method) or not has_correlation(method):
            return solute.diffusivity
        thickness = (viscosity_at(before, stated), method_viscosity(method))
        return float(rescaled(solute.diffusivity, stated, here, *thickness))
    about = (method.eluent.composition, method.temperature, method_viscosity(method))
    return float(wilke_chang(molar_volume_of(solute), *about))


def stream(scenario: Contents, temperature: float) -> Stream:
    """What passes a part at a temperature (K)."""
    document = scenario.document
    tables = ByIdentity(document.method, *document.solutes)
    return _stream(tables, temperature, most_viscous(document)[1])


@lru_cache(KEPT)
def _stream(tables: ByIdentity, temperature: float, thickest: float) -> Stream:
    method, *solutes = tables.these
    diffusivity = np.array([_diffusivity(one, method) for one in solutes])
    thickness = viscosity_at(method, temperature)
    if temperature != method.temperature and has_correlation(method):
        about = (method.temperature, temperature, method_viscosity(method), thickness)
        diffusivity = np.asarray(rescaled(diffusivity, *about))
    return Stream(
        flow_rate=method.flow,
        diffusivity=diffusivity,
        viscosity=thickness,
        density=density_at(method, temperature),
        retention_factor=np.array(
            [(one.retention_factor or 0.0) * strength_ratio(one, method) for one in solutes]
        ),
        temperature=temperature,
        amount=_known(solutes, "amount"),
        absorptivity=_known(solutes, "absorptivity"),
        thickest=thickest,
    )


def _known(solutes: Sequence[SoluteTable], key: str) -> FloatArray:
    """A number of each solute, (lanes,) array; NaN where the file does not give it."""
    given = [getattr(one, key) for one in solutes]
    return np.array([np.nan if value is None else value for value in given])


def unsupported(scenario: Contents) -> list[Problem]:
    """Return what the eluent room refuses, at the keys that ask for it."""
    method, found = scenario.document.method, []
    for index, solute in enumerate(scenario.document.solutes):
        try:
            molar_volume_of(solute)
        except TailraceError as error:
            found.append(Problem(("solutes", index, "formula"), str(error)))
    if found:
        return found
    try:
        stream(scenario, method.temperature)
    except TailraceError as error:
        return [Problem(("method",), str(error))]
    if method.pressure_dependence and not has_correlation(method):
        return [
            Problem(
                ("method", "pressure_dependence"),
                "expected an eluent whose viscosity under pressure is known, found none; give "
                "[method] eluent in water, methanol or acetonitrile, or leave the key out",
            )
        ]
    for index, one in enumerate(scenario.document.path):
        try:
            viscosity_at(method, one.temperature or method.temperature)
        except TailraceError as error:
            found.append(Problem(("path", index, "temperature"), str(error)))
    if scenario.document.gradient is not None:
        found += falling_times(scenario.document.gradient)
    return found or [*_refused(scenario), *_held_back(scenario)]


def _refused(scenario: Contents) -> Iterator[Problem]:
    """Parts that cannot be computed as they are given."""
    streams: dict[float, Stream] = {}
    method = stream(scenario, scenario.document.method.temperature)
    too_much = injector_of(scenario).refused(method)
    if too_much is not None:
        yield Problem(("injection", too_much[0]), too_much[1])
    for index, one in enumerate(scenario.document.path):
        temperature = one.temperature or scenario.document.method.temperature
        if temperature not in streams:
            streams[temperature] = stream(scenario, temperature)
        part, liquid = part_of(one, scenario.document.method), streams[temperature]
        if part.separates:
            part, liquid = separating(scenario, part, one, liquid)
        found = part.refused(liquid)
        if found is not None:
            yield Problem(("path", index, found[0]), found[1])


def _held_back(scenario: Contents) -> list[Problem]:
    """The solutes that a gradient does not bring off the column."""
    if scenario.document.gradient is None:
        return []
    passages = itinerary(scenario).passages
    columns = [(part, liquid) for part, liquid in passages if isinstance(part, GradientColumn)]
    return [problem for part, liquid in columns[:1] for problem in never_leaving(part, liquid)]


def part_of(one: PathTable, method: MethodTable) -> Part:
    """A part's dataclass from its table; keys that are not given keep the part's default.

    Or the method's, for those that ``OF_ALL_PARTS`` names.
    """
    return _part_of(ByIdentity(one), *(getattr(method, key) for key in OF_ALL_PARTS))


@lru_cache(KEPT)
def _part_of(table: ByIdentity, *shared: Any) -> Part:
    (one,) = table.these
    kind = KINDS[one.part].part
    keys = {field.name for field in fields(kind)}  # type: ignore[arg-type]
    given = dict(zip(OF_ALL_PARTS, shared, strict=True)) | one.part_values()
    return kind(**{key: given[key] for key in given.keys() & keys if given[key] is not None})


def injector_of(scenario: Contents) -> Part:
    """The injection from its table."""
    return _injector_of(ByIdentity(scenario.document.injection, scenario.curve))


@lru_cache(KEPT)
def _injector_of(table: ByIdentity) -> Part:
    one, curve = table.these
    if isinstance(one, LoopTable):
        bore, length = one.sizes
        return Loop(volume=one.volume, bore=bore, length=length, emptied=one.emptied)
    given = one.model_dump(exclude={"file", "strong"})
    if curve is not None:
        given["signal_times"], given["signal_heights"] = curve
    return Injector(**given)


def detector_of(one: DetectorTable) -> Detector:
    """The detector from its table."""
    return _detector_of(ByIdentity(one))


@lru_cache(KEPT)
def _detector_of(table: ByIdentity) -> Detector:
    (one,) = table.these
    time_constant = one.time_constant or 0.0
    if one.rise_time is not None:
        time_constant = one.rise_time / RISE_TIMES_IN_TIME_CONSTANTS
    keys = {field.name for field in fields(Detector)}
    given = one.model_dump(include=keys, exclude_none=True) | {"time_constant": time_constant}
    if one.rate is not None:
        given["interval"] = 1 / one.rate
    return Detector(**given)


def separating(
    scenario: Contents, column: Part, one: PathTable, liquid: Stream
) -> tuple[Part, Stream]:
    """The column and what passes it: retention and plates go with temperature and flow.

    They were found at the column's ``stated_temperature`` and at the method's ``stated_flow``.
    """
    document, method = scenario.document, scenario.document.method
    stated, here = temperatures(one, method)
    known: dict[str, Any] = {}
    if math.isnan(getattr(column, "plates_flow", 0.0)):
        known["plates_flow"] = method.stated_flow or method.flow
    factors: Number = 1.0
    before = as_stated(method)
    if here != stated or before is not method:
        found = document.model_copy(update={"method": before})
        known["plates_diffusivity"] = stream(replace(scenario, document=found), stated).diffusivity
        factors = retention_ratios(document, stated, here)
        liquid = replace(liquid, retention_factor=liquid.retention_factor * factors)
    return _migrating(column, document, known, factors), liquid


def temperatures(column: PathTable, method: MethodTable) -> tuple[float, float]:
    """At which a column's retention and plates were found, and at which it is, K."""
    own: float | None = getattr(column, "stated_temperature", None)
    stated = own or column.temperature or stated_temperature(method)
    return stated, column.temperature or method.temperature


def retention_ratios(document: Document, stated: float, here: float) -> FloatArray:
    """Retention factors at one temperature (K) over those where they were stated, (lanes,) array.

    Van 't Hoff: ln k goes with 1/T in a straight line, whose slope is that of the enthalpy, or of
    the change where it was stated; 1 where neither is given.
    """
    slopes = [
        (one.retention_enthalpy or 0.0) / GAS_CONSTANT + (one.retention_change or 0.0) * stated**2
        for one in document.solutes
    ]
    return np.asarray(np.exp(-np.array(slopes) * (1 / here - 1 / stated)))


def _migrating(column: Part, document: Document, known: dict[str, Any], factors: Number) -> Part:
    """The column as a gradient, or a sample in a solvent of its own, makes it.

    ``known``: more about it; ``factors``: what temperature multiplies retention by.
    """
    given = {field.name: getattr(column, field.name) for field in fields(column)} | known  # type: ignore[arg-type]
    sample = _sample(document, factors)
    if document.gradient is None:
        return MigrationColumn(**given, **sample) if sample else type(column)(**given)
    return GradientColumn(
        **given,
        **sample,
        weak_factor=np.array([one.kw for one in document.solutes]) * factors,
        strength=np.array([one.s for one in document.solutes]),
        programme_times=np.array([one.time for one in document.gradient.programme]),
        programme_fractions=np.array([one.strong for one in document.gradient.programme]),
        dwell_volume=document.gradient.dwell_volume or 0.0,
    )


def _sample(document: Document, ratio: Number) -> dict[str, Any]:
    """What a column must know of the sample's solvent; nothing where it is the eluent."""
    factors = sample_factors(document)
    if all(one is None for one in factors):
        return {}
    return {
        "sample_factor": np.array([np.nan if one is None else one for one in factors]) * ratio,
        "sample_volume": getattr(document.injection, "volume", 0.0),
        "sample_washout": getattr(document.injection, "washout_volume", 0.0),
    }


def sample_factors(document: Document) -> list[float | None]:
    """k of each solute in the sample's solvent, as the file states it; None: as in the eluent.

    Without kw from k in the eluent and s, by the same linear solvent strength.
    """
    method, strong = document.method, getattr(document.injection, "strong", None)
    if strong is None:
        return [one.sample_retention_factor for one in document.solutes]
    stated = method.stated_strong
    from_weak = 1 - method.eluent.water if stated is None else stated
    return [
        (one.kw or (one.retention_factor or 0) * 10 ** ((one.s or 0) * from_weak))
        / 10 ** ((one.s or 0) * strong)
        for one in document.solutes
    ]


def curve_plates(scenario: Contents) -> dict[str, FloatArray]:
    """Plates of each column that are from the plate-height curve, by its name, of each solute.

    With a gradient those at the k with which each leaves.
    """
    found = dict[str, FloatArray]()
    for part, passing in itinerary(scenario).passages:
        if not isinstance(part, Column) or not np.isnan(part.plates).all():
            continue
        of = passing.over(len(scenario.document.solutes))
        if isinstance(part, MigrationColumn):
            factors = part.elution(of).leaving_factor
            found[part.name] = part.plates_at(factors[:, None], of)[:, 0]
        else:
            found[part.name] = np.broadcast_to(part.plate_number(of), (of.lanes,))
    return found


def falling_times(gradient: GradientTable) -> list[Problem]:
    """Return the rows of a programme that come before the one above them."""
    rows = gradient.programme
    return [
        Problem(
            ("gradient", "programme", index, "time"),
            f"expected a time of {show(above.time, 'programme time')} or later, as in the row "
            f"above, found {show(one.time, 'programme time')}; put the rows in order",
        )
        for index, (above, one) in enumerate(pairwise(rows), start=1)
        if one.time < above.time
    ]


def never_leaving(column: GradientColumn, stream: Stream) -> list[Problem]:
    """Return the solutes that the gradient does not bring off the column."""
    factors = column.elution(stream).leaving_factor
    return [
        Problem(
            ("solutes", index, "kw"),
            f"expected a solute that leaves the column, found k = {factor:.2g} at the end of the "
            "programme; end it with more of the strong liquid, or correct kw and s",
        )
        for index, factor in enumerate(factors)
        if factor > MOST_FACTOR
    ]
