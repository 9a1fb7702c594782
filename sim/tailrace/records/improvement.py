"""The record of a study of changes: the study at its root, runs of a few states below it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path

import xarray

from tailrace.journey.result import Result
from tailrace.records import record as runs
from tailrace.records.codec import as_tree, from_tree
from tailrace.records.cross_check import CrossCheck, as_cross_check
from tailrace.records.provenance import Provenance
from tailrace.records.store import RecordError, read_tree, write_record
from tailrace.studies.improving.result import Improvement

KIND = "tailrace improvement"
LAYOUT = 3
"""Raised by one when a reader of the old layout would misread the new one."""
STATES = "states"
"""Group with a run for each state of the instrument that is shown in full."""


@dataclass(frozen=True, kw_only=True)
class StoredScenario:
    """As much of a scenario as a record holds; nothing can be simulated with it."""

    title: str
    sha256: str
    text: str


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
    about = asdict(provenance)
    about["assumptions"] = "\n".join(" ".join(one.split()) for one in provenance.assumptions)
    study = as_tree(improvement, {"kind": KIND, "layout": LAYOUT, **about})
    groups = {group.path: group.to_dataset(inherit=False) for group in study.subtree}
    for index, (name, result) in enumerate(states.items()):
        run = runs.as_record(result, provenance, (checks or {}).get(name))
        # The scenario as it stands is at the root; a state is that with changes.
        run.attrs = {"state": name, "warnings": run.attrs["warnings"]}
        groups |= {
            f"/{STATES}/{index:03d}{group.path.rstrip('/')}": group.to_dataset(inherit=False)
            for group in run.subtree
        }
    return xarray.DataTree.from_dict(groups)


def write_improvement(path: str | Path, record: xarray.DataTree) -> None:
    """Write an improvement; the same one gives the same bytes. Raises OSError where the folder
    cannot be written."""
    write_record(path, record)


def read_improvement(path: str | Path) -> xarray.DataTree:
    """Read an improvement into memory, equal to the one that was written.

    Raises
    ------
    RecordError
        As of ``tailrace.records.store.read_record``; where the answer cannot be read out of it.
    """
    record: xarray.DataTree = read_tree(path, "improve", KIND, LAYOUT, (STATES,))
    try:
        as_improvement(record)
        as_states(record)
    except (KeyError, ValueError, TypeError, IndexError) as problem:
        found = str(problem.args[0]).split(". ")[0] if problem.args else type(problem).__name__
        raise RecordError(
            f"{path}: expected a complete improvement, found a damaged one ({found}); write it "
            "again with `improve --out`"
        ) from problem
    return record


def as_states(record: xarray.DataTree) -> tuple[dict[str, Result], dict[str, CrossCheck]]:
    """Read the states of the instrument that are shown in full, by name, the start first; and the
    cross-checks of those that have one. Raises KeyError as ``as_improvement`` does."""
    group, results, checks = record[STATES], {}, {}
    for key in sorted(group.children):
        name = str(group[key].attrs["state"])
        results[name] = runs.as_result(group[key])
        check = as_cross_check(group[key])
        if check is not None:
            checks[name] = check
    return results, checks


def as_improvement(record: xarray.DataTree) -> Improvement:
    """Read an improvement back out of a record; its scenario is a StoredScenario.

    Raises
    ------
    KeyError
        Where something is missing that every such record has.
    """
    about = {name: str(record.attrs[name]) for name in ("title", "scenario_sha256", "scenario")}
    scenario = StoredScenario(
        title=about["title"], sha256=about["scenario_sha256"], text=about["scenario"]
    )
    found: Improvement = from_tree(Improvement, record, {"scenario": scenario})
    return found
