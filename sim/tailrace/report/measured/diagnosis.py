"""What ``diagnose`` says, in words, tables, JSON and as a page."""

import math
from collections.abc import Sequence
from functools import partial
from typing import Any

from tailrace.records.layout import as_json as plain
from tailrace.records.trade import trade
from tailrace.report.measured.section import (
    CLOCK,
    CLOSE_BENDS,
    Drawings,
    Section,
    Telling,
    bent,
)
from tailrace.report.numbers import by_powers, percent, significant
from tailrace.report.table import Table, tabulated, words
from tailrace.studies.measured.diagnosis import ELSE, NONE, Candidate, Diagnosis, Hypothesis
from tailrace.studies.measured.faults import NOTHING
from tailrace.wording import say, word

TITLE = "Diagnosis"
SHOWN, CANDIDATES, TOGETHER = 12, 6, 6
"""Hypotheses and next measurements that are told; signals in one picture."""
LEAST = 0.0005
METHOD = (
    "One number of the scenario at a time is taken to be other than it says: each bore, each "
    "joint's gap (between parts that the scenario joins without one, too), the length of a tube, "
    "the volume and the tanks of the cell, the response, how a tube is bent, the plates of the "
    "column, the injected volume and its tail, the pump (every flow in proportion), how fast a "
    "solute diffuses (temperature shows here alone). Each is fitted to the whole curves of all "
    "signals, with delay, area and baseline of every signal left open, and what [[uncertain]] says "
    "of other fields held. Where the best single fault leaves more than noise, pairs are fitted "
    "that promise most.",
    "Evidence is Laplace's approximation; of the noise it is taken into account how well the "
    "blank stretches say how large it is. A fault is expected to change the variance of the peak "
    "by about half (standard deviation), whichever part it is in; before, nothing wrong counts "
    "0.5, all single faults together 0.4, all pairs 0.05, something else 0.05: our own choice. "
    "BIC stands beside; it knows none of this. Probabilities are of these assumptions, and no "
    "shares that were counted: of 1000 invented instruments the truth was among what is named in "
    "997; what was amiss in the three has been mended since.",
    "'Something else' is the first hypothesis with a variance, a third and a fourth cumulant of "
    "its own for every signal: a change of shape that no fault that was tried makes.",
    "What cannot be told from the first has a twentieth of its probability or more; faults that do "
    "just the same count together for that. Further groups "
    "are faults that change a peak's shape alike as long as they change its variance by a tenth.",
    "The next measurement: each is simulated under each hypothesis that is left, with noise as "
    "measured and with what is open of its values; information is by how many bits the "
    "probabilities would gain on average. Minutes of work are our own choice.",
)
ORDER = (
    "Parts may change places: a joint before a union in place of the column and one behind it give "
    "the same signals, at every flow and however often they are recorded. Only a change of one of "
    "them tells which it is: make it anew, or take the part beside it out."
)
KINDS_OF_WORK = {
    "flow": "measure at {value}",
    "response": "measure with the {what} at {value}",
    "part": "take out {what}, join the ends, and measure",
    "joint": "make the {what} anew and measure",
}


def _shown(value: float, kind: str, unit: str, error: float = math.nan) -> str:
    factor = trade(kind, unit)
    number = significant(factor.of(value), 3)
    if math.isfinite(error):
        number = by_powers(factor.of(value), factor.span(error))
    return f"{number} {factor.unit}".strip()


def _said(value: float, kind: str, unit: str) -> str:
    """What the scenario says."""
    if math.isinf(value):
        return "straight"
    return "none" if value <= NOTHING.get(kind, -1.0) else _shown(value, kind, unit)


def label(name: str) -> str:
    """A fault in words: of a joint that the scenario does not name the gap between two parts."""
    first, *more = map(_short, name.split(" + "))
    for one in more:
        first = say("{one} and {another}", one=first, another=one)
    return first


OWNERS = {
    "method": "{what} of the pump",
    "injection": "{what} of the injection",
    "detector": "{what} of the detector",
}


def _short(name: str) -> str:
    whose, _, field = name.removeprefix("solutes.").rpartition(".")
    if field == "gap_length":
        first, found, second = whose.removeprefix("joint ").partition(" | ")
        if found:
            return say("gap between {first} and {second}", first=first, second=second)
        return say("gap of {whose}", whose=whose)
    if not whose:
        return word(name)
    form = OWNERS.get(whose, "{what} of {whose}")
    return say(form, what=word(field.replace("_", " ")), whose=whose)


def _joint(name: str) -> str:
    """``joint injection | tube`` as the scenario does not name it: ``between`` two parts."""
    first, found, second = name.removeprefix("joint ").partition(" | ")
    return f"between {first} and {second}" if found else name


def _in_file(one: Hypothesis) -> str:
    """How the scenario file calls what is at fault."""
    return ", ".join("none yet" if "|" in name else name for name in one.fields) or "-"


def _numbers(one: Hypothesis) -> tuple[str, str]:
    """Fitted, and as the scenario says."""
    rows = list(zip(one.kinds, one.units, one.values, one.nominal, one.uncertainties, strict=True))
    return (
        "; ".join(_shown(value, kind, unit, error) for kind, unit, value, _, error in rows),
        "; ".join(_said(nominal, kind, unit) for kind, unit, _, nominal, _ in rows),
    )


def fitted(*alike: Hypothesis) -> str:
    """Faults of the same values, each named, with the values and what the scenario says."""
    value, nominal = _numbers(alike[0])
    names = " or ".join(label(one.name) for one in alike)
    return f"{names}: {value} (the scenario says {nominal})"


def _stirred(name: str) -> bool:
    """Whether a fault is the gap of a joint."""
    return name.endswith(".gap_length")


def _clock(one: Hypothesis) -> str:
    """What looks the same: of flow and diffusivity together a clock that is off."""
    both = "method.flow" in one.fields and any(name.endswith(".diffusivity") for name in one.fields)
    return ", or a clock of the data system that is off, which looks the same" if both else ""


def _chance(value: float) -> str:
    return f"{percent(value)} %"


def verdict(study: Diagnosis) -> str:
    """What is at fault, or between what it cannot be told; or that nothing tried is enough."""
    first, alike = study.first, [one for one in study.alike if one.name != ELSE]
    if study.at_fault and first.name == NONE:
        return (
            "None of these faults brings the signals nearer, yet they differ from the simulation "
            "by more than noise: look for what is not among those tried."
        )
    if study.at_fault and first.name != ELSE:
        return (
            f"Nearest comes {fitted(first)}, but it leaves more than noise: something else is at "
            "fault, or something beside it."
        )
    if first.name == ELSE:
        nearest = next(one for one in study.hypotheses if one.name not in (ELSE, NONE))
        return (
            f"None of these faults explains the signals ({_chance(first.probability)} for "
            "something else): look for a part that the scenario lacks, or a number that is not "
            f"among those tried. Nearest comes {fitted(nearest)}."
        )
    if len(alike) == 1:
        if first.name == NONE:
            return (
                "Nothing is wrong that shows in these signals "
                f"({_chance(first.probability)}): they are as the scenario says."
            )
        return f"At fault ({_chance(first.probability)}) is {fitted(first)}{_clock(first)}."
    together = _chance(sum(one.probability for one in alike))
    same: dict[tuple[float, ...], list[Hypothesis]] = {}
    for one in alike:
        same.setdefault(one.values, []).append(one)
    text = "; or ".join(
        fitted(*group) + _clock(group[0]) for values, group in same.items() if values
    )
    if any(one.name == NONE for one in alike):
        return (
            f"These signals do not tell whether anything is wrong ({together} together): nothing, "
            f"or {text}."
        )
    return (
        f"One of these is at fault ({together} together), and these signals do not tell which: "
        f"{text}."
    )


def spoken(one: Candidate) -> str:
    """What is to be done at the bench."""
    kind = {"flow": "flow rate", "response": "response time"}.get(one.kind, "")
    unit = {"flow": "m^3/s", "response": "s"}.get(one.kind, "1")
    value = _shown(one.value, kind, unit) if kind else ""
    what = label(one.what) if one.kind == "response" else one.what
    if _joint(what) != what:
        what = f"joint {_joint(what)}"
    return KINDS_OF_WORK[one.kind].format(what=what, value=value)


def advice(study: Diagnosis) -> str:
    """The next measurement; empty where there is nothing left to tell apart."""
    best = study.next_measurement
    if best is None:
        if len(study.alike) > 1:
            return "No single further measurement of those tried tells them apart."
        return ""
    return (
        f"Next: {spoken(best)}: about {best.minutes:.0f} minutes, "
        f"{significant(best.information, 2)} bit expected."
    )


def conclusion(study: Diagnosis) -> str:
    """Verdict and advice."""
    return " ".join(filter(None, (verdict(study), advice(study))))


def cautions(study: Diagnosis) -> list[str]:
    """What to be careful about."""
    lines = []
    if study.at_fault:
        lines.append(
            "the first hypothesis leaves more than noise "
            f"({significant(study.hypotheses[0].residual_over_noise, 2)} times): the model is at "
            "fault, and probabilities among hypotheses say less than they seem to"
        )
    if study.stood_in:
        lines.append(
            "bends, a gradient, a solvent of the sample's own or an overloaded column are computed "
            "once for each signal, as the scenario has them; what a fault changes of them is right "
            "to first order"
        )
    if any(bent(one.fields) for one in likely(study)):
        lines.append(CLOSE_BENDS)
    if any("method.flow" in one.fields for one in study.alike):
        lines.append(CLOCK)
        lines.append(
            "a leak before the first part looks the same as a pump that delivers less: look for "
            "drops, and at the pressure"
        )
    if study.unseen:
        unseen = ", ".join(map(label, study.unseen))
        lines.append(f"no measurement shows {unseen}: not tried")
    if study.next_measurement is not None and study.next_measurement.kind == "flow":
        lines.append(
            "before a higher flow look up what column, cell and pump may bear; raise it slowly"
        )
    if study.next_measurement is not None and study.next_measurement.kind in ("part", "joint"):
        lines.append("stop the pump and let the pressure fall before a joint is opened")
    return lines


def likely(study: Diagnosis) -> list[Hypothesis]:
    """Those that are worth a line, by falling probability; nothing at fault always is."""
    return [one for one in study.hypotheses if one.probability >= LEAST or one.name == NONE]


def hypotheses_table(study: Diagnosis) -> Table:
    """The most probable ones."""
    columns = [
        words("at fault", lambda one: label(one.name)),
        words("probability", lambda one: percent(one.probability), "%"),
        words("fitted", lambda one: _numbers(one)[0] or "-"),
        words("scenario", lambda one: _numbers(one)[1] or "-"),
        words("log", lambda one: significant(one.log_evidence, 3), "evidence"),
        words("BIC", lambda one: significant(one.bic, 3)),
        words("residual", lambda one: significant(one.residual_over_noise, 3), "/ noise"),
        words("in the file", _in_file),
    ]
    return tabulated("Hypotheses by falling probability", columns, likely(study)[:SHOWN])


def candidates_table(study: Diagnosis) -> Table:
    """The best next measurements."""
    columns = [
        words("measurement", spoken),
        words("information", lambda one: significant(one.information, 2), "bit"),
        words("time", lambda one: f"{one.minutes:.0f}", "min"),
        words("per hour", lambda one: significant(60 * one.rate, 2), "bit"),
    ]
    return tabulated("What would tell them apart", columns, study.candidates[:CANDIDATES])


def reported(study: Diagnosis) -> list[str]:
    """What cannot be told apart, and how much was tried."""
    first = {one.name for one in study.alike}
    lines = [
        (
            "Not at fault as far as these signals say, and if one were, they would not tell which: "
            if first.isdisjoint(group)
            else "Cannot be told apart by these signals: "
        )
        + f"{', '.join(map(label, group))}."
        for group in study.indistinguishable
    ]
    if any(sum(map(_stirred, group)) > 1 for group in study.indistinguishable):
        lines.append(ORDER)
    count = len(study.hypotheses) - 2
    lines.append(
        f"{count} hypotheses were fitted to {len(study.measured)} signals"
        + (f"; {study.pairs} pairs were looked at." if study.pairs else ".")
    )
    return lines


def sections(study: Diagnosis) -> list[Section]:
    """Hypotheses, what is next, signals."""
    found = [
        Section(title="Hypotheses", tables=[hypotheses_table(study)], pictures=[0]),
        Section(title="What cannot be told apart", lines=reported(study)),
    ]
    if study.candidates:
        found.append(Section(title="Next measurement", tables=[candidates_table(study)]))
    sheets = range(1, 1 + len(_together(study)))
    return [*found, Section(title="Signals, under the first hypothesis", pictures=list(sheets))]


def _together(study: Diagnosis) -> list[Sequence[Any]]:
    """The signals, by the pictures that show them."""
    signals = list(study.measured.values())
    return [signals[at : at + TOGETHER] for at in range(0, len(signals), TOGETHER)]


def _overlays(found: Sequence[Any]) -> Any:
    from tailrace.figures.measured import draw_overlays

    return draw_overlays(found)


def drawings(study: Diagnosis) -> Drawings:
    """Probabilities, then the signals."""

    def drawn() -> Any:
        from tailrace.figures.diagnosis import draw_hypotheses

        return draw_hypotheses(likely(study), label)

    sheets = enumerate(_together(study), 1)
    overlays = {f"overlay-{at}": partial(_overlays, found) for at, found in sheets}
    return {"hypotheses": drawn, **overlays}


def numbers(study: Diagnosis) -> dict[str, Any]:
    """What is in the JSON object; SI."""
    best = study.next_measurement
    return {
        "hypotheses": [_hypothesis(one) for one in study.hypotheses],
        "indistinguishable": plain(study.indistinguishable),
        "verdict": verdict(study),
        "next_measurement": None if best is None else _candidate(best),
        "candidates": [_candidate(one) for one in study.candidates],
        "unseen": list(study.unseen),
        "model_at_fault": study.at_fault,
        "measured": [
            {key: plain(getattr(one, key)) for key in ("name", "file", "sha256", "noise")}
            for one in study.measured.values()
        ],
    }


def _hypothesis(one: Hypothesis) -> dict[str, Any]:
    def keyed(values: Sequence[Any]) -> dict[str, Any]:
        return {name: plain(value) for name, value in zip(one.fields, values, strict=True)}

    return {
        "name": one.name,
        "parts": list(one.parts),
        "fields": list(one.fields),
        "values": keyed(one.values),
        "standard_uncertainties": keyed(one.uncertainties),
        "nominal": keyed(one.nominal),
        "units": keyed(one.units),
        "probability": one.probability,
        "log_evidence": plain(one.log_evidence),
        "bic": plain(one.bic),
        "residual_over_noise": plain(one.residual_over_noise),
        "change_of_variance": plain(one.change),
    }


def _candidate(one: Candidate) -> dict[str, Any]:
    return {
        "kind": one.kind,
        "what": one.what,
        "value": plain(one.value),
        "information": one.information,
        "minutes": one.minutes,
        "sentence": spoken(one),
    }


TOLD = Telling(
    title=TITLE,
    method=METHOD,
    conclusion=conclusion,
    sections=sections,
    numbers=numbers,
    cautions=cautions,
    drawings=drawings,
)
