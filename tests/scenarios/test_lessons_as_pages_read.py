"""What students read on a page, where a sheet tells its figures: the same to the digits told."""

from itertools import product

import pytest
from reference import javascript
from reference.lessons import (
    FOLDER,
    OWN,
    PLATES,
    SWEPT,
    TAILING,
    TOGETHER,
    WIDTH,
    labels,
    sheet,
    tables,
)

import tailrace
from tailrace.report.numbers import significant

pytestmark = pytest.mark.skipif(bool(javascript.missing()), reason=javascript.missing())
PAGE_DIGITS = 4


def read(scenario):
    """Figures of the first solute, as the page prints them."""
    (solute, *_) = javascript.engine()("answer", scenario.tables)["solutes"]
    known = {name: value for name, value in solute["metrics"].items() if value is not None}
    return {name: significant(value, PAGE_DIGITS) for name, value in known.items()}


def test_plates_of_the_next_instrument():
    drawing = tailrace.load(FOLDER / "tolerance.toml")
    gaps, first_order, ten, *_ = (rows[1:] for rows in tables(sheet("tolerance", "teacher")))
    fields = [one.partition(" = ")[0] for one in SWEPT["tolerance"][3]]
    for row in (*gaps, *ten):
        values = dict(zip(fields, row[0].split(", "), strict=False))
        assert read(drawing.changed(values))[OWN] == row[1], row
    for (text,), row in zip(SWEPT["tolerance"][1:3], (first_order[0], first_order[2]), strict=True):
        field, _, stops = text.partition(" = ")
        numbers, unit = stops.rsplit(maxsplit=1)
        for value, plates in zip(numbers.split(", ")[::2], row[1:3], strict=True):
            assert read(drawing.changed({field: f"{value} {unit}"}))[OWN] == plates
    for bore, gap in ((0.12, 0.98), (0.138, 0.52)):  # how long a gap may be at most
        pair = [
            read(drawing.changed({"inlet tube.bore": f"{bore} mm", "joint.gap_length": f"{x} mm"}))
            for x in (gap, gap + 0.01)
        ]
        assert float(pair[0][OWN]) >= 5950 > float(pair[1][OWN])
    told = " ".join(sheet("tolerance").read_text("utf-8").split())
    low, high = (int(one) for one in first_order[2][1:3])
    assert f"({low} - {high})/(0.1 uL) x 0.05 uL = {round((low - high) / 2)} plates" in told


def test_plates_and_tailings_of_the_bad_joint():
    joint = tailrace.load(FOLDER / "joint.toml")
    for name, _, _, plates, tailing in tables(sheet("joint", "teacher"))[0][1:]:
        *_, exchange = name.split()
        pocket = {"joint.unswept": 0.0}
        if exchange != "pocket":
            pocket = {"joint.unswept": 0.8, "joint.exchange": float(exchange)}
        found = read(joint.changed(pocket))
        assert found[TAILING] == tailing, name
        assert significant(float(found[OWN]), 3) == plates


def last_digit(text):
    return 10.0 ** -len(text.partition(".")[2])


SHAPES = [("bore", 0, 2), ("bore", 1, 2), ("bore", 2, 2), ("gaussian-fails", 0, 2)]


@pytest.mark.parametrize(("lesson", "at", "first"), SHAPES)
def test_peaks_behind_a_tube_to_a_unit_of_the_last_digit(lesson, at, first):
    """Of ``SWEPT``, which sweep; of the table's row, in which cell the figures begin."""
    tube = tailrace.load(FOLDER / f"{lesson}.toml")
    fields = [one.partition(" = ")[0] for one in SWEPT[lesson][at]]
    swept = [labels(lesson, at, field) for field in range(len(fields))]
    cases = zip(*swept, strict=True) if (lesson, at) in TOGETHER else product(*swept)
    table = at if lesson == "bore" else at + 1
    names = [WIDTH, PLATES, TAILING] if lesson == "bore" else [PLATES, TAILING]
    rows = tables(sheet(lesson, "teacher"))[table][1:]
    for case, row in zip(cases, rows, strict=True):
        found = read(tube.changed(dict(zip(fields, case, strict=True))))
        for name, told in zip(names, row[first:], strict=True):
            assert abs(float(found[name]) - float(told)) < 1.01 * last_digit(told), (case, name)
