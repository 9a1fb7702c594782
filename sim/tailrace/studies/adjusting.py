"""Changes of a method that pharmacopoeias allow without a new validation, and what they come to.

USP <621> and Ph. Eur. 2.2.46 in their harmonised text (in force since December 2022 and January
2023), from memory: the limits of L/dp, minor components and isocratic temperature were seen in
secondary sources, the rest was not. Whoever adjusts a method follows the text in force.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from tailrace.journey import Result, travel
from tailrace.journey.propagation import spread
from tailrace.measures.registry import APEX
from tailrace.parts.base import Part
from tailrace.quantities.described import described
from tailrace.scenario.changed import OF_THE_START, STATED, remade, with_values
from tailrace.scenario.criteria import criteria_of
from tailrace.scenario.problems import Place, Tables
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.target import StudyError
from tailrace.studies.axes import axis
from tailrace.studies.lanes import metrics_of
from tailrace.studies.tolerance.models import measured

NAN = float("nan")
LENGTH_OVER_PARTICLE = (0.75, 1.5)
"""Of the prescribed ratio; the same of plates where the kind of particle changes."""
FLOW = (0.5, 1.5)
"""Of the flow that follows from the column, isocratic; with a gradient that flow alone."""
SMALL, KEPT = 3e-6, 0.8
"""m, particles below which a flow beyond that may be justified, with this share of the plates."""
WARMER, WARMER_IN_GRADIENT = 10.0, 5.0
"""K, to either side."""
MINOR, MOST_APART = 0.3, 0.10
"""Of a minor component, relative; of any component, absolute."""
STAY = 0.15
"""Of the retention time of a principal peak, where composition or programme is adjusted."""
ROUNDING = 1e-9
SIZES = ("length", "bore", "particle_diameter")


@dataclass(frozen=True, kw_only=True)
class Rule:
    """One quantity of the method, and how far it may be adjusted."""

    quantity: str = described("what is adjusted", "", label="quantity", names=True)
    kind: str = described("kind of quantity; empty: a plain number", "")
    prescribed: float = described("as prescribed", "SI unit of the kind")
    adjusted: float = described("as it is now", "SI unit of the kind")
    lowest: float = described("least that is allowed; NaN: no limit", "SI unit of the kind")
    greatest: float = described("most that is allowed; NaN: no limit", "SI unit of the kind")
    computed: bool = described("whether it was computed, and not asked for", default=False)
    rule: str = described("which rule it comes under", "")

    @property
    def inside(self) -> bool:
        """Whether it is within the limits, where there are any."""
        room = ROUNDING * abs(self.adjusted)
        return not (self.adjusted < self.lowest - room or self.adjusted > self.greatest + room)


@dataclass(frozen=True, kw_only=True)
class Criterion:
    """A criterion of ``[[accept]]`` as a test of system suitability, before and after."""

    name: str = described("criterion", "", names=True)
    kind: str = described("kind of quantity; empty: a plain number", "")
    at_least: float = described("lower limit; NaN: none", "SI unit of the kind")
    at_most: float = described("upper limit; NaN: none", "SI unit of the kind")
    prescribed: float = described("as prescribed", "SI unit of the kind")
    adjusted: float = described("as adjusted", "SI unit of the kind")
    error: float = described("discretisation error as adjusted", "SI unit of the kind")

    @property
    def kept(self) -> bool:
        """Whether the adjusted method keeps it, its discretisation error counted against it."""
        low, high = self.adjusted - self.error, self.adjusted + self.error
        return bool(np.isfinite(low)) and not (low < self.at_least or high > self.at_most)


@dataclass(frozen=True, kw_only=True)
class Dwell:
    """What the instrument's dwell volume does to a gradient that was scaled."""

    volume: float = described("dwell volume of this instrument", "m^3")
    intended: float = described(
        "dwell volume of the prescribed method, scaled as the column", "m^3"
    )
    later: float = described("by how much the gradient reaches the column too late", "s")
    hold: float = described("isocratic hold at the start of the adjusted programme", "s")

    @property
    def fits(self) -> bool:
        """Whether the time points can be moved to make up for it."""
        return self.later <= self.hold * (1 + ROUNDING)


@dataclass(frozen=True, kw_only=True)
class Adjusted:
    """A method before and after its adjustment."""

    before: Scenario
    after: Scenario
    rules: tuple[Rule, ...]
    criteria: tuple[Criterion, ...]
    programme: tuple[tuple[float, float, float], ...]
    """Of each row with a gradient: time prescribed and adjusted, s, and fraction, 1."""
    dwell: Dwell | None
    remarks: tuple[str, ...]
    """Names of what has to be shown or looked at; sentences are in ``report.adjusting``."""
    results: tuple[Result, Result]

    @property
    def inside(self) -> bool:
        """Whether all is within what is allowed, and every criterion kept."""
        return all(one.inside for one in self.rules) and all(one.kept for one in self.criteria)


def adjust(scenario: Scenario, asked: Sequence[str], dwell: str = "") -> Adjusted:
    """Change a method and compute what has to follow.

    Parameters
    ----------
    asked : sequence of str
        Such as ``column.length = 100 mm``. Flow, injected volume and programme follow the column
        where they are not asked for; stated plates follow L/dp at the same reduced velocity.
    dwell : str
        Dwell volume of the instrument for which the method was made; empty: this instrument's.

    Raises
    ------
    StudyError, ScenarioError
        For what cannot be changed, or is no isocratic or gradient method on one column.
    BudgetError, AccuracyError
        As of ``tailrace.journey.travel``.
    """
    column = _column(scenario)
    values = _asked(scenario, asked)
    place = _place(scenario)
    new = _made(scenario, values, "as asked")
    follow, rules, programme = _followed(scenario, new, column, values)
    changed = {**values, **follow, **_stated(scenario, new, place, values, follow)}
    after = _made(scenario, changed, "adjusted")
    results = travel(scenario.itinerary()), travel(after.itinerary())
    moved = any(key[0] == "path" for key in values)
    found = [*rules, *_rest(scenario, after, values)]
    if not moved and scenario.document.gradient is not None:
        found += _retention(results, after)
    return Adjusted(
        before=scenario,
        after=after,
        rules=tuple(found),
        criteria=tuple(_criteria(scenario, after, results)),
        programme=programme,
        dwell=_dwell(scenario, after, column, programme, dwell),
        remarks=tuple(_remarks(scenario, after, values)),
        results=results,
    )


def _column(scenario: Scenario) -> Part:
    columns = [part for part, _ in scenario.itinerary().passages if part.separates]
    if len(columns) != 1 or scenario.document.columns:
        raise StudyError(
            "expected one column whose method is adjusted, found "
            f"{'[[columns]]' if scenario.document.columns else len(columns) or 'none'}; leave the "
            "others out"
        )
    return columns[0]


def _place(scenario: Scenario) -> Place:
    name = _column(scenario).name
    at = next(n for n, one in enumerate(scenario.document.path) if one.name == name)
    return ("path", at)


def _asked(scenario: Scenario, texts: Sequence[str]) -> dict[Place, Any]:
    values: dict[Place, Any] = {}
    for text in texts:
        one = axis(scenario.tables, text)
        if len(one) != 1:
            raise StudyError(f"{one.name}: expected one value, found {len(one)}; write one")
        values[one.target.place] = one.written[0]
    if not values:
        raise StudyError(
            'expected something to adjust, found nothing; add --to "column.length = 100 mm"'
        )
    own, name = _place(scenario), _column(scenario).name
    for place in values:
        if place[0] == "path" and (place[:2] != own or place[2] not in (*SIZES, "particle")):
            raise StudyError(
                f"expected the {', '.join(SIZES)} or particle of {name}, the flow, the injected "
                "volume, temperature, eluent or programme, found another part or key; what is not "
                "part of the method is a change of the instrument: see `tailrace improve`"
            )
    return values


def _made(scenario: Scenario, values: dict[Place, Any], label: str) -> Scenario:
    left: Tables = {
        key: value
        for key, value in scenario.tables.items()
        if key not in OF_THE_START or key == "accept"
    }
    return remade(scenario, with_values(left, values), label)


def _sizes(part: Part) -> tuple[float, float, float]:
    length, bore, particle = (float(getattr(part, name)) for name in SIZES)
    return length, bore, particle


def _si(value: float, unit: str) -> str:
    return f"{float(value):.12g} {unit}"


def _followed(
    scenario: Scenario, new: Scenario, column: Part, values: dict[Place, Any]
) -> tuple[dict[Place, Any], list[Rule], tuple[tuple[float, float, float], ...]]:
    """What follows from the column: flow, injected volume, programme."""
    (long, wide, fine), (longer, wider, finer) = _sizes(column), _sizes(_column(new))
    gradient, flow = scenario.document.gradient, float(scenario.document.method.flow)
    scale = longer * wider**2 / (long * wide**2)
    ideal = flow * wider**2 * fine / (wide**2 * finer)
    moved = (long, wide, fine) != (longer, wider, finer)
    asked = ("method", "flow") in values
    now = float(new.document.method.flow) if asked else ideal
    follow: dict[Place, Any] = {} if asked else {("method", "flow"): _si(ideal, "m^3/s")}
    rules = []
    if moved:
        rules.append(_length_over_particle(scenario, new, (long / fine, longer / finer), now))
    low, high = FLOW if gradient is None else (1.0, 1.0)
    rules.append(
        Rule(
            quantity="flow",
            kind="flow rate",
            prescribed=flow,
            adjusted=now,
            lowest=low * ideal,
            greatest=high * ideal,
            computed=not asked,
            rule="flow in gradient" if gradient is not None else "flow",
        )
    )
    more, injected = _injected(scenario, new, scale, ("injection", "volume") in values)
    follow, rules = follow | more, [*rules, *injected]
    if gradient is None:
        return follow, rules, ()
    stretch = flow / now * scale
    rows = []
    for before, after in zip(
        gradient.programme, (new.document.gradient or gradient).programme, strict=True
    ):
        rows.append((float(before.time), float(after.time) * stretch, float(after.strong)))
    follow[("gradient", "programme")] = [
        {"time": _si(time, "s"), "strong": share} for _, time, share in rows
    ]
    return follow, rules, tuple(rows)


def _injected(
    scenario: Scenario, new: Scenario, scale: float, asked: bool
) -> tuple[dict[Place, Any], list[Rule]]:
    """The injected volume, with amounts of the same solution; nothing without a volume."""
    before = getattr(scenario.document.injection, "volume", None)
    if before is None:
        return {}, []
    volume = float(getattr(new.document.injection, "volume", NAN)) if asked else before * scale
    follow: dict[Place, Any] = {} if asked else {("injection", "volume"): _si(volume, "m^3")}
    for at, one in enumerate(scenario.document.solutes):
        if one.amount is not None:
            follow[("solutes", at, "amount")] = _si(one.amount * volume / before, "mol")
    rule = Rule(
        quantity="injected volume",
        kind="volume",
        prescribed=float(before),
        adjusted=volume,
        lowest=NAN,
        greatest=NAN,
        computed=not asked,
        rule="volume",
    )
    return follow, [rule]


def _length_over_particle(
    scenario: Scenario, new: Scenario, ratios: tuple[float, float], flow: float
) -> Rule:
    """L/dp; plates of the packing where the kind of particle changes."""
    low, high = LENGTH_OVER_PARTICLE
    kinds = {getattr(_column(one), "particle", "") for one in (scenario, new)}
    name = "length over particle diameter"
    if len(kinds) > 1:
        name, ratios = "plates of the packing", (_plates(scenario), _plates(new, flow))
    return Rule(
        quantity=name,
        kind="",
        prescribed=ratios[0],
        adjusted=ratios[1],
        lowest=low * ratios[0],
        greatest=high * ratios[0],
        rule="particle" if len(kinds) > 1 else "column",
    )


def _plates(scenario: Scenario, flow: float = NAN) -> float:
    """Least plates of all solutes by the plate-height curve of the packing at a flow, m^3/s; of a
    new column they are not known otherwise."""
    passages = spread(scenario.itinerary())
    part, stream = next(pair for pair in passages if pair[0].separates)
    if np.isfinite(flow):
        stream = replace(stream, flow_rate=np.full(stream.lanes, flow))
    heights = part.heights(stream)  # type: ignore[attr-defined]
    return float(np.min(part.particles_long / (heights[0] + heights[1])))


def _stated(
    scenario: Scenario,
    new: Scenario,
    place: Place,
    values: dict[Place, Any],
    follow: dict[Place, Any],
) -> dict[Place, Any]:
    """Where what is stated of the column and the solutes holds after the adjustment."""
    (long, wide, fine), (longer, wider, finer) = _sizes(_column(scenario)), _sizes(_column(new))
    method, stated = scenario.document.method, dict[Place, Any]()
    plates = getattr(scenario.document.path[int(place[1])], "plates", None)
    if plates is not None:
        stated[(*place, "plates")] = float(plates) * longer / finer / (long / fine)
        base = float(method.stated_flow or method.flow)
        stated[("method", STATED["flow"])] = _si(
            base * wider**2 * fine / (wide**2 * finer), "m^3/s"
        )
    if ("method", "temperature") in values and method.stated_temperature is None:
        stated[("method", STATED["temperature"])] = _si(float(method.temperature), "K")
    return stated


def _rest(scenario: Scenario, after: Scenario, values: dict[Place, Any]) -> Iterator[Rule]:
    """Temperature and composition."""
    was, now = scenario.document.method, after.document.method
    gradient = scenario.document.gradient is not None
    if ("method", "temperature") in values:
        room = WARMER_IN_GRADIENT if gradient else WARMER
        yield Rule(
            quantity="temperature",
            kind="temperature",
            prescribed=float(was.temperature),
            adjusted=float(now.temperature),
            lowest=float(was.temperature) - room,
            greatest=float(was.temperature) + room,
            rule="temperature",
        )
    before, shares = was.eluent.composition, now.eluent.composition
    if before == shares:
        return
    for name in sorted({*before, *shares}):
        old, new = before.get(name, 0.0), shares.get(name, 0.0)
        minor = old <= 1 / max(len(before), 1) + ROUNDING
        room = min(MINOR * old, MOST_APART) if minor else MOST_APART
        yield Rule(
            quantity=f"share of {name}",
            kind="",
            prescribed=old,
            adjusted=new,
            lowest=old - room,
            greatest=old + room,
            rule="minor" if minor else "major",
        )


def _retention(results: tuple[Result, Result], after: Scenario) -> list[Rule]:
    """With a gradient principal peaks stay where they are; all solutes are taken for such."""
    was, now = (one.recorded[APEX] for one in results)
    return [
        Rule(
            quantity=f"retention time of {name}",
            kind="duration",
            prescribed=float(was[lane]),
            adjusted=float(now[lane]),
            lowest=(1 - STAY) * float(was[lane]),
            greatest=(1 + STAY) * float(was[lane]),
            computed=True,
            rule="stay",
        )
        for lane, name in enumerate(results[1].lanes)
    ]


def _criteria(
    scenario: Scenario, after: Scenario, results: tuple[Result, Result]
) -> Iterator[Criterion]:
    metrics = [
        metrics_of(one, [changed.itinerary()])
        for one, changed in zip(results, (scenario, after), strict=True)
    ]
    for one in (row for row in criteria_of(scenario) if not row.repeated):
        (old, _), (new, error) = (measured(one, values) for values in metrics)
        yield Criterion(
            name=one.name,
            kind=one.kind,
            at_least=one.at_least,
            at_most=one.at_most,
            prescribed=float(old[0]),
            adjusted=float(new[0]),
            error=float(error[0]),
        )


def _dwell(
    scenario: Scenario,
    after: Scenario,
    column: Part,
    programme: tuple[tuple[float, float, float], ...],
    written: str,
) -> Dwell | None:
    if not programme or scenario.document.gradient is None:
        return None
    own = scenario.document.gradient.dwell_volume
    if own is None:
        return None
    origin = float(own)
    if written:
        origin = float(axis(scenario.tables, f"gradient.dwell_volume = {written}").values[0])
    (long, wide, _), (longer, wider, _) = _sizes(column), _sizes(_column(after))
    intended = origin * longer * wider**2 / (long * wide**2)
    held = [time for _, time, share in programme if share == programme[0][2]]
    return Dwell(
        volume=float(own),
        intended=intended,
        later=(float(own) - intended) / float(after.document.method.flow),
        hold=max(held, default=0.0) if programme[0][1] >= 0 else 0.0,
    )


def _remarks(scenario: Scenario, after: Scenario, values: dict[Place, Any]) -> Iterator[str]:
    was, now = _column(scenario), _column(after)
    given = getattr(scenario.document.path[int(_place(scenario)[1])], "plates", None)
    sized = _sizes(was) != _sizes(now)
    if given is not None and sized:
        yield "plates"
    if float(getattr(was, "head_volume", 0.0)) > 0 and sized:
        yield "heads"
    if _sizes(now)[2] < SMALL <= _sizes(was)[2] and scenario.document.gradient is None:
        yield "small particles"
    if ("injection", "volume") in values:
        yield "volume"
    if getattr(scenario.document.injection, "volume", None) is None:
        yield "no volume"
    if len([key for key in values if key[0] != "path"]) + sized > 1:
        yield "several"
