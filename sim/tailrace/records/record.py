"""A result and its provenance as one xarray tree, and back."""

import re
from dataclasses import fields

import numpy as np
import xarray

from tailrace.journey.result import PartResult, Pressure, Result
from tailrace.records.cross_check import GROUP as CROSS_CHECK
from tailrace.records.cross_check import as_group
from tailrace.records.provenance import Provenance
from tailrace.records.separation import separation
from tailrace.records.vocabulary import (
    BAND,
    MEASURES,
    PARTS,
    PRESSURE,
    SEPARATION,
    SIGNAL,
    attributes,
)
from tailrace.signals.band import Band

KIND = "tailrace record"
GROUPS = ("parts", "signals", "recorded", "numerical_error", "pressure")
"""Of every record; ``column_alone`` only where the path has a column, ``detection`` (signal and
noise) where they were computed, ``resolution`` where there are neighbours, ``cross_check`` where
it was asked for."""

LAYOUT = 1
"""Raised by one when a reader of the old layout would misread the new one."""


def as_record(result, provenance, check=None):
    """Lay a result out as a tree whose every variable says its unit.

    Parameters
    ----------
    result : Result
    provenance : Provenance
    check : CrossCheck, optional

    Returns
    -------
    xarray.DataTree
        Groups ``parts``, ``signals`` (a group for each part), ``recorded``, ``numerical_error``,
        ``pressure``; where there is something to say ``column_alone``, ``detection``,
        ``resolution`` and ``cross_check``. The solutes are a coordinate of the root, so that
        every group has them.
    """
    groups = {
        "/": _root(result, provenance),
        "/parts": _parts(result),
        "/recorded": _measures(result.recorded, "{}"),
        "/numerical_error": _measures(result.numerical_error, "discretisation error of: {}"),
        "/pressure": _pressure(result.pressure),
    }
    for index, part in enumerate(result.parts):
        signal = _band(part.band).assign_attrs(part=part.name, kind=part.kind)
        groups[f"/signals/{_group_name(index, part.name)}"] = signal
    if result.column_alone is not None:
        alone = _measures(result.column_alone, "{}, column with an ideal injection")
        if result.column_band is not None:
            alone = alone.merge(_band(result.column_band))
        groups["/column_alone"] = alone
    if result.signal:
        groups["/detection"] = _measures(result.signal, "{}", SIGNAL)
    if len(result.lanes) > 1:
        groups["/resolution"] = _separation(separation(result))
    if check is not None:
        groups[f"/{CROSS_CHECK}"] = as_group(check)
    return xarray.DataTree.from_dict(groups)


def as_result(record):
    """Read a result back out of a record; a result is handed through as it is.

    Parameters
    ----------
    record : xarray.DataTree or Result

    Returns
    -------
    Result
    """
    if isinstance(record, Result):
        return record
    parts = record["parts"]
    signals = [record["signals"][name] for name in sorted(record["signals"].children)]
    alone = record.children.get("column_alone")
    return Result(
        lanes=tuple(str(name) for name in record["solute"].values),
        parts=tuple(
            PartResult(
                name=str(parts["part"].values[index]),
                kind=str(parts["kind"].values[index]),
                band=_as_band(signals[index]),
                **{name: parts[name].values[index] for name in PARTS if name in parts},
            )
            for index in range(parts.sizes["part"])
        ),
        recorded=_as_measures(record["recorded"]),
        column_alone=None if alone is None else _as_measures(alone),
        column_band=_as_band(alone) if alone is not None and "values" in alone else None,
        numerical_error=_as_measures(record["numerical_error"]),
        pressure=_as_pressure(record["pressure"]),
        warnings=_as_lines(record.attrs["warnings"]),
        signal=_as_measures(record["detection"]) if "detection" in record.children else {},
    )


def as_provenance(record):
    """Read the provenance back out of a record (xarray.DataTree); returns a Provenance."""
    # Older records do not name the libraries.
    told = {"libraries": ""} | record.attrs
    texts = {field.name: str(told[field.name]) for field in fields(Provenance)}
    return Provenance(**{**texts, "assumptions": _as_lines(texts["assumptions"])})


def _root(result, provenance):
    attrs = {
        "kind": KIND,
        "layout": LAYOUT,
        "title": provenance.title,
        "version": provenance.version,
        "libraries": provenance.libraries,
        "scenario_sha256": provenance.scenario_sha256,
        "scenario": provenance.scenario,
        "assumptions": "\n".join(_one_line(text) for text in provenance.assumptions),
        "warnings": "\n".join(_one_line(text) for text in result.warnings),
    }
    names = np.array(result.lanes, dtype=object)
    return xarray.Dataset(coords={"solute": _text("solute", names, "solute")}, attrs=attrs)


def _parts(result):
    names = np.array([part.name for part in result.parts], dtype=object)
    kinds = np.array([part.kind for part in result.parts], dtype=object)
    variables = {"kind": _text("part", kinds, "kind of part")}
    for name in PARTS:
        shape = (len(result.lanes),)
        rows = [np.broadcast_to(getattr(part, name), shape) for part in result.parts]
        rows = np.array(rows, dtype=float)
        variables[name] = (("part", "solute"), rows, attributes(PARTS, name))
    return xarray.Dataset(variables, {"part": _text("part", names, "part of the path, in order")})


def _measures(figures, meaning, vocabulary=MEASURES):
    variables = {}
    for name, values in figures.items():
        attrs = attributes(vocabulary, name)
        attrs["long_name"] = meaning.format(attrs["long_name"])
        variables[name] = ("solute", np.asarray(values, dtype=float), attrs)
    return xarray.Dataset(variables)


def _separation(pairs):
    variables = {
        name: ("pair", getattr(pairs, name), attributes(SEPARATION, name)) for name in SEPARATION
    }
    for name in ("first", "second"):
        names = np.array(getattr(pairs, name), dtype=object)
        variables[name] = _text("pair", names, f"{name} solute of the pair")
    return xarray.Dataset(variables)


def _pressure(pressure):
    names = np.array(list(pressure.parts), dtype=object)
    drops = np.array(list(pressure.parts.values()), dtype=float)
    variables = {
        "total": ((), float(pressure.total), attributes(PRESSURE, "total")),
        "cell_inlet": ((), float(pressure.cell_inlet), attributes(PRESSURE, "cell_inlet")),
        "drop": ("part", drops, attributes(PRESSURE, "drop")),
    }
    return xarray.Dataset(variables, {"part": _text("part", names, "part of the path, in order")})


def _band(band):
    sampled = ("solute", "sample")
    variables = {
        "values": (sampled, band.values, attributes(BAND, "values")),
        "start": ("solute", band.start, attributes(BAND, "start")),
        "step": ("solute", band.step, attributes(BAND, "step")),
    }
    return xarray.Dataset(variables, {"time": (sampled, band.times, attributes(BAND, "time"))})


def _text(dimension, values, meaning):
    return (dimension, values, {"units": "", "long_name": meaning})


def _group_name(index, name):
    """A name that HDF5 allows and that sorts in the order of the path: ``02 needle seat``."""
    return f"{index:03d} " + (re.sub(r"[^\w .+-]", "_", name).strip(" .") or "part")


def _one_line(text):
    return " ".join(str(text).split())


def _as_band(group):
    return Band(*(np.asarray(group[name].values) for name in ("values", "start", "step")))


def _as_measures(group):
    return {name: group[name].values for name in group.data_vars if name not in BAND}


def _as_pressure(group):
    drops = zip(group["part"].values, group["drop"].values, strict=True)
    return Pressure(
        total=float(group["total"]),
        parts={str(name): float(drop) for name, drop in drops},
        cell_inlet=float(group["cell_inlet"]),
    )


def _as_lines(text):
    return tuple(str(text).split("\n")) if text else ()
