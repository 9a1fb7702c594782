"""What the engine is told is what the program does."""

import json
import re
import zlib

import numpy as np
import pytest
from reference.tree import ROOT

from tailrace.parts.tube.spectrum import table
from tailrace.quantities.kinds import KINDS
from tailrace.quantities.parse import parse
from tailrace.scenario.model import PART_TABLES
from tailrace.web.assemble import as_json
from tailrace.web.bench_page import bench_page
from tailrace.web.facts import facts
from tailrace.web.rolled import BITS, SIGNS, as_text


def test_they_are_json_and_small_enough_for_a_page():
    assert json.loads(as_json(facts()))["contract"] == 1
    text = bench_page("title = 'a scenario'", "mine.toml")
    held = re.search(r'id="facts" data-bytes="(\d+)">([^<]+)<', text)
    deflated = bytes(bytes_of(held[2]))[: int(held[1])]
    assert json.loads(zlib.decompress(deflated)) == json.loads(as_json(facts()))


def test_the_bench_is_below_a_megabyte_with_the_largest_scenarios_in_it():
    shipped = sorted((ROOT / "scenarios").rglob("*.toml"), key=lambda one: one.stat().st_size)
    assert len(shipped) > 30
    for path in shipped[-8:]:
        assert len(bench_page(path.read_text("utf-8"), path.name).encode()) < 1_000_000


def test_every_field_of_every_part_is_told():
    for name, model in PART_TABLES.items():
        told = facts()["tables"][f"path.{name}"]["fields"]
        assert set(told) == set(model.model_fields)
    bore = facts()["tables"]["path.tube"]["fields"]["bore"]
    assert bore["kind"] == "bore"
    assert bore["examples"] == ["0.12 mm", "0.005 in"]
    tanks = facts()["tables"]["path.chamber"]["fields"]["tanks"]
    assert (tanks["kind"], tanks["low"], tanks["high"], tanks["default"]) == ("number", 1, 1000, 1)
    assert facts()["tables"]["path.tube"]["fields"]["heater"]["kind"] == "boolean"
    assert facts()["tables"]["path.tube"]["fields"]["bends"]["kind"] == "table"


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_units_are_those_that_the_program_reads(kind):
    units, prefixes = facts()["units"]["names"], facts()["units"]["prefixes"]
    for unit, size in KINDS[kind].units:
        # shares are read where a kind lists them
        if any(one in unit for one in "*/^%"):
            continue
        row = units.get(unit) or units[unit[1:]]
        scale = 1.0 if unit in units else prefixes[unit[0]]
        zero = row[8] if len(row) > 8 else 0.0
        assert scale * row[0] == pytest.approx(size)
        for example in KINDS[kind].examples:
            number, _, written = example.partition(" ")
            if written == unit:
                expected = pytest.approx(float(number) * scale * row[0] + zero)
                assert parse(example, kind) == expected


def bytes_of(text):
    pairs = np.reshape([SIGNS.index(one) for one in text], (-1, 2)) @ [len(SIGNS), 1]
    bits = "".join(f"{one:0{BITS}b}" for one in pairs)
    return [int(bits[n : n + 8], 2) for n in range(0, len(bits) - 7, 8)]


@pytest.mark.parametrize("size", [*range(15), 1000])
def test_bytes_come_back_from_text(size):
    packed = np.random.default_rng(size).bytes(size)
    assert bytes(bytes_of(as_text(packed)))[:size] == packed


def digits_of(text):
    """Whole numbers; a character of the upper half says that more follow."""
    found, value, size = [], 0, 1
    for digit in map(SIGNS.index, text):
        value, size = value + size * (digit % 45), size * 45
        if digit < 45:
            found.append(-(value + 1) // 2 if value % 2 else value // 2)
            value, size = 0, 1
    return found


def test_the_table_of_tubes_is_the_program_s():
    told = facts()["tube"]
    rows, columns, parts = told["shape"]
    packed = told["coefficients"]
    found = np.empty(told["shape"])
    found[:, :5] = np.reshape(packed["starts"], (rows, 5, parts))
    steps = np.reshape(digits_of(packed["steps"]), (rows, columns - 5, parts))
    for n, step in enumerate(steps.swapaxes(0, 1), start=5):
        a, b, c, d, e = found[:, n - 5 : n].swapaxes(0, 1)
        found[:, n] = 5 * (e - b) - 10 * (d - c) + a + step
    assert np.abs(found * packed["quantum"] - table()).max() < 3.1e-8
