"""Two records of one question held against each other: bit for bit, or where they differ."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import xarray

from tailrace.quantities.arrays import FloatArray
from tailrace.quantities.described import described
from tailrace.records.seal import SEAL

CIRCUMSTANCES = ("version", "libraries", "code_sha256", SEAL)
"""Attributes that may differ where the same was computed elsewhere."""

EVIDENCE, OF_PARTS = ("log_evidence", "bic"), "skewness_simulated"
"""Logarithms that stand over the first; and what each part adds, from bands before and behind."""
SCORES, ERRORS, BESIDE = "/zeta", "/outcomes/errors", "/identified/together"
"""Where metrics less others stand over their uncertainty; discretisation errors of samples; and how
sure changes are, everything else being open."""
SOLVERS = ("/cross_check/differences/skewness", "/cross_check/foreseen/skewness")
"""By finite differences less by Fourier transforms."""


@dataclass(frozen=True, kw_only=True)
class Difference:
    """A variable or attribute that is not the same in both records."""

    name: str = described("where it stands", "", label="where", names=True)
    largest: float = described(
        "largest difference between two values, over the larger of both; infinite for what is no "
        "number, or is only in one",
        "1",
        label="relative difference",
        digits=2,
    )
    rounding: float = described(
        "the same over the largest value of that name in the record (of an error, of its unit in "
        "the group), or over 1 where it has no unit; a part's skewness over (variance behind the "
        "part over its own)^1.5, as third moments are subtracted for it; logarithms of evidence "
        "over half the points of the signals, as sums of that many squares are; the others that "
        "``_made_of`` names over what is subtracted for them",
        "1",
        label="over what it is made of",
        digits=2,
    )


def differences(one: xarray.DataTree, other: xarray.DataTree) -> list[Difference]:
    """All of them, but for which program and libraries computed."""
    return [*_differences(one, other, _sizes(one))]


def _sizes(tree: xarray.DataTree) -> dict[str, float]:
    """Largest value of each name in any group."""
    found: dict[str, float] = {}
    for group in tree.subtree:
        for name, variable in group.to_dataset(inherit=False).variables.items():
            whole = _quantity(str(name))
            found[whole] = max(found.get(whole, 0.0), _largest(variable))
    signals = [group["signal"].size for group in tree.subtree if "signal" in group.variables]
    # logarithms of likelihoods, of which those of two hypotheses are subtracted
    return found | dict.fromkeys(EVIDENCE, sum(signals) / 2)


def _quantity(name: str) -> str:
    """That a number is of: an error's is the same as its metric's."""
    return name.removesuffix("_numerical_error")


def _largest(variable: xarray.Variable | xarray.DataArray) -> float:
    if variable.dtype.kind != "f":
        return 0.0
    return float(np.max(np.abs(variable.values[np.isfinite(variable.values)]), initial=0.0))


def _size_of(
    path: str, name: str, groups: dict[str, xarray.DataTree], sizes: dict[str, float]
) -> FloatArray:
    """What a difference of a number is held against, as ``Difference.rounding`` says: one for all
    values, or each its own."""
    group = groups[path].to_dataset(inherit=False)
    own = _made_of(path, name, groups)
    if own is not None:
        return own
    unit = group[name].attrs.get("units")
    of_unit = [one for one in group.variables.values() if one.attrs.get("units") == unit]
    beside = [_largest(one) for one in of_unit] if name.endswith("error") else []
    return np.array(max(sizes.get(_quantity(name), 0.0), float(unit == "1"), *beside, 0.0))


def _made_of(path: str, name: str, groups: dict[str, xarray.DataTree]) -> FloatArray | None:
    """Of what is a difference of others, or an inverse of one, each value its own; else None."""

    def of(one: str, where: str = path) -> FloatArray:
        return np.asarray(np.abs(np.asarray(groups[where][one].values, dtype=float)))

    if name.endswith(OF_PARTS):
        return _subtracted(groups[path], name)
    if path.endswith(SCORES):  # of 100 plates with one of uncertainty 1 is 100 less 99
        beside = path.removesuffix(SCORES)
        measured, sure = (of(name, f"{beside}/{one}") for one in ("measured", "joint_uncertainty"))
        return _at_least_one(measured, sure)
    if f"{path}/{name}" == ERRORS and "values" in groups[path]:
        values = of("values")
        return np.asarray(np.max(np.nan_to_num(values), axis=-1, keepdims=True))
    if f"{path}/{name}" in SOLVERS:
        return np.asarray(np.maximum(of("rounding", path.rpartition("/")[0]), 1.0))
    if f"{path}/{name}" == BESIDE:  # the square of what is left of a column by all others, inverted
        return _at_least_one(of(name) ** 2, of("alone"))
    return None


def _at_least_one(one: FloatArray, other: FloatArray) -> FloatArray:
    ratio = np.divide(one, other, out=np.ones_like(one), where=other > 0)
    return np.asarray(np.maximum(np.nan_to_num(ratio, nan=1.0, posinf=1.0), 1.0))


def _subtracted(group: xarray.DataTree, name: str) -> FloatArray:
    """Of the skewness that each part adds: what is behind the part over its own."""
    variance = group[name.replace("skewness", "variance")]
    along = next(at for at, one in enumerate(variance.dims) if str(one).startswith("part"))
    added = np.asarray(variance.values, dtype=float)
    behind, own = np.cumsum(added, axis=along), added > 0
    return np.asarray(np.divide(behind, added, out=np.ones_like(added), where=own) ** 1.5)


def _differences(
    one: xarray.DataTree, other: xarray.DataTree, sizes: dict[str, float]
) -> Iterator[Difference]:
    groups = [{group.path: group for group in tree.subtree} for tree in (one, other)]
    for path in sorted({*groups[0], *groups[1]}):
        pair = [tree[path].to_dataset(inherit=False) for tree in groups if path in tree]
        if len(pair) < 2:
            yield _unlike(path)
            continue
        first, second = pair
        place = path.rstrip("/")
        for name in sorted({*map(str, first.variables), *map(str, second.variables)}):
            if not (name in first.variables and name in second.variables):
                yield _unlike(f"{place}/{name}")
            elif not first[name].identical(second[name]):
                size = _size_of(path, name, groups[0], sizes)
                yield _apart(f"{place}/{name}", first[name].values, second[name].values, size)
        for name in sorted({*first.attrs, *second.attrs} - {*CIRCUMSTANCES}):
            if first.attrs.get(name) != second.attrs.get(name):
                yield _unlike(f"{place}/@{name}")


def _unlike(name: str) -> Difference:
    return Difference(name=name, largest=np.inf, rounding=np.inf)


def _apart(name: str, first: np.ndarray, second: np.ndarray, size: FloatArray) -> Difference:
    if first.shape != second.shape or not {first.dtype.kind, second.dtype.kind} <= {*"fiu"}:
        return _unlike(name)
    same = (first == second) | (np.isnan(first) & np.isnan(second))
    apart = np.where(same, 0.0, np.abs(first - second))
    found = []
    for over in (np.maximum(np.abs(first), np.abs(second)), size):
        with np.errstate(invalid="ignore", divide="ignore"):
            each = np.where(same, 0.0, apart / over)
        found.append(float(np.max(np.nan_to_num(each, nan=np.inf), initial=0.0)))
    return Difference(name=name, largest=found[0], rounding=found[1])
