"""Two independent solvers compared, as a group of a record and back."""

from dataclasses import dataclass

import numpy as np
import xarray

from tailrace.records.vocabulary import MEASURES, attributes

GROUP = "cross_check"
"""Its name in a record."""


@dataclass(frozen=True, kw_only=True)
class CrossCheck:
    """What a comparison says, without its bands.

    Parameters
    ----------
    lanes : tuple of str
        The solutes.
    signal, variance : dict of str to (lanes,) array, 1
        By part, as of ``tailrace.journey.verification.Comparison``.
    values, differences, foreseen : dict of str to (lanes,) array, unit of the figure
        By figure: by finite differences; these less the spectral ones; the sum of the two error
        estimates.
    """

    lanes: tuple[str, ...]
    signal: dict[str, np.ndarray]
    variance: dict[str, np.ndarray]
    values: dict[str, np.ndarray]
    differences: dict[str, np.ndarray]
    foreseen: dict[str, np.ndarray]

    @property
    def agree(self) -> bool:
        """Whether every figure differs by no more than the estimates foresee."""
        return not self.far

    @property
    def far(self) -> tuple[tuple[str, str], ...]:
        """Figure and solute where it differs by more."""
        return tuple(
            (name, solute)
            for name, difference in self.differences.items()
            for solute, by, most in zip(self.lanes, difference, self.foreseen[name], strict=True)
            if abs(by) > most
        )


def cross_check(comparison) -> CrossCheck:
    """Keep of a Comparison what is told of it."""
    differences = comparison.recorded
    return CrossCheck(
        lanes=comparison.differences.lanes,
        signal=comparison.signal,
        variance=comparison.variance,
        values={name: comparison.differences.recorded[name] for name in differences},
        differences=differences,
        foreseen=comparison.foreseen,
    )


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
