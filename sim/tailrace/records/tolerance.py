"""A tolerance study as one xarray tree with units, to HDF5 and back."""

import json
import re
from dataclasses import asdict

import numpy as np
import xarray

from tailrace.records.cross_check import GROUP as CROSS_CHECK
from tailrace.records.cross_check import as_cross_check, as_group
from tailrace.records.record import as_provenance
from tailrace.records.rows import as_rows
from tailrace.records.store import read_tree, write_tree
from tailrace.records.tolerance_study import TOLD, Input, Study
from tailrace.records.tolerance_tables import (
    figures_of_samples,
    indices_group,
    read_indices,
    read_table,
    read_widenings,
    table,
    widening_groups,
)
from tailrace.studies.tolerance.result import Acceptance, Check, Outcome, RegionMap, Stop

KIND = "tailrace tolerance"
LAYOUT = 1
"""Raised by one when a reader of the old layout would misread the new one."""

GROUPS = ("samples", "figures", "outcomes")
"""Of every file; the others only where they were asked for."""


def as_record(tolerance, provenance, check=None):
    """Lay a study out as a tree whose every variable says its unit.

    Parameters
    ----------
    tolerance : tailrace.studies.tolerance.result.Tolerance
    provenance : Provenance
    check : CrossCheck, optional

    Returns
    -------
    xarray.DataTree
        ``samples``: the inputs of every sample, each under the name of its field; ``figures``: all
        that was computed of every sample; ``outcomes``: what is followed, a row each, with the
        value of every sample; where there is something to say ``acceptance``, ``stop``,
        ``indices``, ``widenings`` (with ``inputs`` and ``tried``), ``maps``, ``qualification``,
        ``cross_check``. The solutes are a coordinate of the root.
    """
    scenario = tolerance.plan.scenario
    solutes = [one.name for one in scenario.document.solutes]
    coordinates = {"solute": ("solute", np.array(solutes, dtype=object), _told("solute"))}
    groups = {
        "/": xarray.Dataset(coords=coordinates, attrs=_about(tolerance, provenance)),
        "/samples": _samples(tolerance),
        "/figures": figures_of_samples(tolerance.figures, scenario.itinerary()),
        "/outcomes": table(tolerance.outcomes, "outcome", values="sample", errors="sample"),
    }
    for name, one in (("acceptance", tolerance.acceptance), ("stop", tolerance.stop)):
        if one is not None:
            groups[f"/{name}"] = table([one], "row")
    if tolerance.indices is not None:
        groups["/indices"] = indices_group(tolerance.indices)
    if tolerance.widenings:
        groups |= widening_groups(tolerance.widenings)
    for index, one in enumerate(tolerance.maps):
        groups[f"/maps/{index:03d}"] = table([one], "row")
    if tolerance.checks:
        groups["/qualification"] = table(tolerance.checks, "check")
    if check is not None:
        groups[f"/{CROSS_CHECK}"] = as_group(check)
    return xarray.DataTree.from_dict(groups)


def as_study(record) -> Study:
    """Read a study back out of a record (xarray.DataTree)."""
    attrs, given = record.attrs, record["samples"]
    outcomes = record["outcomes"]
    return Study(
        provenance=as_provenance(record),
        question=json.loads(attrs["question"]),
        solutes=tuple(str(name) for name in record["solute"].values),
        inputs=tuple(
            Input(values=given[name].values, **{key: given[name].attrs[key] for key in TOLD})
            for name in np.atleast_1d(given.attrs["inputs"])
        ),
        computed=given["computed"].values.astype(bool),
        outcomes=as_rows(Outcome, read_table(outcomes)),
        acceptance=_only(Acceptance, record, "acceptance"),
        stop=_only(Stop, record, "stop"),
        indices=read_indices(record),
        widenings=read_widenings(record),
        maps=tuple(
            as_rows(RegionMap, read_table(record["maps"][name]))[0]
            for name in sorted(record["maps"].children)
        )
        if "maps" in record.children
        else (),
        checks=as_rows(Check, read_table(record["qualification"]))
        if "qualification" in record.children
        else (),
        cautions=tuple(attrs["cautions"].split("\n")) if attrs["cautions"] else (),
        met=bool(attrs["met"]),
        check=as_cross_check(record),
    )


def write_tolerance(path, record):
    """Write a study (xarray.DataTree); the same study gives the same bytes. Raises OSError where
    the folder cannot be written."""
    packed = {"zlib": True, "complevel": 1, "shuffle": True}
    figures = record["figures"].dataset
    write_tree(path, record, {"/figures": dict.fromkeys(figures.data_vars, packed)})


def read_tolerance(path):
    """Read a study into memory; raises RecordError as ``store.read_record`` does.

    Returns
    -------
    xarray.DataTree
        Equal to the one that was written.
    """
    return read_tree(path, "tolerance", KIND, LAYOUT, GROUPS)


def _about(tolerance, provenance):
    texts = asdict(provenance)
    texts["assumptions"] = "\n".join(" ".join(one.split()) for one in provenance.assumptions)
    return {
        "kind": KIND,
        "layout": LAYOUT,
        **texts,
        "seed": tolerance.plan.seed,
        "generator": tolerance.plan.generator,
        "question": json.dumps(tolerance.plan.question),
        "cautions": "\n".join(" ".join(one.split()) for one in tolerance.cautions),
        "met": int(tolerance.met),
    }


def _samples(tolerance):
    """A variable for each input, and what is said once of every sample."""
    drawn, figures = tolerance.samples, tolerance.figures
    columns = (drawn.names, drawn.units, drawn.quantities, drawn.kinds, drawn.sentences)
    variables, names = {}, []
    values = drawn.values()
    for index, told in enumerate(zip(*columns, drawn.because, strict=True)):
        attrs = {"units": told[1], "long_name": told[0], **dict(zip(TOLD, told, strict=True))}
        names.append(_safe(told[0], (*names, "computed", "warnings")))
        variables[names[-1]] = ("sample", values[:, index], attrs)
    computed = figures["computed"].astype(np.int8)
    variables["computed"] = ("sample", computed, _told("1 where the sample could be computed", "1"))
    lines = figures["warnings"].astype(object)
    variables["warnings"] = ("sample", lines, _told("warnings, one a line"))
    return xarray.Dataset(variables, attrs={"inputs": names})


def _only(kind, record, name):
    return as_rows(kind, read_table(record[name]))[0] if name in record.children else None


def _safe(name, taken):
    """A name that HDF5 and netCDF allow."""
    safe = re.sub(r"[^\w.+-]", "_", name).strip(".") or "input"
    while safe in taken:
        safe += "_"
    return safe


def _told(meaning, units=""):
    return {"units": units, "long_name": meaning}
