"""What ties a row of ``[[uncertain]]`` to the rest of the scenario."""

import math
import tomllib

import numpy as np

from tailrace.errors import QuantityError, ScenarioError
from tailrace.quantities.kinds import KINDS
from tailrace.quantities.parse import parse, parse_difference, shortened
from tailrace.scenario.data_file import read_values
from tailrace.scenario.distribution import DISTRIBUTIONS, Distribution
from tailrace.scenario.inputs import Input
from tailrace.scenario.problems import Problem
from tailrace.scenario.target import StudyError, target

WIDTHS = ("standard_deviation", "half_width", "top_half_width", "low", "high", "relative", "file")
EXAMPLES = {
    "standard_deviation": "standard_deviation",
    "half_width": "half_width",
    "low, high": "low and high",
    "relative": "relative",
    "file": "file",
}
LEAST_EIGENVALUE = 1e-9


class _WrongError(Exception):
    """One key of a row is wrong; ``key`` and the sentence that says so."""

    def __init__(self, key, sentence):
        self.key, self.sentence = key, sentence
        super().__init__(sentence)


def broken_uncertain(scenario) -> list[Problem]:
    """Return what is wrong with ``[[uncertain]]`` and ``[[correlated]]``.

    Parameters
    ----------
    scenario : Scenario
        Sound otherwise.
    """
    inputs, problems = read_inputs(scenario)
    return problems or correlation(scenario, inputs)[1]


def read_inputs(scenario) -> tuple[list[Input], list[Problem]]:
    """Read every row.

    Parameters
    ----------
    scenario : Scenario
        Sound otherwise.

    Returns
    -------
    list of Input
    list of Problem
    """
    inputs, problems = [], []
    document = tomllib.loads(scenario.text)
    for index, row in enumerate(scenario.document.uncertain):
        try:
            one = _input(scenario, document, row)
            if one.target.place in [other.target.place for other in inputs]:
                raise _WrongError(
                    "field",
                    f"expected each field once, found {one.name} again; leave out one of them",
                )
            inputs.append(one)
        except _WrongError as wrong:
            problems.append(Problem(("uncertain", index, wrong.key), wrong.sentence))
    return inputs, problems


def correlation(scenario, inputs) -> tuple[np.ndarray, list[Problem]]:
    """Correlation of the normal scores.

    Parameters
    ----------
    scenario : Scenario
    inputs : sequence of Input

    Returns
    -------
    (inputs, inputs) array, 1
    list of Problem
    """
    matrix, problems = np.eye(len(inputs)), []
    places = [one.target.place for one in inputs]
    document = tomllib.loads(scenario.text)
    for index, row in enumerate(scenario.document.correlated):
        try:
            pair = [places.index(target(document, name).place) for name in row.fields]
        except (StudyError, ValueError):
            known = ", ".join(one.name for one in inputs) or "none"
            problems.append(
                Problem(
                    ("correlated", index, "fields"),
                    f"expected two fields of [[uncertain]] ({known}), found "
                    f"{' and '.join(shortened(name) for name in row.fields)}; correct the names",
                )
            )
            continue
        if pair[0] == pair[1] or matrix[pair[0], pair[1]] != 0:
            problems.append(
                Problem(
                    ("correlated", index, "fields"),
                    "expected two fields that differ, each pair once; leave out this one",
                )
            )
        matrix[pair, pair[::-1]] = row.coefficient
    if not problems and np.linalg.eigvalsh(matrix)[:1].sum() < (
        LEAST_EIGENVALUE if len(inputs) else 0.0
    ):
        problems.append(
            Problem(
                ("correlated",),
                "expected coefficients that go together (a positive definite matrix), found some "
                "that exclude each other; bring them nearer to 0",
            )
        )
    return matrix, problems


def _input(scenario, document, row):
    try:
        found = target(document, row.field)
    except StudyError as error:
        raise _WrongError("field", str(error)) from None
    if found.kind in ("words", "text"):
        raise _WrongError(
            "field", f"expected a field that holds a number, found {found.name}; take another"
        )
    if found.place[:2] == ("method", "eluent") and found.place[2] != "viscosity":
        raise _WrongError(
            "field",
            f"expected a field that can change by itself, found {found.name}, a fraction of a "
            "whole; take method.viscosity or the solutes' retention_factor instead",
        )
    nominal = value_at(scenario.document, found.place)
    if nominal is None:
        raise _WrongError(
            "field",
            f"expected a field to which the scenario gives a value, found none at {found.name}; "
            "give it one, or take the field that it is estimated from",
        )
    shape = _distribution(scenario, row, found, nominal)
    one = Input(
        target=found, nominal=nominal, distribution=shape, kind=row.kind, because=row.because
    )
    if one.cut() > 0.5:
        low, high = (one.shown(value) for value in found.bounds)
        raise _WrongError(
            "distribution",
            f"expected a distribution that lies within what {found.name} can be ({low} to {high}), "
            f"found {100 * one.cut():.3g} % of it outside; make it narrower",
        )
    return one


def value_at(document, place):
    """The number that stands at a place of a checked document.

    Parameters
    ----------
    document : Document
    place : tuple of str and int

    Returns
    -------
    float, SI unit of the field, or None
        None where nothing stands there.
    """
    holder = document
    for step in place:
        holder = holder[step] if isinstance(step, int) else getattr(holder, step, None)
    return None if holder is None else float(holder)


def _distribution(scenario, row, found, nominal):
    """The shape of a row, in SI."""
    word = row.distribution
    given = tuple(key for key in WIDTHS if getattr(row, key) is not None)
    if set(given) not in [set(keys) for keys in DISTRIBUTIONS[word]]:
        wanted = " or ".join(" and ".join(keys) for keys in DISTRIBUTIONS[word])
        raise _WrongError(
            "distribution",
            f"expected {wanted} beside {word}, found {' and '.join(given) or 'none of them'}; "
            "give one of these and nothing else",
        )
    if word == "data":
        return _from_data(scenario, row, found, nominal)
    relative = row.relative is not None
    if relative and nominal == 0:
        raise _WrongError("relative", "expected a value other than 0 to be relative to, found 0")
    if word == "lognormal":
        if nominal <= 0:
            raise _WrongError("distribution", f"expected a value above 0, found {nominal:g}")
        return Distribution(word=word, deviation=row.relative)
    if word == "normal":
        size = row.relative if relative else _width(row, "standard_deviation", found)
        return Distribution(word=word, relative=relative, deviation=size)
    if row.low is not None:
        low, high = (_value(row, key, found) - nominal for key in ("low", "high"))
        if not low < high:
            raise _WrongError(
                "high",
                f"expected a value above low ({shortened(row.low)}), found "
                f"{shortened(row.high)}; correct one of them",
            )
    else:
        high = row.relative if relative else _width(row, "half_width", found)
        low = -high
    if word != "uniform" and not low <= 0 <= high:
        raise _WrongError(
            "low", "expected the scenario's value between low and high, found it outside; move them"
        )
    top = 0.0
    if word == "trapezoidal":
        top = _top(row, found, relative)
        if not 0 <= top <= min(-low, high):
            raise _WrongError(
                "top_half_width", "expected a top no wider than the whole, found a wider one"
            )
    return Distribution(word=word, relative=relative, low=low, high=high, top=top)


def _top(row, found, relative):
    if not relative:
        return _width(row, "top_half_width", found)
    if isinstance(row.top_half_width, bool) or not isinstance(row.top_half_width, (int, float)):
        raise _WrongError(
            "top_half_width",
            f"expected a plain number beside relative, found {shortened(row.top_half_width)}; "
            "write top_half_width = 0.01",
        )
    return float(row.top_half_width)


def _width(row, key, found):
    """A width in SI, above zero."""
    width = _read(row, key, found, parse_difference)
    if not width > 0:
        raise _WrongError(
            key,
            f"expected a width above 0, found {shortened(getattr(row, key))}; write one, or leave "
            "out this [[uncertain]]",
        )
    return width


def _value(row, key, found):
    return _read(row, key, found, parse)


def _read(row, key, found, reader):
    written = getattr(row, key)
    if found.kind in KINDS:
        try:
            return reader(written, found.kind)
        except QuantityError as error:
            raise _WrongError(key, str(error)) from None
    number = isinstance(written, (int, float)) and not isinstance(written, bool)
    if not number or not math.isfinite(written):
        raise _WrongError(
            key,
            f"expected a number without a unit, as {found.name} has none, found "
            f"{shortened(written)}; write {key} = 0.1",
        )
    return float(written)


def _from_data(scenario, row, found, nominal):
    try:
        values, sha256 = read_values(scenario.files, row.file, found)
    except ScenarioError as error:
        raise _WrongError("file", str(error.problems[0])) from None
    deviations = tuple(sorted(value - nominal for value in values))
    return Distribution(word="data", values=deviations, sha256=sha256)
