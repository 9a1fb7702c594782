"""The codec: whatever is described comes back equal, with a unit on every number."""

import json
from dataclasses import dataclass, fields, is_dataclass

import h5py
import numpy as np
import pytest
import xarray

from tailrace.quantities.arrays import AnyArray, BoolArray, FloatArray, IntArray
from tailrace.quantities.described import Description, described
from tailrace.records.codec import as_tree, from_tree
from tailrace.records.layout import as_json
from tailrace.records.seal import seal_of
from tailrace.records.tree import tree_in, write_tree
from tailrace.signals import Band

NAN = float("nan")


@dataclass(frozen=True, kw_only=True)
class Ends:
    low: float = described("low end", lambda ends: "m")
    high: float = described("high end", "m")


@dataclass(frozen=True, kw_only=True)
class Row:
    name: str = described("name", "", names=True)
    unit: str = described("unit of the value", "")
    value: float = described("value", lambda row: row.unit)
    count: int | None = described("how many")
    lanes: FloatArray = described("one a lane", "s", along=("lane",))
    ends: Ends = described("ends")
    more: Ends | None = described("more ends")
    needs: tuple[str, ...] = described("what it needs", "", along=("need",))
    pair: tuple[float, float] = described("two numbers", "1")
    band: Band | None = described("band", along=("lane", "sample"))
    sub: tuple[Ends, ...] = described("ends of its own", along=("end",))


@dataclass(frozen=True, kw_only=True)
class Whole:
    lanes: tuple[str, ...] = described("lanes", "", along=("lane",), names=True)
    flag: bool = described("a flag")
    number: int = described("a number")
    size: float = described("a size", "m")
    text: str = described("a text", "")
    lines: tuple[str, ...] = described("no lines", "", along=("line",))
    rows: tuple[Row, ...] = described("rows", along=("row",))
    none: tuple[Row, ...] = described("no rows", along=("nothing",))
    taken: BoolArray = described("what is taken", along=("row", "lane"))
    places: IntArray = described("places", along=("row",))
    of: AnyArray = described("words", "", along=("row",))
    figures: dict[str, FloatArray] = described(
        "figures",
        entries=lambda key: Description(meaning=f"of {key}", unit="s", along=("lane",)),
    )
    drops: dict[str, float] = described("drops", "Pa", along=("part",))
    spreads: dict[str, Ends] = described("by kind")
    ties: tuple[tuple[int, ...], ...] = described("ties", "")
    undecided: frozenset[int] = described("undecided", "")
    ends: Ends | None = described("ends", default=None)
    hidden: object = None


def band(points=3):
    return Band(np.arange(2.0 * points).reshape(2, points), np.zeros(2), np.ones(2))


def row(name, unit="s", **more):
    about = {"value": 1.5, "count": None, "more": None, "needs": ("a", "b"), "pair": (1.0, NAN)}
    about |= {"lanes": np.array([1.0, NAN]), "ends": Ends(low=0.0, high=1.0), "band": None}
    about |= {"name": name, "unit": unit, "sub": ()}
    return Row(**{**about, **more})


def whole(**more):
    rows = (
        row("first", count=3, band=band(), sub=(Ends(low=1.0, high=2.0),) * 2),
        row("a/b", unit="Pa", more=Ends(low=NAN, high=5.0), needs=(), band=band(5)),
        row("first"),
    )
    about = {
        "lanes": ("x", "µ-acid"),
        "flag": True,
        "number": -7,
        "size": NAN,
        "text": "°C\n",
        "lines": (),
    }
    about |= {"rows": rows, "none": (), "lines": (), "taken": np.array([[True, False]] * 3)}
    about |= {"places": np.arange(3), "of": np.array(["p", "", "q"], dtype=object)}
    about |= {"figures": {"recorded/apex": np.array([1.0, 2.0]), "plain": np.array([NAN, 0.0])}}
    about |= {"drops": {"tube": 1.0, "a/b": NAN}, "spreads": {"k/1": Ends(low=0.0, high=9.0)}}
    about |= {"ties": ((1, 2), (), (4,)), "undecided": frozenset({2, 1})}
    return Whole(**{**about, **more})


def same(one, other):
    if is_dataclass(one):
        return type(one) is type(other) and all(
            same(getattr(one, field.name), getattr(other, field.name)) for field in fields(one)
        )
    if isinstance(one, np.ndarray):
        return one.dtype == other.dtype and np.array_equal(
            one, other, equal_nan=one.dtype.kind == "f"
        )
    if isinstance(one, dict):
        return one.keys() == other.keys() and all(same(one[key], other[key]) for key in one)
    if isinstance(one, tuple):
        return len(one) == len(other) and all(map(same, one, other))
    return type(one) is type(other) and (one == other or (one != one and other != other))


@pytest.mark.parametrize("more", [{}, {"ends": Ends(low=1.0, high=NAN)}], ids=["", "optional"])
def test_it_comes_back_equal(more):
    value = whole(**more)
    assert same(from_tree(Whole, as_tree(value)), value)


def test_it_comes_back_equal_from_a_file(tmp_path):
    value, one, other = whole(), tmp_path / "one.h5", tmp_path / "other.h5"
    write_tree(one, as_tree(value))
    as_tree(value).to_netcdf(other, engine="h5netcdf")
    with h5py.File(one) as file, h5py.File(other) as theirs:
        assert seal_of(file) == seal_of(theirs)
        assert same(from_tree(Whole, tree_in(file)), value)
    with xarray.open_datatree(one, engine="h5netcdf") as tree:
        assert same(from_tree(Whole, tree.load()), value)


def test_every_number_has_a_unit_and_rows_may_have_their_own():
    tree = as_tree(whole())
    for group in tree.subtree:
        for name, variable in group.dataset.variables.items():
            assert variable.attrs["long_name"], (group.path, name)
            assert variable.attrs["units"] or variable.dtype.kind in "OU", (group.path, name)
    table = tree["rows"].dataset
    assert table["value"].attrs["units"] != "s"
    assert table["value_units"].values.tolist() == ["s", "Pa", "s"]
    assert table["lanes"].dims == ("row", "lane")
    assert table["row"].values.tolist() == ["first", "a/b", "first"]


def test_a_number_without_a_unit_is_refused():
    @dataclass(frozen=True)
    class Bare:
        value: float = described("bare", "")

    with pytest.raises(ValueError, match="value: expected a unit"):
        as_tree(Bare(1.0))


def test_what_is_not_described_is_not_stored_and_may_be_given():
    value = whole(hidden="secret")
    tree = as_tree(value)
    assert "hidden" not in tree.to_dataset().variables
    assert from_tree(Whole, tree, {"hidden": "given"}).hidden == "given"


def test_a_field_that_is_missing_is_named():
    tree = as_tree(whole())
    del tree["number"]
    with pytest.raises(KeyError, match="number"):
        from_tree(Whole, tree)


def test_json_is_strict_and_by_the_same_fields():
    text = as_json(whole())
    assert json.loads(json.dumps(text, allow_nan=False)) == text
    assert text["size"] is None
    assert text["rows"][1]["more"] == {"low": None, "high": 5.0}
    assert "hidden" not in text
    assert "band" not in text["rows"][0]
