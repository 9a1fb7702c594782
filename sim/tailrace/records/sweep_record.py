"""A sweep as one xarray Dataset with units, and to HDF5 and back."""

from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np
import xarray

from tailrace.measures.registry import CAPACITY, PLATES
from tailrace.quantities.kinds import KINDS
from tailrace.records.atomic import replacing
from tailrace.records.provenance import Provenance
from tailrace.records.store import read_tree
from tailrace.records.vocabulary import MEASURES, PARTS, PRESSURE, SIGNAL, attributes
from tailrace.scenario.scenario import Scenario
from tailrace.studies.axes import Axis
from tailrace.studies.sweeping import Sweep, plan

KIND = "tailrace sweep"
LAYOUT = 1
"""Raised by one when a reader of the old layout would misread the new one."""

GROUPS = {
    "recorded": ("{}", MEASURES, "{}", ("solute",)),
    "numerical_error": ("{}_numerical_error", MEASURES, "discretisation error of: {}", ("solute",)),
    "column_alone": ("column_{}", MEASURES, "{}, column with an ideal injection", ("solute",)),
    "signal": ("{}", SIGNAL, "{}", ("solute",)),
    "parts": ("part_{}", PARTS, "{}", ("part", "solute")),
}
"""Group of metrics: names of its variables, vocabulary, meaning, dimensions behind the axes."""


def as_dataset(sweep: Sweep, provenance: Provenance) -> xarray.Dataset:
    """Lay a sweep out with a dimension for each axis; every variable says its unit.

    Parameters
    ----------
    sweep : Sweep
    provenance : Provenance

    Returns
    -------
    xarray.Dataset
        Coordinates: each axis by the name of its field (``inlet_tube.length``; in its attributes
        as it was written, and the kind of ``quantity``), ``solute``, ``part`` and ``kind``. Where
        the fields changed in step they lie along one dimension, ``case``. Recorded measures and
        signals go by their own names, with ``_numerical_error`` for how far they can be trusted;
        ``column_…``, ``part_…`` and ``pressure…`` beside them; ``kept_fraction`` is recorded
        plates (with a gradient the peak capacity) over those of the column alone. NaN where
        ``computed`` is 0; ``warnings`` says why.
    """
    names = _names(sweep.plan.axes)
    dimensions = ["case"] if sweep.plan.together else names
    variables: dict[str, Any] = {}
    for key, values in sweep.metrics.items():
        group, _, name = key.partition("/")
        if group not in GROUPS:
            continue
        form, vocabulary, meaning, behind = GROUPS[group]
        attrs = attributes(vocabulary, name)
        attrs["long_name"] = meaning.format(attrs["long_name"])
        whole = values.reshape(*sweep.shape, *values.shape[1:])
        variables[form.format(name)] = ((*dimensions, *behind), whole, attrs)
    variables |= _of_cases(sweep, dimensions)
    dataset = xarray.Dataset(variables, _coordinates(sweep, dimensions, names))
    if f"column_{PLATES}" in dataset:
        name, what = PLATES, "plates"
        if CAPACITY in dataset:
            name, what = CAPACITY, "peak capacity"
        kept = dataset[name] / dataset[f"column_{name}"]
        attrs = {"units": "1", "long_name": f"{what} recorded, over those of the column alone"}
        dataset["kept_fraction"] = kept.assign_attrs(attrs)
    about = {"kind": KIND, "layout": LAYOUT, "together": int(sweep.plan.together)}
    about["axes"] = "\n".join(names)
    texts = asdict(provenance)
    texts["assumptions"] = "\n".join(" ".join(one.split()) for one in provenance.assumptions)
    return dataset.assign_attrs(about | texts)


def _of_cases(sweep: Sweep, dimensions: list[str]) -> dict[str, Any]:
    """What a case has once for all solutes."""
    metrics, variables = sweep.metrics, dict[str, Any]()
    drops = {"total": "pressure", "cell_inlet": "pressure_cell_inlet"}
    for key, name in drops.items():
        values = metrics[f"pressure/{key}"].reshape(sweep.shape)
        variables[name] = (dimensions, values, attributes(PRESSURE, key))
    # Neither injector nor detector has a pressure drop: with NaN there one list of parts will do.
    on_path = [part.carries_flow for part in sweep.parts]
    drop = np.full((len(metrics["computed"]), len(on_path)), np.nan)
    drop[:, on_path] = metrics["pressure/drop"]
    drop = drop.reshape(*sweep.shape, -1)
    variables["part_pressure_drop"] = ((*dimensions, "part"), drop, attributes(PRESSURE, "drop"))
    computed = metrics["computed"].reshape(sweep.shape).astype(np.int8)
    said = {"units": "1", "long_name": "1 where the case could be computed"}
    variables["computed"] = (dimensions, computed, said)
    warnings = metrics["warnings"].reshape(sweep.shape).astype(object)
    said = {"units": "", "long_name": "warnings, one a line"}
    variables["warnings"] = (dimensions, warnings, said)
    return variables


def _coordinates(sweep: Sweep, dimensions: list[str], names: list[str]) -> dict[str, Any]:
    coordinates = {
        "solute": ("solute", np.array(sweep.solutes, dtype=object), _said("solute")),
        "part": (
            "part",
            np.array([part.name for part in sweep.parts], dtype=object),
            _said("part of the path, in order"),
        ),
        "kind": (
            "part",
            np.array([part.kind for part in sweep.parts], dtype=object),
            _said("kind of part"),
        ),
    }
    for one, name in zip(sweep.plan.axes, names, strict=True):
        values = one.values if one.unit else one.values.astype(object)
        dimension = dimensions[0] if sweep.plan.together else name
        said = _said(one.name, one.unit)
        if one.target.kind in KINDS:
            said["quantity"] = one.target.kind
        coordinates[name] = (dimension, values, said)
    return coordinates


def _said(meaning: str, units: str = "") -> dict[str, str]:
    return {"units": units, "long_name": meaning}


def _names(axes: Sequence[Axis]) -> list[str]:
    """Names that HDF5 and netCDF allow, one an axis: no slash, no space."""
    names = []
    for one in axes:
        name = one.name.replace("/", "_").replace(" ", "_")
        while name in names:
            name += "_"
        names.append(name)
    return names


def as_sweep(dataset: xarray.Dataset, scenario: Scenario) -> Sweep:
    """Read a sweep back; the scenario is that of its text.

    Raises
    ------
    TailraceError
        Where the scenario has no such fields.
    """
    varied = [_varied(dataset[name]) for name in dataset.attrs["axes"].split("\n")]
    asked = plan(scenario, varied, bool(dataset.attrs["together"]))
    depth = dataset["computed"].ndim
    found = {"computed": dataset["computed"].astype(bool), "warnings": dataset["warnings"]}
    for group, (form, vocabulary, _, _) in GROUPS.items():
        for name in vocabulary:
            if form.format(name) in dataset:
                found[f"{group}/{name}"] = dataset[form.format(name)]
    on_path = [part.carries_flow for part, _ in asked.itineraries[0].passages]
    found["pressure/total"] = dataset["pressure"]
    found["pressure/cell_inlet"] = dataset["pressure_cell_inlet"]
    found["pressure/drop"] = dataset["part_pressure_drop"].isel(part=np.flatnonzero(on_path))
    metrics = {
        key: one.values.reshape(-1, *one.shape[depth:]) for key, one in sorted(found.items())
    }
    return Sweep(plan=asked, metrics=metrics)


def _varied(axis: xarray.DataArray) -> str:
    """An axis as it is asked for: the shortest digits that give these floats, in SI."""
    unit = axis.attrs["units"].replace("1", "") if axis.dtype.kind == "f" else ""
    values = (f"{one!r} {unit}".strip() if unit or axis.dtype.kind == "f" else str(one)
              for one in axis.values.tolist())  # fmt: skip
    return f"{axis.attrs['long_name']} = {', '.join(values)}"


def write_sweep(path: str | Path, dataset: xarray.Dataset) -> None:
    """Write a sweep; the same sweep gives the same bytes.

    Parameters
    ----------
    path : str or Path
        Replaced as a whole once the new file is complete on disk.
    dataset : xarray.Dataset

    Raises
    ------
    OSError
        Where the folder is missing or cannot be written.
    """
    with replacing(path) as aside:
        dataset.to_netcdf(aside, engine="h5netcdf")


def read_sweep(path: str | Path) -> xarray.Dataset:
    """Read a sweep into memory.

    Parameters
    ----------
    path : str or Path

    Returns
    -------
    xarray.Dataset
        Identical to the one that was written.

    Raises
    ------
    RecordError
        Where the file is missing, damaged, not a sweep, or of a layout unknown here.
    """
    return read_tree(path, "sweep", KIND, LAYOUT, ()).to_dataset()
