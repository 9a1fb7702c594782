"""An improvement read back out of its record."""

import json
from dataclasses import dataclass, fields

import numpy as np

from tailrace.records.cross_check import as_cross_check
from tailrace.records.improvement import COMBINATION, GROUPS, STATES
from tailrace.records.record import as_result
from tailrace.records.rows import as_rows
from tailrace.studies.improving.aims import Aim, Constraints
from tailrace.studies.improving.expectation import Expectation, Expected
from tailrace.studies.improving.result import (
    Change,
    Combinations,
    Disagreement,
    Improvement,
    Step,
)

OF_COMBINATION = (
    "of",
    "theory",
    "pressure",
    "cell_pressure",
    "signal",
    "noise",
    "signal_to_noise",
)
"""What a step tells of its combination."""


@dataclass(frozen=True, kw_only=True)
class StoredScenario:
    """As much of a scenario as a record tells; nothing can be travelled with it.

    Parameters
    ----------
    title, sha256, text : str
        As of ``tailrace.scenario.Scenario``.
    """

    title: str
    sha256: str
    text: str


def as_improvement(record) -> Improvement:
    """Read an improvement back out of a record.

    Parameters
    ----------
    record : xarray.DataTree
        Of ``tailrace.records.improvement_store.as_record``.

    Returns
    -------
    Improvement
        Its scenario is a StoredScenario.

    Raises
    ------
    KeyError
        Where something is missing that every such record has.
    """
    return _improvement(record.to_dataset(inherit=False))


def as_states(record) -> tuple[dict, dict]:
    """Read the states of the instrument that are shown in full.

    Parameters
    ----------
    record : xarray.DataTree

    Returns
    -------
    tuple of dict of str to Result, and dict of str to CrossCheck
        By what they are called, the start first; checks of those that have one.

    Raises
    ------
    KeyError
        As of ``as_improvement``.
    """
    group, results, checks = record[STATES], {}, {}
    for key in sorted(group.children):
        name = str(group[key].attrs["state"])
        results[name] = as_result(group[key])
        check = as_cross_check(group[key])
        if check is not None:
            checks[name] = check
    return results, checks


def _improvement(study):
    attrs = study.attrs
    combinations = _combinations(study)
    changes = _changes(study)
    return Improvement(
        scenario=StoredScenario(
            title=str(attrs["title"]),
            sha256=str(attrs["scenario_sha256"]),
            text=str(attrs["scenario"]),
        ),
        aim=Aim(
            key=str(attrs["aim"]),
            of=str(attrs["aim_of"]),
            figure=str(attrs["aim_figure"]),
            remark=str(attrs["aim_remark"]),
        ),
        constraints=Constraints(
            **{one.name: float(attrs[f"constraint_{one.name}"]) for one in fields(Constraints)}
        ),
        stop=float(attrs["stop"]),
        order=str(attrs["order"]),
        changes=changes,
        combinations=combinations,
        best=int(attrs["best"]),
        whole=int(attrs["whole"]),
        steps=_steps(study, combinations, changes),
        ties=tuple(map(tuple, json.loads(attrs["ties"]))),
        theory_order=tuple(json.loads(attrs["theory_order"])),
        disagreements=tuple(
            Disagreement(**{key: _plain(value) for key, value in one.items()})
            for one in json.loads(attrs["disagreements"])
        ),
        frontiers=_frontiers(study),
        stop_after=int(attrs["stop_after"]),
        worth_it=bool(attrs["worth_it"]),
        verdict=str(attrs["verdict"]),
        searched=str(attrs["searched"]),
        expected=_expected(study),
    )


def _combinations(study):
    return Combinations(
        taken=study["taken"].values.astype(bool),
        of=study["combination_of"].values,
        computed=study["computed"].values.astype(bool),
        broken=tuple(map(_lines, study["combination_broken"].values)),
        figures=_figures(study),
        **{name: study[f"combination_{name}"].values for name in COMBINATION},
    )


def _figures(study):
    """Figures by combination and solute under the names that they have in a study."""
    figures = {
        f"{group}/{name}": study[form.format(name)].values
        for group, (form, vocabulary, _) in GROUPS.items()
        for name in vocabulary
        if form.format(name) in study
    }
    told = {"computed": study["computed"].values.astype(bool), "warnings": study["warnings"].values}
    return figures | told


def _changes(study):
    names = [str(name) for name in study["change"].values]
    own = [one.name for one in fields(Change) if one.name not in ("name", "needs", "excludes")]
    lists = [
        [tuple(json.loads(one)) for one in study[f"change_{key}"].values]
        for key in ("needs", "excludes")
    ]
    given = [
        {"name": name, "needs": needs, "excludes": excludes}
        for name, needs, excludes in zip(names, *lists, strict=True)
    ]
    return as_rows(Change, {name: study[f"change_{name}"].values for name in own}, given)


def _steps(study, combinations, changes):
    rows = study["step_combination"].values
    made = [str(name) for name in study["step_change"].values]
    prices = {one.name: one for one in changes}
    whole = {one.name for one in fields(Step)}
    columns = {name: getattr(combinations, name)[rows] for name in OF_COMBINATION}
    columns |= {
        name: study[f"step_{name}"].values for name in whole if f"step_{name}" in study.variables
    }
    given = []
    for number, (row, name) in enumerate(zip(rows, made, strict=True)):
        change = prices[name] if number else None
        given.append(
            {
                "number": number,
                "taken": tuple(made[1 : number + 1]),
                "cost": change.cost if change else 0.0,
                "effort": change.effort if change else 0.0,
                "caution": change.caution if change else "",
                "broken": combinations.broken[row],
            }
        )
    return as_rows(Step, columns, given)


def _frontiers(study):
    """Rows in the order of their places."""
    found = {}
    for name in study.data_vars:
        if name.startswith("frontier_"):
            places = study[name].values
            rows = np.flatnonzero(places)
            found[name.removeprefix("frontier_")] = rows[np.argsort(places[rows])]
    return found


def _expected(study):
    if "expected_value" not in study:
        return None
    attrs = study.attrs
    names = [one.name for one in fields(Expectation)]
    return Expected(
        rows=as_rows(Expectation, {name: study[f"expected_{name}"].values for name in names}),
        basis=str(attrs["expected_basis"]),
        gain_low=study["step_gain_low"].values,
        gain_high=study["step_gain_high"].values,
        undecided=frozenset(json.loads(attrs["undecided"])),
        whole_low=float(attrs["whole_low"]),
        whole_high=float(attrs["whole_high"]),
    )


def _lines(text):
    return tuple(text.split("\n")) if text else ()


def _plain(value):
    return tuple(value) if isinstance(value, list) else value
