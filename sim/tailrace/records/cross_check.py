"""Two independent solvers compared, as a group of a record and back."""

import numpy as np
import xarray

from tailrace.journey.verification import CrossCheck
from tailrace.records.vocabulary import MEASURES, attributes

GROUP = "cross_check"
"""Its name in a record."""


def as_group(check) -> xarray.Dataset:
    """Lay a CrossCheck out with dimensions ``part`` and ``solute``; every variable says its unit.

    Figures go by their own names, with ``_difference`` and ``_foreseen`` behind for the rest.
    """
    variables = {
        "signal": (("part", "solute"), _rows(check.signal), _told("L2 distance of the bands")),
        "variance_added": (
            ("part", "solute"),
            _rows(check.variance),
            _told("relative difference of the variances added"),
        ),
    }
    forms = {"{}": "{}, finite differences"}
    forms |= {"{}_difference": "finite differences less spectral: {}"}
    forms |= {"{}_foreseen": "sum of both error estimates: {}"}
    for (form, meaning), figures in zip(
        forms.items(), (check.values, check.differences, check.foreseen), strict=True
    ):
        for name, values in figures.items():
            attrs = attributes(MEASURES, name)
            attrs["long_name"] = meaning.format(attrs["long_name"])
            variables[form.format(name)] = ("solute", np.asarray(values, dtype=float), attrs)
    parts = np.array(list(check.signal), dtype=object)
    coordinates = {"part": ("part", parts, _told("part of the path, in order", ""))}
    return xarray.Dataset(variables, coordinates, {"figures": list(check.values)})


def as_cross_check(record) -> CrossCheck | None:
    """Read it out of a record (xarray.DataTree); None where the record holds none."""
    if GROUP not in record.children:
        return None
    group = record[GROUP]
    parts = [str(name) for name in group["part"].values]
    names = [str(name) for name in np.atleast_1d(group.attrs["figures"])]
    return CrossCheck(
        lanes=tuple(str(name) for name in record["solute"].values),
        signal=dict(zip(parts, group["signal"].values, strict=True)),
        variance=dict(zip(parts, group["variance_added"].values, strict=True)),
        values={name: group[name].values for name in names},
        differences={name: group[f"{name}_difference"].values for name in names},
        foreseen={name: group[f"{name}_foreseen"].values for name in names},
    )


def _rows(figures):
    return np.array(list(figures.values()), dtype=float)


def _told(meaning, units="1"):
    return {"units": units, "long_name": meaning}
