"""What ``protocol`` says, in words, tables, JSON and as a page with a sheet to fill in."""

import math
from typing import Any

from tailrace.records.layout import as_json as plain
from tailrace.records.trade import trade
from tailrace.report.measured.diagnosis import label
from tailrace.report.measured.section import CLOCK, Drawings, Section, Telling, as_text
from tailrace.report.numbers import ABSENT, percent, significant
from tailrace.report.sentences import tolerances
from tailrace.report.table import BLANK, Table, tabulated, words
from tailrace.studies.measured.faults import NOTHING
from tailrace.studies.measured.protocol import Identified, Measuring, Protocol, repeat_of

TITLE = "Measurement plan"
METHOD = (
    "Without the column its ends are joined by a union of next to no volume. Each measurement is "
    "simulated; bands of the variance are those of [[uncertain]], or of typical tolerances where "
    "it states none, 95 %, first order, in closed form. The interval gives about six points "
    "to a standard deviation of the peak; more do no harm.",
    "What can be identified: Fisher information of all set-ups together, one signal each, with "
    "delays, areas and baselines open, noise white, at the signal-to-noise ratio assumed. "
    "'Seen from': the value nearest to the scenario's that changes the signals by three standard "
    "deviations, if it is the only fault. 'Told apart': its change of the variance is known to a "
    "quarter or better while all others are open, too, each by as much as the variance itself.",
)
CAUTIONS = (
    "before a flow above the method's look up what column, cell and pump may bear, and raise it "
    "slowly; stop the pump and let the pressure fall before a joint is opened",
    "without the column the pressure is low: the pump's check valves may need some back pressure "
    "behind the cell, within what the cell bears. Take it from the instrument's manual",
    "a union of larger bore or volume than the tubes is a part of its own: name it in the scenario",
    CLOCK,
    "wear eye protection, and mind the solvent and local rules",
)


def plan_table(study: Protocol) -> Table:
    """What to measure."""
    columns = [
        words("measurement", lambda one: one.name),
        words("take out", lambda one: ", ".join(one.without) or "-"),
        words("flow", lambda one: significant(one.flow * 60e6, 3), "mL/min"),
        words("response", lambda one: significant(one.time_constant or float("nan"), 3), "s"),
        words("points every", lambda one: significant(one.points, 2), "s"),
        words("times", lambda one: f"{one.repeats}"),
        words("pressure", lambda one: significant(one.pressure / 1e5, 2), "bar"),
    ]
    return tabulated("The plan", columns, study.measurings)


def expected_table(study: Protocol) -> Table:
    """What each measurement should show."""

    def told(value: float, off: float) -> str:
        """With the digits that half of the band leaves it, which has two."""
        if not off > 0:
            return significant(value, 3)
        return f"{value:.{max(0, 1 - math.floor(math.log10(off)))}f}"

    def half(one: Measuring) -> float:
        return (one.variance_high - one.variance_low) / 2 * 1e18

    def band(one: Measuring) -> str:
        ends = (one.variance_low * 1e18, one.variance_high * 1e18)
        return " to ".join(told(end, half(one)) for end in ends) if half(one) > 0 else ABSENT

    def width(one: Measuring) -> str:  # goes with the root of the variance
        return told(one.width, one.width * half(one) / (2 * one.variance * 1e18))

    columns = [
        words("measurement", lambda one: one.name),
        words("maximum, about", lambda one: significant(one.apex, 3), "s"),
        words("width at half height", width, "s"),
        words("height / first", lambda one: significant(one.height, 2)),
        words("variance", lambda one: told(one.variance * 1e18, half(one)), "uL^2"),
        words("between", band, "uL^2"),
    ]
    return tabulated("What it should show", columns, study.measurings)


def sheet_table(study: Protocol) -> Table:
    """To be filled in, a row a signal."""
    rows = [(one, at) for one in study.measurings for at in range(one.repeats)]
    columns = [
        words("measurement", lambda row: row[0].name + (f", no. {row[1] + 1}" if row[1] else "")),
        words("file", lambda row: repeat_of(row[0].file, row[1] + 1)),
        words("maximum, s", lambda row: BLANK),
        words("width, s", lambda row: BLANK),
        words("height", lambda row: BLANK),
        words("pressure", lambda row: BLANK),
        words("date, name", lambda row: BLANK),
    ]
    return tabulated("To fill in", columns, rows)


def identified_table(study: Protocol) -> Table:
    """What the plan would say of each fault."""

    def shown(one: Identified, value: float, digits: int = 3) -> str:
        if value == float("inf"):
            return "straight"
        if value <= NOTHING.get(one.kind, -1.0):
            return "none"
        factor = trade(one.kind, "1")
        return f"{significant(factor.of(value), digits)} {factor.unit}".strip()

    def seen(one: Identified) -> str:
        """Of what the scenario has as a number, by how much it differs."""
        if not NOTHING.get(one.kind, -1.0) < one.nominal < math.inf:
            return shown(one, one.seen_from)
        return f"{100 * (one.seen_from / one.nominal - 1):+.2g} %"

    columns = [
        words("fault", lambda one: label(one.name)),
        words("scenario", lambda one: shown(one, one.nominal)),
        words("seen from", seen),
        words("change known to, alone", lambda one: percent(one.alone), "% of the variance"),
        words("all open", lambda one: significant(100 * min(one.together, 9.99), 2), "%"),
        words("told apart", lambda one: "yes" if one.identifiable else "no"),
    ]
    return tabulated("What it would say of a fault", columns, study.identified)


def conclusion(study: Protocol) -> str:
    """How many measurements, and what they would tell."""
    known = sum(one.identifiable for one in study.identified)
    signals = sum(one.repeats for one in study.measurings)
    text = f"tell {known} of {len(study.identified)} faults from all others"
    left = [label(one.name) for one in study.identified if not one.identifiable]
    return (
        f"{signals} signals in {len(study.measurings)} set-ups; at a signal-to-noise ratio of "
        f"{study.signal_to_noise:g} they would {text if known else 'tell no fault from all others'}"
        + (f"; not {', '.join(left)}." if known and left else ".")
    )


def reported(study: Protocol) -> list[str]:
    """What cannot be told apart or seen."""
    lines = [
        f"Not to be told apart by this plan: {', '.join(map(label, group))}."
        for group in study.indistinguishable
    ]
    if study.unseen:
        lines.append(
            f"Not seen by any of these measurements: {', '.join(map(label, study.unseen))}."
        )
    return lines


def _bands(study: Protocol) -> list[str]:
    """Of what the bands are, where the scenario does not say it."""
    if study.inputs:
        return []
    return [
        "The scenario states no uncertainty of its own: bands are of typical tolerances of makers, "
        f"half widths (common practice, no source): {tolerances()}. Joints, diffusivities, the "
        "packing and how tubes lie count as exact."
    ]


def sections(study: Protocol) -> list[Section]:
    """Plan, expectation, what it would say, the sheet."""
    return [
        Section(title="Plan", tables=[plan_table(study)]),
        Section(title="Expected", lines=_bands(study), tables=[expected_table(study)]),
        Section(title="Expected variance", pictures=[0]),
        Section(title="Faults", tables=[identified_table(study)], lines=reported(study)),
        Section(title="Sheet", tables=[sheet_table(study)], lines=[BACK]),
    ]


BACK = (
    "Afterwards: keep the files beside measured.toml, under these names, and ask "
    '"tailrace compare measured.toml" whether they are as expected, "tailrace diagnose '
    'measured.toml" what to look for where they are not.'
)


def sheet_of(study: Protocol) -> str:
    """The sheet to fill in, as plain text."""
    tables = [plan_table(study), expected_table(study), sheet_table(study)]
    parts = [Section(title="", lines=_bands(study), tables=tables), Section(title="", lines=[BACK])]
    return as_text(f"{TITLE}: {study.title}", parts, conclusion(study), CAUTIONS) + "\n"


def drawings(study: Protocol) -> Drawings:
    """The variances that are expected."""

    def drawn() -> Any:
        from tailrace.figures.diagnosis import draw_plan

        return draw_plan(study)

    return {"plan": drawn}


def numbers(study: Protocol) -> dict[str, Any]:
    """What is in the JSON object; SI."""
    return {
        "signal_to_noise": study.signal_to_noise,
        "measurements": [plain(one) for one in study.measurings],
        "faults": [plain(one) | {"identifiable": one.identifiable} for one in study.identified],
        "indistinguishable": plain(study.indistinguishable),
        "unseen": list(study.unseen),
    }


TOLD = Telling(
    title=TITLE,
    method=METHOD,
    conclusion=conclusion,
    sections=sections,
    numbers=numbers,
    cautions=lambda study: CAUTIONS,
    drawings=drawings,
)
