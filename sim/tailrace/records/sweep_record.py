"""A sweep as one xarray Dataset with units, and back."""

import math
from collections.abc import Collection, Sequence
from functools import partial
from pathlib import Path
from typing import Any

import h5netcdf
import numpy as np
import xarray

from tailrace.journey.result import PartResult
from tailrace.measures.registry import PLATES, SIGNALS, leading, of_peaks
from tailrace.quantities.described import descriptions
from tailrace.quantities.kinds import KINDS
from tailrace.records.provenance import Provenance
from tailrace.records.record import attributes_of
from tailrace.records.slabs import chunks, slabs
from tailrace.records.store import More
from tailrace.scenario.scenario import Scenario
from tailrace.studies.axes import Axis
from tailrace.studies.batch import Metrics
from tailrace.studies.metrics import DROP, description_of
from tailrace.studies.neighbours import NEIGHBOURLY, NEXT, NEXT_ERROR
from tailrace.studies.stored import Stored
from tailrace.studies.sweeping import MANY, Sweep, plan

KIND = "tailrace sweep"
CELLS = 1 << 14
"""Of a block of a file that is written block by block."""

GROUPS: dict[str, tuple[str, Collection[str]]] = {
    "recorded": ("{}", of_peaks()),
    "numerical_error": ("{}_numerical_error", of_peaks()),
    "column_alone": ("column_{}", of_peaks()),
    "signal": ("{}", SIGNALS),
    NEXT: ("resolution_{}", NEIGHBOURLY),
    NEXT_ERROR: ("resolution_{}_numerical_error", NEIGHBOURLY),
    "parts": ("part_{}", descriptions(PartResult)),
}
"""Group of metrics: names of its variables, and of what."""
PRESSURES = {
    "total": "pressure",
    "cell_inlet": "pressure_cell_inlet",
    "highest": "pressure_highest",
    "highest_at_cell": "pressure_highest_at_cell",
    DROP: "part_pressure_drop",
}


def as_dataset(sweep: Sweep, provenance: Provenance) -> xarray.Dataset:
    """Lay a sweep out with a dimension for each axis; every variable says its unit.

    Coordinates: each axis by the name of its field (``inlet_tube.length``; in its attributes as it
    was written, and the kind of ``quantity``), ``solute``, ``part`` and ``kind``. Where the fields
    changed in step they lie along one dimension, ``case``. Recorded measures and signals go by
    their own names, with ``_numerical_error`` for how far they can be trusted; ``resolution_…`` of
    each solute and the next to elute (NaN for the last), ``column_…``,
    ``part_…`` and ``pressure…`` beside them; ``kept_fraction`` is recorded plates (with a gradient
    the peak capacity) over those of the column alone. NaN where ``computed`` is 0; ``warnings``
    says why.
    """
    names = _names(sweep.plan.axes)
    dimensions = ["case"] if sweep.plan.together else names
    variables: dict[str, Any] = {}
    for key, values in sweep.metrics.items():
        name, behind = _placed(key)
        if name:
            whole = values.reshape(*sweep.shape, *values.shape[1:])
            variables[name] = ((*dimensions, *behind), whole, _attrs(key))
    variables |= _of_cases(sweep, dimensions)
    dataset = xarray.Dataset(variables, _coordinates(sweep, dimensions, names))
    if f"column_{PLATES}" in dataset:
        row = leading(set(map(str, dataset)))
        kept = dataset[row.name] / dataset[f"column_{row.name}"]
        meaning = f"{row.label} recorded, over those of the column alone"
        attrs = {"units": "1", "long_name": meaning}
        dataset["kept_fraction"] = kept.assign_attrs(attrs)
    about = {"together": int(sweep.plan.together), "axes": "\n".join(names)}
    return dataset.assign_attrs(attributes_of(KIND, provenance) | about)


def _placed(key: str) -> tuple[str, list[str]]:
    """The variable of a metric that has one for itself, and its dimensions behind the cases."""
    group, _, name = key.partition("/")
    if group not in GROUPS:
        return PRESSURES.get(name, "") if group == "pressure" and name != DROP else "", []
    return GROUPS[group][0].format(name), [*description_of(key).along[1:]]


def stored_part(sweep: Sweep) -> More | None:
    """What ``as_dataset`` lacks because it is stored and not in memory, written block by block."""
    stored = sweep.stored
    if stored is None:
        return None
    kinds = {
        key: one
        for key, one in stored.rows(0, 1).items()
        if key not in sweep.metrics and _placed(key)[0]
    }
    nbytes = math.prod(sweep.shape) * sum(one.nbytes for one in kinds.values())
    return More(nbytes, partial(_write_stored, sweep, stored, kinds))


def _write_stored(sweep: Sweep, stored: Stored, kinds: Metrics, path: Path) -> None:
    """Add metrics to the file of a sweep; ``kinds``: each of one cell."""
    dimensions = ["case"] if sweep.plan.together else _names(sweep.plan.axes)
    packed = {"compression": "gzip", "compression_opts": 4, "shuffle": True, "fillvalue": np.nan}
    with h5netcdf.File(path, "a") as file:
        variables = {}
        for key, one in kinds.items():
            name, behind = _placed(key)
            whole = (*chunks(sweep.shape, CELLS), *one.shape[1:])
            variable = file.create_variable(
                name, (*dimensions, *behind), one.dtype, chunks=whole, **packed
            )
            variable.attrs.update(_attrs(key))
            variables[key] = variable
        first = 0
        for slab, count in slabs(sweep.shape, CELLS):
            found = stored.rows(first, first + count)
            along = [one.stop - one.start for one in slab if isinstance(one, slice)]
            for key, one in kinds.items():
                values = found.get(key, np.full((count, *one.shape[1:]), np.nan))
                shape = (*along, *sweep.shape[len(slab) :], *one.shape[1:])
                variables[key][slab] = values.reshape(shape)
            first += count


def _attrs(key: str) -> dict[str, str]:
    description = description_of(key)
    return {"units": str(description.unit), "long_name": description.meaning}


def _of_cases(sweep: Sweep, dimensions: list[str]) -> dict[str, Any]:
    """What a case has once for all solutes."""
    metrics, variables = sweep.metrics, dict[str, Any]()
    # Neither injector nor detector has a pressure drop: with NaN there one list of parts will do.
    on_path = [part.carries_flow for part in sweep.parts]
    drop = np.full((len(metrics["computed"]), len(on_path)), np.nan)
    if f"pressure/{DROP}" in metrics:
        drop[:, on_path] = metrics[f"pressure/{DROP}"]
    for key, name in PRESSURES.items():
        if f"pressure/{key}" not in metrics:
            continue
        values, behind = (drop, ["part"]) if key == DROP else (metrics[f"pressure/{key}"], [])
        whole = values.reshape(*sweep.shape, *values.shape[1:])
        variables[name] = ((*dimensions, *behind), whole, _attrs(f"pressure/{key}"))
    computed = metrics["computed"].reshape(sweep.shape).astype(np.int8)
    description = {"units": "1", "long_name": "1 where the case could be computed"}
    variables["computed"] = (dimensions, computed, description)
    if len(metrics["warnings"]) > MANY and not metrics["warnings"].any():
        return variables
    warnings = metrics["warnings"].reshape(sweep.shape).astype(object)
    description = {"units": "", "long_name": "warnings, one a line"}
    variables["warnings"] = (dimensions, warnings, description)
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
        description = _said(one.name, one.unit)
        if one.target.kind in KINDS:
            description["quantity"] = one.target.kind
        coordinates[name] = (dimension, values, description)
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

    Raises TailraceError where the scenario has no such fields.
    """
    varied = [_varied(dataset[name]) for name in dataset.attrs["axes"].split("\n")]
    asked = plan(scenario, varied, bool(dataset.attrs["together"]))
    depth = dataset["computed"].ndim
    found = {"computed": dataset["computed"].astype(bool)}
    quiet = xarray.zeros_like(dataset["computed"]).astype(str).str.replace("0", "")
    found["warnings"] = dataset.get("warnings", quiet)
    for group, (form, names) in GROUPS.items():
        for name in names:
            if form.format(name) in dataset:
                found[f"{group}/{name}"] = dataset[form.format(name)]
    on_path = [part.carries_flow for part, _ in asked.itineraries[0].passages]
    for key, name in PRESSURES.items():
        if name in dataset:
            found[f"pressure/{key}"] = dataset[name]
    along = np.flatnonzero(on_path)
    if f"pressure/{DROP}" in found:
        found[f"pressure/{DROP}"] = found[f"pressure/{DROP}"].isel(part=along)
    for name in ("computed", "warnings"):  # which every reader asks for
        found[name] = found[name].load()
    metrics = {key: one.data.reshape(-1, *one.shape[depth:]) for key, one in sorted(found.items())}
    return Sweep(plan=asked, metrics=metrics)


def _varied(axis: xarray.DataArray) -> str:
    """An axis as it is asked for: the shortest digits that give these floats, in SI."""
    unit = axis.attrs["units"].replace("1", "") if axis.dtype.kind == "f" else ""
    values = (f"{one!r} {unit}".strip() if unit or axis.dtype.kind == "f" else str(one)
              for one in axis.values.tolist())  # fmt: skip
    return f"{axis.attrs['long_name']} = {', '.join(values)}"
