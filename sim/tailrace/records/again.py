"""Two records of one question held against each other: bit for bit, or where they differ."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import xarray

from tailrace.quantities.described import described
from tailrace.records.seal import SEAL

CIRCUMSTANCES = ("version", "libraries", "code_sha256", SEAL)
"""Attributes that may differ where the same was computed elsewhere."""


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


def differences(one: xarray.DataTree, other: xarray.DataTree) -> list[Difference]:
    """All of them, but for which program and libraries computed."""
    return [Difference(name=name, largest=size) for name, size in _differences(one, other)]


def _differences(one: xarray.DataTree, other: xarray.DataTree) -> Iterator[tuple[str, float]]:
    groups = [{group.path: group for group in tree.subtree} for tree in (one, other)]
    for path in sorted({*groups[0], *groups[1]}):
        pair = [tree[path].to_dataset(inherit=False) for tree in groups if path in tree]
        if len(pair) < 2:
            yield path, np.inf
            continue
        first, second = pair
        place = path.rstrip("/")
        for name in sorted({*map(str, first.variables), *map(str, second.variables)}):
            if not (name in first.variables and name in second.variables):
                yield f"{place}/{name}", np.inf
            elif not first[name].identical(second[name]):
                yield f"{place}/{name}", _largest(first[name].values, second[name].values)
        for name in sorted({*first.attrs, *second.attrs} - {*CIRCUMSTANCES}):
            if first.attrs.get(name) != second.attrs.get(name):
                yield f"{place}/@{name}", np.inf


def _largest(first: np.ndarray, second: np.ndarray) -> float:
    if first.shape != second.shape or not {first.dtype.kind, second.dtype.kind} <= {*"fiu"}:
        return np.inf
    size = np.maximum(np.abs(first), np.abs(second))
    apart = np.abs(first - second)
    with np.errstate(invalid="ignore", divide="ignore"):
        relative = np.where(apart == 0, 0.0, apart / size)
    return float(np.max(np.where(np.isnan(first) & np.isnan(second), 0.0,
                                 np.nan_to_num(relative, nan=np.inf)), initial=0.0))  # fmt: skip
