"""The tables of a tolerance study as xarray, and the figures of its samples."""

import re
from dataclasses import dataclass

import numpy as np
import xarray

from tailrace.records.rows import THERE, as_columns, as_rows
from tailrace.records.sweep_record import GROUPS
from tailrace.records.vocabulary import PRESSURE, attributes
from tailrace.studies.tolerance.result import Acceptance, Indices, Widened, Widening

PLAIN = re.compile(
    "probability|confidence|accepted|refused|undecided|samples|acceptance|fresh|scale|risk|lower|"
    "upper|allowed|content|required|size|batches|digits|reached|misleads"
)
"""Columns that are shares, counts or answers: their unit is 1 whatever is followed."""


INDICES = {
    "first": "Sobol' index of first order",
    "first_low": "low end of the interval of the first-order index",
    "first_high": "high end of the interval of the first-order index",
    "total": "total Sobol' index",
    "total_low": "low end of the interval of the total index",
    "total_high": "high end of the interval of the total index",
}


@dataclass(frozen=True)
class Tried:
    """A scale that was simulated, as a row."""

    scale: float
    acceptance: Acceptance


def table(rows, dimension, leave=(), **inner) -> xarray.Dataset:
    """Lay frozen records out as a table with a variable for each of their figures.

    Parameters
    ----------
    rows : sequence of dataclass instances
    dimension : str
        Along which the rows lie.
    leave : sequence of str
        Fields that are left out.
    **inner : str
        Dimensions of fields that hold arrays, where these have a name elsewhere in the tree.

    Returns
    -------
    xarray.Dataset
    """
    variables = {}
    for column in as_columns(rows, leave):
        behind = [
            inner.get(column.name, f"{column.name}_{axis}")
            for axis in range(column.values.ndim - 1)
        ]
        variables[column.name] = ((dimension, *behind), column.values, _told(column))
    return xarray.Dataset(variables)


def read_table(group, leave="") -> dict:
    """Columns of a table (xarray.Dataset or DataTree), dict of str to array."""
    return {
        str(name): _plain(variable.values)
        for name, variable in group.data_vars.items()
        if name != leave
    }


def figures_of_samples(figures, itinerary) -> xarray.Dataset:
    """All that was computed of every sample, under the names that sweeps use.

    Parameters
    ----------
    figures : dict of str to array
        As of ``tailrace.studies.lanes.metrics_of``.
    itinerary : Itinerary
        Of the scenario: for the names of its parts.

    Returns
    -------
    xarray.Dataset
        Along ``sample``, ``solute`` and ``part``.
    """
    parts = [part for part, _ in itinerary.passages]
    variables = {}
    for key, values in figures.items():
        group, _, name = key.partition("/")
        if group in GROUPS:
            form, vocabulary, meaning, behind = GROUPS[group]
            attrs = attributes(vocabulary, name)
            attrs["long_name"] = meaning.format(attrs["long_name"])
            variables[form.format(name)] = (("sample", *behind), values, attrs)
    for key, name in (("total", "pressure"), ("cell_inlet", "pressure_cell_inlet")):
        variables[name] = ("sample", figures[f"pressure/{key}"], attributes(PRESSURE, key))
    names = np.array([part.name for part in parts], dtype=object)
    kinds = np.array([part.kind for part in parts], dtype=object)
    coordinates = {
        "part": ("part", names, {"units": "", "long_name": "part of the path, in order"}),
        "kind": ("part", kinds, {"units": "", "long_name": "kind of part"}),
    }
    return xarray.Dataset(variables, coordinates)


def indices_group(found) -> xarray.Dataset:
    """Sobol' indices (Indices) along ``outcome`` and ``input``."""
    variables = {
        name: (("outcome", "input"), getattr(found, name), _named(meaning, "1"))
        for name, meaning in INDICES.items()
    }
    coordinates = {
        "outcome": ("outcome", np.array(found.outcomes, dtype=object), _named("figure")),
        "input": ("input", np.array(found.inputs, dtype=object), _named("uncertain input")),
    }
    attrs = {name: getattr(found, name) for name in ("confidence", "base", "remark")}
    return xarray.Dataset(variables, coordinates, attrs)


def read_indices(record) -> Indices | None:
    """Read them out of a record (xarray.DataTree); None where it has none."""
    if "indices" not in record.children:
        return None
    group = record["indices"]
    return Indices(
        inputs=tuple(map(str, group["input"].values)),
        outcomes=tuple(map(str, group["outcome"].values)),
        confidence=float(group.attrs["confidence"]),
        base=int(group.attrs["base"]),
        remark=str(group.attrs["remark"]),
        **{name: group[name].values for name in INDICES},
    )


def widening_groups(widenings) -> dict:
    """Datasets by the path of their group: the widenings, and in long form the inputs of each
    and the scales tried."""
    places = [index for index, one in enumerate(widenings) for _ in one.inputs]
    inputs = table([one for widening in widenings for one in widening.inputs], "input")
    tried = [Tried(*one) for widening in widenings for one in widening.tried]
    steps = [index for index, one in enumerate(widenings) for _ in one.tried]
    told = _named("row of the table of widenings to which it belongs", "1")
    groups = {
        "/widenings": table(widenings, "widening", leave=("inputs", "tried")),
        "/widenings/inputs": inputs.assign(widening_row=("input", places, told)),
    }
    if tried:
        groups["/widenings/tried"] = table(tried, "step").assign(widening_row=("step", steps, told))
    return groups


def read_widenings(record) -> tuple[Widening, ...]:
    """Read them out of a record (xarray.DataTree)."""
    if "widenings" not in record.children:
        return ()
    group = record["widenings"]
    inputs = as_rows(Widened, read_table(group["inputs"], leave="widening_row"))
    own = group["inputs"]["widening_row"].values
    tried, steps = (), ()
    if "tried" in group.children:
        tried = as_rows(Tried, read_table(group["tried"], leave="widening_row"))
        steps = group["tried"]["widening_row"].values
    given = [
        {
            "inputs": tuple(one for one, row in zip(inputs, own, strict=True) if row == index),
            "tried": tuple(
                (one.scale, one.acceptance)
                for one, row in zip(tried, steps, strict=True)
                if row == index
            ),
        }
        for index in range(group.sizes["widening"])
    ]
    return as_rows(Widening, read_table(group), given)


def _named(meaning, units=""):
    return {"units": units, "long_name": meaning}


def _told(column):
    meaning = column.name.removeprefix(THERE).replace("_", " ")
    if column.name.startswith(THERE):
        return {"units": "1", "long_name": f"1 where there is: {meaning}"}
    if column.values.dtype == object:
        return {"units": "", "long_name": meaning}
    if column.values.dtype.kind == "f" and PLAIN.search(column.name) is None:
        return {"units": "", "long_name": meaning, "comment": "in the unit named in the same row"}
    return {"units": "1", "long_name": meaning}


def _plain(values):
    return (
        np.array([str(one) for one in values], dtype=object) if values.dtype == object else values
    )
