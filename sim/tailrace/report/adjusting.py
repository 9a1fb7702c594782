"""An adjusted method as text and as one JSON object."""

import math
from collections.abc import Sequence
from typing import Any

from tailrace.measures.registry import APEX, leading
from tailrace.quantities.kinds import plain, show
from tailrace.records.layout import as_json as numbers_of
from tailrace.records.separation import kept_fraction
from tailrace.report.numbers import ABSENT, percent, significant
from tailrace.report.sentences import ABOUT
from tailrace.report.table import Headline, Table, tabulated, words
from tailrace.studies.adjusting import Adjusted, Criterion, Rule

RULES = {
    "column": "L/dp within -25 % to +50 %",
    "particle": "other kind of particle: plates within -25 % to +50 %",
    "flow": "scaled by dc^2/dp, then within 50 %",
    "flow in gradient": "scaled by dc^2/dp, and no further",
    "volume": "scaled by L dc^2; other volumes where suitability holds",
    "temperature": "within 10 degC, with a gradient 5 degC",
    "minor": "minor component: 30 % of itself, no more than 10 % absolute",
    "major": "no component by more than 10 % absolute",
    "stay": "principal peaks within 15 % of their time",
}
REMARKS = {
    "plates": "Plates of the new column are not known: those stated were carried over in "
    "proportion to L/dp, at the same reduced velocity. Put in those of its certificate.",
    "heads": "The heads of the new column are taken to be as large as those of the old one.",
    "small particles": "From particles of 3 um and more to smaller ones a higher flow still may be "
    "justified where the efficiency falls by no more than 20 %.",
    "volume": "The injected volume is another than follows from the column: what is left of the "
    "limit of detection and repeatability (less), of linearity and resolution (more) has to be "
    "shown.",
    "no volume": "The scenario gives no injected volume: scale it by L dc^2.",
    "several": "Several conditions are adjusted at once: their effect together has to be judged, "
    "as each alone says little of it.",
}
SOURCE = (
    "Limits are those of USP <621> and Ph. Eur. 2.2.46 in their harmonised text, from memory: hold "
    "them against the text in force and the monograph, which goes before both. System suitability "
    "has to be shown on the instrument, with the column that is used; the kind of stationary phase "
    "must stay the same. Keep to the pressures that column, tubing and cell stand (their manuals)."
)


def blocks(found: Adjusted) -> list[str | Table]:
    """What is shown."""
    shown: list[str | Table] = [Headline(found.before.title or "Adjusted method")]
    shown.append(_rules(found.rules))
    if found.programme:
        shown.append(_programme(found))
    shown.append(_instrument(found))
    if found.criteria:
        shown.append(_criteria(found.criteria))
    shown += [line for line in (_dwell(found), *map(REMARKS.__getitem__, found.remarks)) if line]
    return [*shown, SOURCE, Headline(conclusion(found))]


def conclusion(found: Adjusted) -> str:
    """Whether all is allowed, and what is not."""
    outside = [one.quantity for one in found.rules if not one.inside]
    missed = [one.name for one in found.criteria if not one.kept]
    if outside:
        return (
            f"Outside of what may be adjusted: {', '.join(outside)}. That is another method, which "
            "has to be validated."
        )
    if missed:
        return f"Within what may be adjusted, but not suitable by this model: {', '.join(missed)}."
    suitable = "; every criterion is kept by this model" if found.criteria else ""
    return f"Within what may be adjusted{suitable}."


def as_json(found: Adjusted, version: str) -> dict[str, Any]:
    """The same as one object, numbers in SI."""
    return {
        "contract": 2,
        "version": version,
        "scenario_sha256": found.before.sha256,
        "adjusted_sha256": found.after.sha256,
        "inside": found.inside,
        "rules": [numbers_of(one) | {"inside": one.inside} for one in found.rules],
        "criteria": [numbers_of(one) | {"kept": one.kept} for one in found.criteria],
        "programme": [
            dict(zip(("prescribed", "adjusted", "strong"), row, strict=True))
            for row in found.programme
        ],
        "dwell": None
        if found.dwell is None
        else numbers_of(found.dwell) | {"fits": found.dwell.fits},
        "conclusion": conclusion(found),
    }


def _of(one: Rule | Criterion, value: float) -> str:
    if math.isnan(value):
        return ABSENT
    return show(value, one.kind) if one.kind else plain(value)


def _rules(rules: Sequence[Rule]) -> Table:
    columns = (
        words("what", lambda one: one.quantity),
        words("prescribed", lambda one: _of(one, one.prescribed)),
        words("adjusted", lambda one: _of(one, one.adjusted) + " *" * one.computed),
        words("allowed from", lambda one: _of(one, one.lowest)),
        words("to", lambda one: _of(one, one.greatest)),
        words("", lambda one: "inside" if one.inside else "OUTSIDE"),
        words("rule", lambda one: RULES[one.rule]),
    )
    return tabulated("What is adjusted, and how far it may be (* computed)", columns, rules)


def _programme(found: Adjusted) -> Table:
    columns = (
        words("strong liquid, %", lambda row: percent(row[2])),
        words("time, min", lambda row: f"{row[0] / 60:.4g}", "prescribed"),
        words("time, min", lambda row: f"{row[1] / 60:.4g}", "adjusted"),
    )
    title = "Programme, each segment as long in column volumes as before"
    return tabulated(title, columns, found.programme)


def _instrument(found: Adjusted) -> Table:
    """What the instrument makes of both: with a smaller column it takes more."""
    before, after = found.results
    lead = leading(after.recorded)
    kept = [kept_fraction(one) for one in found.results]

    def cell(name: str, at: int, scale: float = 1.0) -> Any:
        return lambda lane: significant(float(found.results[at].recorded[name][lane]) * scale, 4)

    columns = (
        words("solute", lambda lane: after.lanes[lane]),
        words("time, min", cell(APEX, 0, 1 / 60), "prescribed"),
        words("time, min", cell(APEX, 1, 1 / 60), "adjusted"),
        words(lead.label, cell(lead.name, 0), "prescribed"),
        words(lead.label, cell(lead.name, 1), "adjusted"),
        words("kept, %", lambda lane: percent(kept[0][lane]), "prescribed"),
        words("kept, %", lambda lane: percent(kept[1][lane]), "adjusted"),
    )
    pressures = (show(one.pressure.highest, "pressure", 3) for one in (before, after))
    how = f"pressure {' to '.join(pressures)}, each {ABOUT}"
    title = f"On this instrument (kept: of what the column could give; {how})"
    return tabulated(title, columns, range(len(after.lanes)))


def _criteria(criteria: Sequence[Criterion]) -> Table:
    columns = (
        words("criterion", lambda one: one.name),
        words("at least", lambda one: _of(one, one.at_least)),
        words("at most", lambda one: _of(one, one.at_most)),
        words("prescribed", lambda one: _of(one, one.prescribed)),
        words("adjusted", lambda one: _of(one, one.adjusted)),
        words("", lambda one: "kept" if one.kept else "NOT KEPT"),
    )
    return tabulated("System suitability, by this model", columns, criteria)


def _dwell(found: Adjusted) -> str:
    """What to do about the dwell volume, which does not shrink with the column."""
    if found.programme and found.dwell is None:
        return (
            "The scenario gives no gradient.dwell_volume: what it does to the adjusted programme "
            "cannot be said; measure it."
        )
    one = found.dwell
    if one is None:
        return ""
    has = (
        f"The instrument has a dwell volume of {show(one.volume, 'volume')}; the method, scaled as "
        f"the column, would have {show(one.intended, 'volume')}"
    )
    late = show(abs(one.later), "duration")
    if one.later < 0:
        return f"{has}: the gradient comes {late} too early; begin all segments that much later."
    if one.later == 0:
        return f"{has}: nothing is to be moved."
    move = f"{has}: the gradient comes {late} too late"
    if one.fits:
        return f"{move}; begin all segments that much earlier, the hold at the start leaves room."
    return (
        f"{move}, more than the hold at the start of {show(one.hold, 'duration')} gives: inject "
        "that much after the start of the programme, or take a smaller dwell volume."
    )
