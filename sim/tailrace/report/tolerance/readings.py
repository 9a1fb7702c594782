"""How metrics are read, and how they spread within a series of injections, in words."""

import math

from tailrace.quantities.kinds import kind_named, plain, show
from tailrace.records.trade import trade
from tailrace.report.numbers import significant
from tailrace.report.table import Table, tabulated, words
from tailrace.scenario.reading import Reading
from tailrace.studies.tolerance.result import Tolerance, Varied
from tailrace.studies.tolerance.series import series_range


def size(one: Reading) -> str:
    """Standard deviation of one reading, in words."""
    if one.relative:
        return f"{100 * one.deviation:.3g} %"
    unit = trade(one.kind, one.unit)
    return f"{significant(float(unit.span(one.deviation)), 3)} {unit.unit}".rstrip()


def origin(one: Reading) -> str:
    """What the standard deviation of a reading was found from."""
    if one.simulated:
        return f"{one.simulated} signals with simulated noise, read as measured ones"
    if math.isfinite(one.freedom):
        return f"{one.freedom + 1:.0f} repeats"
    return "as stated"


def varied(one: Varied) -> str:
    """What varies from one injection to the next, in words."""
    share = f" ({100 * one.deviation / abs(one.nominal):.3g} %)" if one.nominal else ""
    if one.quantity and kind_named(one.quantity).offset:
        return f"standard deviation {one.deviation:.4g} {one.unit} between injections"
    size = show(one.deviation, one.quantity) if one.quantity else plain(one.deviation)
    return f"standard deviation {size}{share} between injections"


def series(study: Tolerance) -> str:
    """What an RSD is, and of which series it is judged; empty without any."""
    judged = [one for one in study.outcomes if one.injections]
    if not judged:
        return ""
    count = judged[0].injections
    low, high = series_range(count)
    named = ", ".join(dict.fromkeys(one.measure for one in judged))
    return (
        f"{named}: the tables of metrics tell what a great many injections on each instrument "
        "would show, from inputs of kind injection and [[reading]]; judged is one series on each. "
        f"Of {count} injections 95 % of series show {low:.3g} to {high:.3g} times that (chi-"
        f"squared, {count - 1} degrees of freedom), all solutes alike, time and area apart."
    )


def readings_table(study: Tolerance) -> Table | None:
    """How metrics are read, and where that is from; None where nothing is stated."""
    if not study.readings:
        return None
    columns = (
        words("reading of", lambda one: one.measure + (f" of {one.of}" if one.of else "")),
        words("standard deviation", size),
        words("from", origin),
        words("because", lambda one: one.because),
    )
    return tabulated("How metrics are read", columns, study.readings)
