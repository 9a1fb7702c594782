"""What is said of instruments that drift, and when they are tested again."""

import math
from dataclasses import replace

from tailrace.quantities.kinds import kind_named, plain, show
from tailrace.records.trade import in_words
from tailrace.report.numbers import percent, significant
from tailrace.report.table import Table, tabulated, words
from tailrace.scenario.drift_table import RISK
from tailrace.studies.tolerance.result import Drifted, Drifting, Tolerance

USUAL = "common practice, no source: no [[drift]] is stated from which an interval would follow"


def drifts_table(found: Drifting) -> Table:
    """What drifts, and where that is from."""
    columns = (
        words("drift of", lambda one: in_words(one.name)),
        words("a month", _rate),
        words("because", lambda one: one.because),
    )
    return replace(tabulated("What drifts", columns, found.drifts), words=True)


def both_tables(study: Tolerance) -> list[Table]:
    """What drifts and how many fall; nothing where no drift is stated."""
    found = study.drifting
    return [] if found is None else [drifts_table(found), fallen_table(found)]


def _rate(one: Drifted) -> str:
    def size(value: float) -> str:
        if one.quantity and kind_named(one.quantity).offset:
            return f"{value:.4g} {one.unit}"
        return show(value, one.quantity) if one.quantity else plain(value)

    sign = "" if one.rate < 0 else "+"
    share = f" ({100 * one.rate / one.nominal:+.3g} %)" if one.nominal else ""
    differs = f", standard deviation between instruments {size(one.deviation)}"
    return f"{sign}{size(one.rate)}{share}{differs if one.deviation else ''}"


def fallen_table(found: Drifting) -> Table:
    """How many have fallen, moment by moment."""
    columns = (
        words("months", lambda at: significant(float(found.times[at]), 3)),
        words("fallen, %", lambda at: percent(float(found.fallen[at]))),
        words("95 % from", lambda at: percent(float(found.fallen_low[at]))),
        words("to", lambda at: percent(float(found.fallen_high[at]))),
    )
    title = "Instruments that have fallen below a criterion, of those that keep all at the start"
    return tabulated(title, columns, range(len(found.times)))


def retest(study: Tolerance) -> str:
    """After what time to test again, and how well that is known; where no drift is stated, that."""
    found = study.drifting
    if found is None:
        return f"When to test again: {USUAL}." if study.checks else ""
    risk, sure = f"{percent(found.risk)} %", f"{percent(found.confidence)} %"
    unless = " (taken where [retest] states no other)" if found.risk == RISK else ""
    of = f"of {found.kept} simulated instruments that keep all criteria at the start"
    if not found.kept:
        return "When to test again: no simulated instrument keeps all criteria at the start."
    if math.isinf(found.interval):
        line = (
            f"Within {significant(found.horizon, 3)} months the risk of having fallen below a "
            f"criterion does not exceed {risk}{unless}, {of}"
        )
    else:
        error = found.interval_error
        upper = "more" if math.isinf(error.high) else significant(error.high, 3)
        line = (
            f"The risk of having fallen below a criterion exceeds {risk}{unless} after "
            f"{_time(found, found.interval)} (95 % interval {significant(error.low, 3)} to "
            f"{upper}), {of}"
        )
    if found.assured == 0:
        line += f"; they are too few to assure that for any time with {sure} confidence"
    elif math.isfinite(found.assured):
        assured = _time(found, found.assured, down=True)
        line += f"; with {sure} confidence it is not exceeded for {assured}"
    falls = sorted(zip(found.first, found.criteria, strict=True), reverse=True)
    worst = [f"{name} ({percent(float(share))} %)" for share, name in falls if share > 0]
    if worst:
        line += f". Fallen within {significant(found.horizon, 3)} months: {', '.join(worst[:3])}"
    return f"{line}. Drifts go on in straight lines, and nothing is mended meanwhile."


def every(found: Drifting) -> str:
    """How often a criterion is tested, for the table of what to measure."""
    if not found.kept or found.assured == 0:
        return "again before the drift makes it fall: how soon, these instruments do not show"
    months = min(found.assured, found.horizon)
    return (
        f"every {_time(found, months, down=True)} (from the drift stated: risk "
        f"{percent(found.risk)} %, {percent(found.confidence)} % confidence)"
    )


def _time(found: Drifting, months: float, down: bool = False) -> str:
    """Three digits, ``down`` for what must not be exceeded."""

    def digits(value: float) -> str:
        if down and value > 0:
            step = 10.0 ** (math.floor(math.log10(value)) - 2)
            value = math.floor(value / step + 1e-9) * step
        return significant(value, 3)

    text = f"{digits(months)} months"
    if found.injections_per_month:
        text += f" or {digits(months * found.injections_per_month)} injections"
    return text
