"""The figures that a measurement should show after each step: as a table, and as CSV."""

import csv
import io
import math
import tomllib

from tailrace.quantities.kinds import show
from tailrace.report.improvement.contract import expected_rows
from tailrace.report.table import Table

WORDS = {
    "retention_time": "retention time",
    "width_half": "width at half height",
    "plates": "plates, half height",
    "peak_capacity": "peak capacity",
    "tailing": "tailing at 5 %",
    "resolution": "resolution",
    "pressure": "pressure",
}
DIGITS = 4
"""Of a figure, at most."""
COLUMNS = ("step", "change", "of", "figure", "unit", "value", "low", "high")
"""Of the CSV file."""


def expected_table(improvement):
    """What to measure after each step, and between which bounds.

    Parameters
    ----------
    improvement : Improvement
        With ``expected``.

    Returns
    -------
    Table
    """
    head = (
        ("after step", ""),
        ("of", ""),
        ("figure", ""),
        ("expected", ""),
        ("within", ""),
    )
    rows, last = [], None
    for row in improvement.expected.rows:
        step = improvement.steps[row.step]
        name = f"{step.number} {step.change}" if step.number else "0 as it is"
        rows.append(("" if row.step == last else name, row.of, *spelled(row)))
        last = row.step
    return Table("What a measurement should show", head, tuple(rows))


def basis_line(improvement) -> str:
    """What the bands of the expected figures hold, and how to read a figure outside its own."""
    basis = f"The band of the expected figures is {improvement.expected.basis}."
    if tomllib.loads(improvement.scenario.text).get("uncertain"):
        return (
            f"{basis} What is not called uncertain counts as exact: judge retention and pressure "
            "by what changes from step to step."
        )
    return (
        f"{basis} Measured figures will lie outside it: judge by what changes from step to step, "
        "or say in [[uncertain]] how well the instrument is known."
    )


def spelled(row):
    """Name, value and band of an Expectation as text, in the trade's units; returns 3 str.

    The band is rounded outward.
    """
    name = WORDS.get(row.figure, row.figure.replace("_", " "))
    if row.unit == "Pa":
        return name, show(row.value, "pressure", 3), _band(row, "pressure")
    unit = "" if row.unit in ("", "1") else f" {row.unit}"
    place = _place(row)
    value = _at(row.value, place, round)
    low, high = _at(row.low, place, math.floor), _at(row.high, place, math.ceil)
    return name, f"{value}{unit}", f"{low} to {high}{unit}"


def _place(row):
    """Decimals: two digits of the band, at most four of the figure: a bench reads no more."""
    band = max(row.high - row.value, row.value - row.low)
    most = DIGITS - 1 - math.floor(math.log10(abs(row.value) or 1))
    return min(most, 1 - math.floor(math.log10(band))) if band > 0 else most


def _at(value, decimals, to):
    """A number rounded to a place, one before the point where ``decimals`` is negative."""
    # A last bit too much must not move the rounded number on by one.
    steps = to(round(value * 10.0**decimals, 6))
    return f"{steps / 10.0**decimals:.{max(decimals, 0)}f}"


def _band(row, kind):
    low, high = show(row.low, kind, 3), show(row.high, kind, 3)
    if low == high:
        return low
    if low.partition(" ")[2] == high.partition(" ")[2]:
        low = low.partition(" ")[0]
    return f"{low} to {high}"


def expected_csv(improvement):
    """The same as text of a CSV file with a head line; RFC 4180 but for its line ends."""
    sink = io.StringIO()
    writer = csv.DictWriter(sink, COLUMNS, lineterminator="\n")
    writer.writeheader()
    writer.writerows(
        {key: "" if value is None else _harmless(value) for key, value in row.items()}
        for row in expected_rows(improvement)
    )
    return sink.getvalue()


def _harmless(value):
    """A text that a spreadsheet would take for a formula, marked as text."""
    if isinstance(value, str) and value.startswith(("=", "+", "-", "@", "\t")):
        return "'" + value
    return value
