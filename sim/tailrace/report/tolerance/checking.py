"""What to measure on an instrument, and how to decide, in words."""

import math

from tailrace.records.trade import trade
from tailrace.report.numbers import percent, significant
from tailrace.report.tolerance import drifting
from tailrace.report.tolerance.sentences import between, full_stop, kinds
from tailrace.scenario.accept import INJECTIONS
from tailrace.studies.tolerance.result import Check, Tolerance
from tailrace.studies.tolerance.series import own_limits

HOW = {
    "pump": "pump: highest pressure of the method with all parts in place, at temperature",
    "column standard": "column standard: a column of known plates, the solutes of the scenario, "
    "the method's flow, temperature and injection",
    "union": "union in place of the column: no column, tubes, joints, cell and detector as they "
    "are used; inject the solute and read the width at half height",
    "peak standard": "peak standard: the solute through the whole instrument; read the time of the "
    "maximum of the peak",
}
OFTEN = {
    "pump": "every day",
    "column standard": "when the instrument is accepted, after every change of a part, and monthly",
    "union": "when the instrument is accepted, after every joint opened, and every six months",
    "peak standard": "with every series",
}
RULES = {
    "no limit": "no decision can be made without a limit",
    "guard bands meet": "no decision can be made: the guard bands meet; measure with less "
    "uncertainty",
    "simple": "simple acceptance: pass at the limit or inside it; no uncertainty of its "
    "reading is stated (no [[reading]] of this metric)",
    "series": "simple acceptance: pass where the RSD of one series is at the limit or below; how "
    "far such a series spreads is in the share of samples that satisfy it",
    "guarded": "guarded acceptance (JCGM 106:2012, 8.3): pass at the acceptance limit or inside "
    "it, fail beyond the limit; between the two no decision: find the uncertainty that can be made "
    "less (repeating lessens only what varies at random), and measure again",
    "control limits": "outside of these limits look for the cause; they hold the uncertainty of "
    "the measurement already",
}
BASES = {
    "asked": "asked for in [[accept]]",
    "assures": "of {whose} with this width or less at least {share} satisfy all criteria, with "
    "{sure}",
    "holds": "of {whose} at least {share} satisfy all criteria, with {sure}; of these at least "
    "{share} lie below (Wilks)",
    "accepted": "of {whose} that satisfy all criteria at least {share} lie below, with {sure} "
    "(Wilks); this width alone does not assure the criteria",
    "control": "at least {share} of what is measured on {whose}, with {sure} (Wilks); outside, "
    "look at flow, temperature and leaks first",
    "few samples": "too few samples for {share} with {sure}; make more samples",
    "few accepted": "too few samples satisfy all criteria for {share} with {sure}; where hardly "
    "any does, more samples change nothing: change the instrument or the criteria",
}


NOT_OF_THIS = "limits of the population of instruments, and not of this one: "


def _whose(study: Tolerance) -> str:
    """What a sample stands for: an instrument, or what the one that is known so far may be."""
    if kinds(study) == {"tolerance"}:
        return "instruments within their tolerances"
    if "tolerance" in kinds(study):
        return "simulated instruments (what is not known is drawn for each)"
    return "simulated states of what is not known of the one instrument"


def measurement(one: Check) -> str:
    """What is measured: ``width of humulone, without the column``."""
    return f"{one.what}, without the column" if one.how == "union" else one.what


def often(one: Check, study: Tolerance) -> str:
    """How often it is measured, and where that is from."""
    if study.drifting is not None and one.how == "column standard":
        return OFTEN[one.how].replace("monthly", drifting.every(study.drifting))
    return f"{OFTEN[one.how]} (common practice, no source)"


def basis(one: Check, study: Tolerance) -> str:
    """Where a limit of the qualification comes from."""
    share, sure = f"{100 * one.content:g} %", f"{100 * one.confidence:g} % confidence"
    return BASES[one.basis].format(share=share, sure=sure, whose=_whose(study))


def rule(one: Check, study: Tolerance) -> str:
    """How to decide; a single instrument is no population."""
    of_many = one.rule == "control limits" and "tolerance" in kinds(study)
    return NOT_OF_THIS * of_many + RULES[one.rule]


def decision(one: Check, study: Tolerance) -> str:
    """How to decide."""
    own = own_series(one) if one.rule == "control limits" else ""
    return _told(rule(one, study), own)


def risks(one: Check) -> str:
    """How often a decision is wrong."""
    shares = "; ".join(
        f"{word}: {percent(value)} % of all samples ({percent(ends.low)} to {percent(ends.high)} %)"
        for word, value, ends in (
            ("wrong but passed", one.consumer_risk, one.consumer_risk_interval),
            ("right but not passed at once", one.producer_risk, one.producer_risk_interval),
        )
        if math.isfinite(value)
    )
    return _told(shares)


def _told(*texts: str) -> str:
    return " ".join(text[:1].upper() + full_stop(text[1:]) for text in texts if text)


def own_series(one: Check) -> str:
    """What an instrument's own limits are, from its first series."""
    factor = significant(own_limits(INJECTIONS, one.content), 3)
    return (
        f"this instrument's own limits: the mean of its first series of {INJECTIONS} injections, "
        f"and {factor} standard deviations of that series to either side; they hold "
        f"{100 * one.content:g} % of its next injections on average (Student's t)"
    )


def guard_band(one: Check) -> str:
    """The guard band, what it is made of, and the acceptance limits inside it."""
    if not one.guard > 0:
        return "none"
    unit = trade(one.kind, one.unit)
    behind = f" {unit.unit}" if unit.unit else ""
    factor = significant(one.guard / one.measurement, 4)
    return (
        f"{significant(float(unit.span(one.guard)), 3)}{behind}, {factor} times the standard "
        "uncertainty of the measurement "
        f"({significant(float(unit.span(one.measurement)), 2)}{behind}); acceptance limit: "
        f"{between(one, one.accept_at_least, one.accept_at_most, inward=True)}"
    )
