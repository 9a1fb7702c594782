"""Ten changes as twenty are computed, against all 3,628,800 orders and each combination alone."""

import numpy as np
import pytest
from reference.improving import START, loaded

from tailrace.journey.product import multiply
from tailrace.measures.registry import PLATES_OWN
from tailrace.studies.cases import joined
from tailrace.studies.improving import branches
from tailrace.studies.improving.solve import improve

OUTLET = '[[path]]\nname = "outlet tube"\npart = "tube"\nbore = "0.17 mm"\nlength = "200 mm"\n'
CELL = '[[path]]\nname = "flow cell"'
CHANGES = (
    ("inlet tube", "bore", "0.12 mm"),
    ("inlet tube", "length", "150 mm"),
    ("joint", "gap_length", "0.05 mm"),
    ("joint", "gap_bore", "0.5 mm"),
    ("column", "plates", "11000"),
    ("outlet tube", "bore", "0.13 mm"),
    ("outlet tube", "length", "90 mm"),
    ("flow cell", "volume", "2.5 uL"),
    ("detector", "time_constant", "0.1 s"),
    ("injection", "volume", "2 uL"),
)
COUNT = len(CHANGES)


def quoted(value):
    return value if value.isdigit() else f'"{value}"'


def orders(members):
    """All orders of some bits, (orders, bits) array, by insertion."""
    found = np.array([[members[0]]], dtype=np.int32)
    for bit in members[1:]:
        found = np.concatenate(
            [np.insert(found, place, bit, axis=1) for place in range(found.shape[1] + 1)]
        )
    return found


def test_ten_changes_have_the_order_and_the_shares_of_all_orders(tmp_path, monkeypatch):
    monkeypatch.setattr(branches, "MANY", 512)
    start = START.replace(CELL, OUTLET + CELL)
    text = "\n".join(
        f'[[changes]]\nname = "{at}"\nset = {{ "{name}" = {{ {key} = {quoted(value)} }} }}'
        for at, (name, key, value) in enumerate(CHANGES)
    )
    result = improve(loaded(tmp_path, text, start=start))
    assert not result.orders_sampled and len(result.combinations.value) == 1 << COUNT

    plain = loaded(tmp_path, start=start)
    alone = []
    for bits in range(1 << COUNT):
        made = [one for at, one in enumerate(CHANGES) if bits >> at & 1]
        fields = {f"{name}.{key}": float(v) if v.isdigit() else v for name, key, v in made}
        alone.append(plain.changed(fields).itinerary() if fields else plain.itinerary())
    sevens = [joined(alone[at : at + 7]) for at in range(0, len(alone), 7)]
    plates = np.concatenate([multiply(one).recorded[PLATES_OWN] for one in sevens])
    rows = [sum(1 << int(name) for name in result.names(row)) for row in range(1 << COUNT)]
    assert result.combinations.value == pytest.approx(plates[rows], rel=1e-6)

    worth = [
        max(plates[some] for some in range(bits + 1) if some & bits == some)
        for bits in range(1 << COUNT)
    ]
    worth = np.array(worth) - plates[0]
    every = orders(range(COUNT))
    before = np.cumsum(1 << every, axis=1) - (1 << every)
    added = worth[before | 1 << every] - worth[before]
    shares = np.bincount(every.ravel(), added.ravel(), COUNT) / len(every)
    found = [next(one.share for one in result.changes if one.name == str(k)) for k in range(COUNT)]
    assert found == pytest.approx(shares, abs=1e-5 * worth.max())

    taken = tuple(int(name) for name in result.steps[-1].taken)
    of_them = orders(sorted(taken))
    ahead = np.cumsum(1 << of_them, axis=1) - (1 << of_them)
    areas = plates[ahead].sum(axis=1)
    assert plates[sum(1 << bit for bit in taken)] >= plates.max() * (1 - 1e-4)
    assert tuple(of_them[np.argmax(areas)]) == taken
