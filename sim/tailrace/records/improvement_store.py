"""What changes bring as one xarray tree, to an HDF5 file and back."""

import xarray

from tailrace.records import record as runs
from tailrace.records.improvement import KIND, LAYOUT, STATES, as_dataset
from tailrace.records.improvement_answer import as_improvement, as_states
from tailrace.records.store import RecordError, read_tree, write_record


def as_record(improvement, provenance, states, checks=None):
    """Lay an improvement out as a tree: the study at its root, runs below it.

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
        The root is that of ``tailrace.records.improvement.as_dataset``; under ``states`` each
        state has the groups of a run's record.
    """
    groups = {"/": as_dataset(improvement, provenance)}
    checks = {} if checks is None else checks
    for index, (name, result) in enumerate(states.items()):
        run = runs.as_record(result, provenance, checks.get(name))
        # The scenario as it stands is at the root; a state is that with changes.
        run.attrs = {"state": name, "warnings": run.attrs["warnings"]}
        groups |= {
            f"/{STATES}/{index:03d}{group.path.rstrip('/')}": group.to_dataset(inherit=False)
            for group in run.subtree
        }
    return xarray.DataTree.from_dict(groups)


def write_improvement(path, record):
    """Write an improvement (xarray.DataTree); the same one gives the same bytes. Raises OSError
    where the folder cannot be written."""
    write_record(path, record)


def read_improvement(path):
    """Read an improvement into memory.

    Parameters
    ----------
    path : str or Path

    Returns
    -------
    xarray.DataTree
        Equal to the one that was written.

    Raises
    ------
    RecordError
        As of ``tailrace.records.store.read_record``; where the answer cannot be read out of it.
    """
    record = read_tree(path, "improve", KIND, LAYOUT, (STATES,))
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
