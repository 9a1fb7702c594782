"""What is in a tube at given moments as one xarray Dataset with units, and to HDF5 and back."""

from dataclasses import asdict
from pathlib import Path

import h5py
import numpy as np
import xarray

from tailrace.records.atomic import replacing
from tailrace.records.store import RecordError

KIND = "tailrace field"
LAYOUT = 1
"""Raised by one when a reader of the old layout would misread the new one."""

NUMBERS = {
    "bore": ("m", "bore of the tube"),
    "tube_length": ("m", "length of the tube"),
    "residence": ("s", "mean time in the tube"),
    "fourier_number": ("1", "residence time over the radial diffusion time"),
    "flow_rate": ("m^3/s", "flow rate"),
}
"""Scalars: the tube, and what passes it."""


def as_dataset(plume, provenance=None):
    """Lay a plume out with named coordinates; every variable says its unit.

    Parameters
    ----------
    plume : tailrace.studies.plume.Plume
    provenance : Provenance, optional

    Returns
    -------
    xarray.Dataset
        ``concentration`` over ``time``, ``radius`` and ``length`` (middles of rings and sections;
        their edges are ``radius_bounds`` and ``length_bounds``, in the manner of the CF
        conventions). Each value is a mean over ring and section, over the amount injected, so that
        its sum with ``volume`` is ``amount_held``. ``amount_entered`` and ``amount_left`` beside
        it; ``inlet_signal`` and ``outlet_signal`` over times of their own; the tube as scalars.
    """
    variables = {
        "concentration": (
            ("time", "radius", "length"),
            plume.concentration,
            _told("1/m^3", "mean concentration in ring and section, over the amount injected"),
        ),
        "volume": (("radius", "length"), plume.volumes, _told("m^3", "volume of a ring's section")),
        "amount_entered": ("time", plume.entered, _told("1", "amount that has entered the tube")),
        "amount_held": ("time", plume.held, _told("1", "amount in the tube")),
        "amount_left": ("time", plume.left, _told("1", "amount that has left the tube")),
    }
    for end in ("inlet", "outlet"):
        band = getattr(plume, end)
        said = _told("1/s", f"flux-averaged signal at the {end}, amount per time over the amount")
        variables[f"{end}_signal"] = (f"{end}_time", band.values[0], said)
    values = {"tube_length": plume.length}
    for name, told in NUMBERS.items():
        variables[name] = ((), values.get(name) or getattr(plume, name), _told(*told))
    about = {"kind": KIND, "layout": LAYOUT, "part": plume.part, "solute": plume.solute}
    about |= {"title": plume.title, "method": METHOD} | _origin(provenance)
    return xarray.Dataset(variables, _coordinates(plume), about)


METHOD = (
    "laminar flow without diffusion along the tube; Legendre polynomials over the radius, Laplace "
    "transform over time; means over rings and sections in closed form"
)


def _told(units, meaning):
    return {"units": units, "long_name": meaning}


def _coordinates(plume):
    """Middles, with edges beside them."""
    since = "time from the start of the injection"
    coordinates = {"time": ("time", plume.times, _told("s", since))}
    axes = {
        "radius": (plume.radii, "distance from the axis"),
        "length": (plume.lengths, "distance from the inlet"),
    }
    for name, (edges, meaning) in axes.items():
        middles = (edges[:-1] + edges[1:]) / 2
        told = _told("m", meaning) | {"bounds": f"{name}_bounds"}
        coordinates[name] = (name, middles, told)
        pairs = np.stack([edges[:-1], edges[1:]], axis=1)
        coordinates[f"{name}_bounds"] = ((name, "edge"), pairs)  # by CF, of the axis's own unit
    for end in ("inlet", "outlet"):
        times = getattr(plume, end).times[0]
        told = _told("s", f"{since}, of the signal at the {end}")
        coordinates[f"{end}_time"] = (f"{end}_time", times, told)
    return coordinates


def _origin(provenance):
    if provenance is None:
        return {}
    texts = asdict(provenance)
    texts["assumptions"] = "\n".join(" ".join(one.split()) for one in provenance.assumptions)
    return texts


def write_fields(path, dataset):
    """Write a field; the same field gives the same bytes.

    Parameters
    ----------
    path : str or Path
        Replaced as a whole once the new file is complete on disk.
    dataset : xarray.Dataset
        Of ``as_dataset``.

    Raises
    ------
    OSError
        Where the folder is missing or cannot be written.
    """
    packed = {"concentration": {"zlib": True, "complevel": 4, "shuffle": True}}
    with replacing(path) as aside:
        dataset.to_netcdf(aside, engine="h5netcdf", encoding=packed)


def read_fields(path):
    """Read a field into memory.

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
        Where the file is missing, damaged, not a field, or of a layout unknown here.
    """
    path = Path(path)
    if not path.is_file() or not h5py.is_hdf5(path):
        found = "another kind of file" if path.is_file() else "nothing"
        raise RecordError(
            f"{path}: expected a field in HDF5, found {found}; name a file of `write_fields`"
        )
    try:
        with xarray.open_dataset(path, engine="h5netcdf", decode_times=False) as stored:
            dataset = stored.load()
    except (OSError, ValueError, KeyError, RuntimeError) as problem:
        raise RecordError(
            f"{path}: expected a complete field, found a damaged one ({type(problem).__name__}); "
            "write it again"
        ) from problem
    if dataset.attrs.get("kind") != KIND or int(dataset.attrs["layout"]) != LAYOUT:
        raise RecordError(
            f"{path}: expected a field of layout {LAYOUT}, found another file; write it again with "
            "this version"
        )
    return dataset
