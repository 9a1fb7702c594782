"""What changes bring, as one xarray Dataset with units."""

import json
from dataclasses import asdict

import numpy as np
import xarray

from tailrace.records.vocabulary import MEASURES, SIGNAL, attributes

KIND = "tailrace improvement"
LAYOUT = 2
"""Raised by one when a reader of the old layout would misread the new one."""
STATES = "states"
"""Group with a run for each state of the instrument that is shown in full."""

THEORY = {
    "mean": ("s", "time in all parts, closed form"),
    "variance": ("s^2", "sum of the variances of all parts, long-tube or textbook"),
}
GROUPS = {
    "recorded": ("{}", MEASURES, "{}"),
    "numerical_error": ("{}_numerical_error", MEASURES, "discretisation error of: {}"),
    "column_alone": ("column_{}", MEASURES, "{}, column with an ideal injection"),
    "signal": ("{}", SIGNAL, "{}"),
    "theory": ("theory_{}", THEORY, "{}"),
}
"""Group of figures by combination and solute: names of its variables, vocabulary, meaning."""

COMBINATION = {
    "figure": ("1", "the aim's figure, recorded"),
    "error": ("1", "discretisation error of the aim's figure"),
    "ceiling": ("1", "the aim's figure of the column's own peaks"),
    "theory": ("1", "the aim's figure by the sum of textbook variances"),
    "cost": ("", "cost of all changes, in the currency of the file"),
    "effort": ("s", "working time of all changes"),
    "pressure": ("Pa", "pressure drop of the whole path"),
    "cell_pressure": ("Pa", "pressure at the inlet of the flow cell"),
    "signal": ("1", "least signal of all solutes, over the start's"),
    "noise": ("1", "noise, over the start's"),
    "signal_to_noise": ("1", "least signal over noise of all solutes, over the start's"),
}
CHANGE = {
    "cost": ("", "cost, in the currency of the file"),
    "effort": ("s", "working time"),
    "alone": ("1", "gain as the first change"),
    "alone_error": ("1", "discretisation error of the gain as the first change"),
    "last": ("1", "gain as the last change"),
    "last_error": ("1", "discretisation error of the gain as the last change"),
    "share": ("1", "fair share of the whole gain"),
    "share_error": ("1", "error of the fair share from sampling"),
    "theory_alone": ("1", "gain as the first change by the sum of variances"),
}
STEP = {
    "figure": ("1", "the aim's figure after the step"),
    "error": ("1", "its discretisation error"),
    "gain": ("1", "gain of the step"),
    "gain_error": ("1", "its discretisation error"),
    "gain_low": ("1", "gain of the step, 2.5 % quantile for the input uncertainty"),
    "gain_high": ("1", "gain of the step, 97.5 % quantile for the input uncertainty"),
    "recovered": ("1", "share of what was lost at the start that is brought back"),
    "theory_gain": ("1", "gain of the step by the sum of variances"),
    "total_cost": ("", "cost so far, in the currency of the file"),
    "total_effort": ("s", "working time so far"),
}


def as_dataset(improvement, provenance):
    """Lay an improvement out along ``combination``, ``change``, ``step`` and ``solute``.

    Parameters
    ----------
    improvement : Improvement
    provenance : Provenance

    Returns
    -------
    xarray.Dataset
        ``taken`` says which changes a combination has; ``combination_…`` what became of the aim,
        ``change_…`` what each change is worth, ``step_…`` the best order (``step_combination`` is
        the place of its combination), ``frontier_…`` those that no other beats. Recorded
        measures, errors, signals and sums of theory go by their own names along ``combination``
        and ``solute``. ``expected_…`` lies along ``expectation`` where there is any. What was
        asked and answered, and where it comes from, stands in the attributes.
    """
    variables = {
        **_of_combinations(improvement),
        **_of_changes(improvement.changes),
        **_of_steps(improvement.steps),
        **_of_solutes(improvement.combinations.figures),
        **_of_expectations(improvement.expected),
    }
    coordinates = {
        "change": ("change", _words(one.name for one in improvement.changes), _told("change")),
        "solute": (
            "solute",
            _words(one.name for one in improvement.scenario.document.solutes),
            _told("solute"),
        ),
    }
    return xarray.Dataset(variables, coordinates).assign_attrs(_about(improvement, provenance))


def _of_combinations(improvement):
    combinations = improvement.combinations
    along = ("combination",)
    variables = {
        "taken": (
            ("combination", "change"),
            combinations.taken.astype(np.int8),
            _told("1 where the combination has the change", "1"),
        ),
        "computed": (
            along,
            combinations.computed.astype(np.int8),
            _told("1 where the combination could be computed", "1"),
        ),
        "meets": (
            along,
            combinations.meets.astype(np.int8),
            _told("1 where every constraint is met", "1"),
        ),
        "combination_of": (along, _words(combinations.of), _told("solute or pair of the figure")),
        "combination_broken": (
            along,
            _words("\n".join(one) for one in combinations.broken),
            _told("constraints that are not met, one a line"),
        ),
        "warnings": (
            along,
            _words(combinations.figures["warnings"]),
            _told("warnings, one a line"),
        ),
    }
    for name in COMBINATION:
        values = np.asarray(getattr(combinations, name), dtype=float)
        variables[f"combination_{name}"] = (along, values, attributes(COMBINATION, name))
    for name, rows in improvement.frontiers.items():
        places = np.zeros(len(combinations.figure), dtype=np.int64)
        places[rows] = np.arange(1, len(rows) + 1)
        meaning = f"place among those that no other beats, from the least demand on: {name}"
        variables[f"frontier_{name}"] = (along, places, _told(f"{meaning}; 0: beaten", "1"))
    return variables


def _of_changes(changes):
    variables = {
        f"change_{name}": (
            ("change",),
            np.array([getattr(one, name) for one in changes], dtype=float),
            attributes(CHANGE, name),
        )
        for name in CHANGE
    }
    for name, meaning in (
        ("forbidden", "why the method does not allow it"),
        ("left_out", "why the best combination does not have it"),
        ("caution", "caution"),
    ):
        texts = _words(getattr(one, name) for one in changes)
        variables[f"change_{name}"] = (("change",), texts, _told(meaning))
    for name, meaning in (("needs", "changes that it needs"), ("excludes", "changes it excludes")):
        names = _words(json.dumps(list(getattr(one, name))) for one in changes)
        variables[f"change_{name}"] = (("change",), names, _told(f"{meaning}, JSON"))
    taken = np.array([one.in_best for one in changes], dtype=np.int8)
    meaning = "1 where the best combination within the constraints has it"
    variables["change_in_best"] = (("change",), taken, _told(meaning, "1"))
    return variables


def _of_steps(steps):
    variables = {
        f"step_{name}": (
            ("step",),
            np.array([getattr(one, name) for one in steps], dtype=float),
            attributes(STEP, name),
        )
        for name in STEP
    }
    rows = np.array([one.combination for one in steps], dtype=np.int64)
    variables["step_combination"] = (("step",), rows, _told("place of its combination", "1"))
    names = _words(one.change for one in steps)
    variables["step_change"] = (("step",), names, _told("change that the step makes"))
    return variables


def _of_solutes(figures):
    variables = {}
    for key, values in figures.items():
        group, _, name = key.partition("/")
        if group in GROUPS and np.ndim(values) == 2:
            form, vocabulary, meaning = GROUPS[group]
            attrs = attributes(vocabulary, name)
            attrs["long_name"] = meaning.format(attrs["long_name"])
            variables[form.format(name)] = (("combination", "solute"), values, attrs)
    return variables


def _of_expectations(expected):
    if expected is None:
        return {}
    along, rows = ("expectation",), expected.rows
    variables = {
        f"expected_{name}": (
            along,
            np.array([getattr(one, name) for one in rows], dtype=float),
            _told(meaning, "in expected_unit"),
        )
        for name, meaning in (
            ("value", "as simulated"),
            ("low", "lower end of 95 %"),
            ("high", "upper end of 95 %"),
        )
    }
    for name in ("of", "figure", "unit"):
        texts = _words(getattr(one, name) for one in rows)
        variables[f"expected_{name}"] = (along, texts, _told(f"{name} of the expected figure"))
    numbers = np.array([one.step for one in rows], dtype=np.int64)
    variables["expected_step"] = (along, numbers, _told("step after which it is measured", "1"))
    return variables


def _about(improvement, provenance):
    """Attributes: what was asked, what was answered in words, and where it comes from."""
    aim, expected = improvement.aim, improvement.expected
    about = {
        "kind": KIND,
        "layout": LAYOUT,
        "aim": aim.key,
        "aim_of": aim.of,
        "aim_figure": aim.figure,
        "aim_remark": aim.remark,
        "stop": improvement.stop,
        "order": improvement.order,
        "best": improvement.best,
        "whole": improvement.whole,
        "stop_after": improvement.stop_after,
        "worth_it": int(improvement.worth_it),
        "verdict": improvement.verdict,
        "searched": improvement.searched,
        "ties": json.dumps([list(group) for group in improvement.ties]),
        "theory_order": json.dumps(list(improvement.theory_order)),
        "disagreements": json.dumps([asdict(one) for one in improvement.disagreements]),
        **_bands(expected),
        **{f"constraint_{key}": value for key, value in asdict(improvement.constraints).items()},
    }
    texts = asdict(provenance)
    texts["assumptions"] = "\n".join(" ".join(one.split()) for one in provenance.assumptions)
    return about | texts


def _bands(expected):
    """What the expected figures say of the steps as a whole."""
    if expected is None:
        return {"expected_basis": ""}
    return {
        "expected_basis": expected.basis,
        "undecided": json.dumps(sorted(expected.undecided)),
        "whole_low": expected.whole_low,
        "whole_high": expected.whole_high,
    }


def _told(meaning, units=""):
    return {"units": units, "long_name": meaning}


def _words(texts):
    return np.array([str(one) for one in texts], dtype=object)
