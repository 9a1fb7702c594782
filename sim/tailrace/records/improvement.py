"""The record of a study of changes: the study at its root, runs of a few states below it."""

from collections.abc import Mapping
from pathlib import Path

import xarray

from tailrace.journey.result import Result
from tailrace.journey.verification import CrossCheck
from tailrace.records.provenance import Provenance
from tailrace.records.record import as_beside, as_result, tree_of
from tailrace.records.store import read_record, write_record
from tailrace.studies.improving.result import Improvement

KIND = "tailrace improvement"


def as_record(
    improvement: Improvement,
    provenance: Provenance,
    states: Mapping[str, Result],
    checks: Mapping[str, CrossCheck] | None = None,
) -> xarray.DataTree:
    """Lay an improvement out as a tree.

    Parameters
    ----------
    improvement : Improvement
    provenance : Provenance
    states : dict of str to Result
        By what they are called; the first is the start.
    checks : dict of str to CrossCheck, optional
        Of some states.

    Returns
    -------
    xarray.DataTree
        Under ``states`` each state has the groups of a run's record.
    """
    return tree_of(improvement, provenance, states=dict(states), checks=checks or None)


def write_improvement(path: str | Path, record: xarray.DataTree) -> None:
    """Write an improvement; the same one gives the same bytes. Raises OSError where the folder
    cannot be written."""
    write_record(path, record)


def read_improvement(path: str | Path) -> xarray.DataTree:
    """Read an improvement into memory; raises RecordError as of ``read_record``."""
    return read_record(path, KIND)


def as_states(record: xarray.DataTree) -> tuple[dict[str, Result], dict[str, CrossCheck]]:
    """Read the states of the instrument that are shown in full, by name, the start first; and the
    cross-checks of those that have one. Raises KeyError as ``as_improvement`` does."""
    return as_beside(record, "states") or {}, as_beside(record, "checks") or {}


def as_improvement(record: xarray.DataTree) -> Improvement:
    """Read an improvement back out of a record; its scenario is a StoredScenario.

    Raises
    ------
    KeyError
        Where something is missing that every such record has.
    """
    found: Improvement = as_result(record)
    return found
