"""The rows of ``[[uncertain]]`` in SI with their checks, and measured values read from files."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from tailrace.errors import QuantityError, ScenarioError
from tailrace.quantities.arrays import FloatArray
from tailrace.quantities.kinds import KINDS, kind_named, plain, show
from tailrace.quantities.parse import parse, parse_difference, shortened
from tailrace.scenario.build import curve_plates
from tailrace.scenario.contents import Contents
from tailrace.scenario.distribution import DISTRIBUTIONS, Distribution
from tailrace.scenario.files import Files
from tailrace.scenario.problems import Problem
from tailrace.scenario.target import ELUENT, StudyError, Target, target, value_at
from tailrace.scenario.uncertain_table import UncertainTable

LARGEST_TABLE = 5_000_000
"""Bytes."""
LEAST_VALUES = 5
INJECTION = "injection"


def read_values(files: Files, name: str, target: Target) -> tuple[list[float], str]:
    """Read values in SI, and the SHA-256 of the file.

    ``name``: of a file in UTF-8; the first line is the unit (``mm``; ``1`` for plain numbers), then
    one number a line. Empty lines and lines that begin with # are passed over. ``target``: the
    field that they are of. Raises ScenarioError with the file, the line, what was
    expected and what was found.

    Returns
    -------
    list of float, SI unit of the field
    str
        SHA-256 of the file.
    """
    text, path = files.text(name, "a file of values", LARGEST_TABLE), files.where(name)
    numbered = enumerate((line.strip() for line in text.splitlines()), start=1)
    lines = [(number, line) for number, line in numbered if line and not line.startswith("#")]
    if not lines:
        raise ScenarioError([f"{path}: expected a unit and numbers below it, found no line"])
    (_, unit), *rows = lines
    if target.kind not in KINDS and unit != "1":
        raise ScenarioError(
            [f"{path}:1: expected 1 for plain numbers in the first line, found {shortened(unit)}"]
        )
    values = [_line(path, number, text, unit, target) for number, text in rows]
    if len(set(values)) < LEAST_VALUES:
        raise ScenarioError(
            [
                f"{path}: expected at least {LEAST_VALUES} values that differ, found "
                f"{len(set(values))}; add values"
            ]
        )
    return values, files.hashes()[name]


def _line(path: Path, number: int, text: str, unit: str, target: Target) -> float:
    try:
        if target.kind in KINDS:
            return parse(f"{text} {unit}", target.kind)
        value = float(text)
        if math.isfinite(value) and target.bounds[0] <= value <= target.bounds[1]:
            return value
    except (QuantityError, ValueError) as error:
        raise ScenarioError([f"{path}:{number}: {error}"]) from None
    raise ScenarioError(
        [
            f"{path}:{number}: expected a number from {target.bounds[0]:g} to "
            f"{target.bounds[1]:g}, found {shortened(text)}"
        ]
    )


WIDTHS = ("standard_deviation", "half_width", "top_half_width", "low", "high", "relative", "file")
LEAST_EIGENVALUE = 1e-9
ENDS = (0.00135, 0.99865)
"""What counts as the limits of a distribution without ends: three standard deviations of a
normal one (common practice, no source)."""


@dataclass(frozen=True, kw_only=True)
class Input:
    """One row of ``[[uncertain]]``, in SI.

    Parameters
    ----------
    nominal : float, SI unit of the field
        What the scenario says.
    kind : str
        ``tolerance``, ``knowledge`` or ``injection``.
    because : str
        Where the spread is from.
    """

    target: Target
    nominal: float
    distribution: Distribution
    kind: str
    because: str = ""

    @property
    def name(self) -> str:
        """As it is called in results: ``inlet tube.bore``."""
        return self.target.name

    @property
    def quantity(self) -> str:
        """Kind of quantity; empty for a plain number."""
        return self.target.kind if self.target.kind in KINDS else ""

    @property
    def unit(self) -> str:
        """SI unit; "1" of a plain number."""
        return kind_named(self.quantity).unit if self.quantity else "1"

    def values(
        self, scores: FloatArray, nominal: float | None = None, scale: float = 1.0
    ) -> FloatArray:
        """Values at normal scores.

        Parameters
        ----------
        scores : (samples,) array, 1
        nominal : float, SI unit of the field, optional
            Of another scenario; the deviations go with it.
        scale : float, 1
            All deviations are this many times as wide.

        Returns
        -------
        (samples,) array, SI unit of the field
        """
        at = self.nominal if nominal is None else nominal
        return self.distribution.quantile(scores, at, self.target.bounds, scale)

    def mean_and_deviation(self) -> tuple[float, float]:
        """Mean and standard deviation of the cut distribution. SI unit of the field."""
        return self.distribution.mean_and_deviation(self.nominal, self.target.bounds)

    def limits(self, scale: float = 1.0) -> tuple[float, float]:
        """Least and greatest value: the ends, or the middle 99.73 %. SI unit of the field."""
        from scipy.special import ndtri

        ends = (2.0**-54, 1 - 2.0**-53) if self.distribution.bounded else ENDS
        low, high = self.values(ndtri(np.array(ends)), scale=scale)
        return float(low), float(high)

    def cut(self, scale: float = 1.0) -> float:
        """Probability that lies outside of what the field can be, and is cut off. 1."""
        if scale == 0:
            return 0.0
        below, within = self.distribution.held(self.nominal, self.target.bounds, scale)
        return below + 1 - within

    def shown(self, value: float) -> str:
        """A value as people write it."""
        return show(value, self.quantity) if self.quantity else plain(value)


class _WrongError(Exception):
    """One key of a row is wrong; ``key`` and the sentence that says so."""

    def __init__(self, key: str, sentence: str) -> None:
        self.key, self.sentence = key, sentence
        super().__init__(sentence)


def inputs_of(scenario: Contents, injections: bool = False) -> tuple[Input, ...]:
    """Return the uncertain inputs of a sound scenario, in the order of the file.

    ``injections``: those that vary from one injection to the next, instead of all others. Raises
    ScenarioError where a file of data is gone or has changed for the worse.
    """
    inputs, problems = read_inputs(scenario)
    if problems:
        raise ScenarioError([f"{problems[0].key}: {problems[0].sentence}"])
    return tuple(one for one in inputs if (one.kind == INJECTION) == injections)


def correlation_of(scenario: Contents, inputs: Sequence[Input]) -> FloatArray:
    """Correlation of the normal scores of the inputs, (inputs, inputs) array, 1."""
    return correlation(scenario, inputs)[0]


def broken_uncertain(scenario: Contents) -> list[Problem]:
    """Return what is wrong with ``[[uncertain]]`` and ``[[correlated]]`` of a sound scenario."""
    inputs, problems = read_inputs(scenario)
    whole = [one for one in inputs if one.kind != INJECTION]
    return problems or correlation(scenario, whole)[1]


def read_inputs(scenario: Contents) -> tuple[list[Input], list[Problem]]:
    """Read every row of a scenario that is sound otherwise, and say what is wrong."""
    inputs: list[Input] = []
    problems: list[Problem] = []
    for index, row in enumerate(scenario.document.uncertain):
        try:
            one = _input(scenario, row)
            if (one.target.place, one.kind == INJECTION) in [
                (other.target.place, other.kind == INJECTION) for other in inputs
            ]:
                raise _WrongError(
                    "field",
                    f"expected each field once, found {one.name} again; leave out one of them",
                )
            inputs.append(one)
        except _WrongError as wrong:
            problems.append(Problem(("uncertain", index, wrong.key), wrong.sentence))
    return inputs, problems


def correlation(scenario: Contents, inputs: Sequence[Input]) -> tuple[FloatArray, list[Problem]]:
    """Correlation of the normal scores, (inputs, inputs) array, 1, and what is wrong with it."""
    matrix = np.eye(len(inputs))
    problems: list[Problem] = []
    places = [one.target.place for one in inputs]
    for index, row in enumerate(scenario.document.correlated):
        try:
            pair = [places.index(target(scenario.tables, name).place) for name in row.fields]
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


def _input(scenario: Contents, row: UncertainTable) -> Input:
    try:
        found = target(scenario.tables, row.field)
    except StudyError as error:
        raise _WrongError("field", str(error)) from None
    if found.kind in ("words", "text"):
        raise _WrongError(
            "field", f"expected a field that holds a number, found {found.name}; take another"
        )
    _check_composition(scenario, found)
    nominal = value_at(scenario.document, found.place)
    if nominal is None:
        raise _WrongError(
            "field",
            f"expected a field to which the scenario gives a value, found none at {found.name}; "
            f"{_to_give(scenario, found)}",
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


def _check_composition(scenario: Contents, found: Target) -> None:
    """Refuse a fraction of the eluent that not everything can follow."""
    document, method = scenario.document, scenario.document.method
    if found.place[:2] != ELUENT or found.place[2] == "viscosity":
        return
    others = [
        row.field
        for row in document.uncertain
        if target(scenario.tables, row.field).place[:2] == ELUENT
    ]
    lacking = [one.name for one in document.solutes if one.retention_factor and one.s is None]
    sentence = ""
    if document.gradient is not None:
        sentence = "expected no gradient, whose programme says the composition; take its rows"
    elif method.given_viscosity is not None or len(method.eluent.composition) < 2:
        sentence = "expected an eluent of two liquids whose viscosity is estimated"
    elif not 0 < method.eluent.water < 1:
        sentence = "expected water in the eluent, as s is per fraction of what is none"
    elif len(others) > 1:
        sentence = "expected one fraction, which the others follow, found two"
    elif lacking:
        sentence = (
            f"expected retention that goes with composition, found {', '.join(lacking)} without; "
            "add s = 4 as you know it (k changes by -2.3 s per fraction), or take retention_factor"
        )
    if sentence:
        raise _WrongError("field", f"{found.name}: {sentence}")


def _to_give(scenario: Contents, found: Target) -> str:
    """What to write where a field has no value; the number itself for plates from the curve."""
    head, *rest, key = found.place
    if key == "plates" and head == "path" and rest:
        plates = curve_plates(scenario).get(scenario.tables["path"][rest[0]]["name"])
        if plates is not None and np.isfinite(plates).all():
            return (
                f"give it one: plates = {float(np.mean(plates)):.3g}, which is what its "
                "plate-height curve gives, and here the spread"
            )
    return "give it one, or take the field that it is estimated from"


def _distribution(
    scenario: Contents, row: UncertainTable, found: Target, nominal: float
) -> Distribution:
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
    if word in ("data", "bootstrap"):
        return _from_data(scenario, row, found, nominal)
    relative = row.relative is not None
    if relative and nominal == 0:
        raise _WrongError("relative", "expected a value other than 0 to be relative to, found 0")
    if word == "lognormal":
        if nominal <= 0:
            raise _WrongError("distribution", f"expected a value above 0, found {nominal:g}")
        return Distribution(word=word, deviation=float(row.relative or 0.0))
    if word == "normal":
        size = _width(row, "standard_deviation", found) if row.relative is None else row.relative
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
        high = _width(row, "half_width", found) if row.relative is None else row.relative
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


def _top(row: UncertainTable, found: Target, relative: bool) -> float:
    if not relative:
        return _width(row, "top_half_width", found)
    if isinstance(row.top_half_width, bool) or not isinstance(row.top_half_width, (int, float)):
        raise _WrongError(
            "top_half_width",
            f"expected a plain number beside relative, found {shortened(row.top_half_width)}; "
            "write top_half_width = 0.01",
        )
    return float(row.top_half_width)


def _width(row: UncertainTable, key: str, found: Target) -> float:
    """A width in SI, above zero."""
    width = _read(row, key, found, parse_difference)
    if not width > 0:
        raise _WrongError(
            key,
            f"expected a width above 0, found {shortened(getattr(row, key))}; write one, or leave "
            "out this [[uncertain]]",
        )
    return width


def _value(row: UncertainTable, key: str, found: Target) -> float:
    return _read(row, key, found, parse)


def _read(
    row: UncertainTable, key: str, found: Target, reader: Callable[[Any, str], float]
) -> float:
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


def _from_data(
    scenario: Contents, row: UncertainTable, found: Target, nominal: float
) -> Distribution:
    try:
        values, sha256 = read_values(scenario.files, str(row.file), found)
    except ScenarioError as error:
        raise _WrongError("file", str(error.problems[0])) from None
    deviations = tuple(sorted(value - nominal for value in values))
    spread, count = float(np.std(deviations, ddof=1)), len(deviations)
    # Of several parts the next one is wanted; of one that was read several times itself.
    share = 1 / count if row.kind == "knowledge" else 1 + 1 / count
    return Distribution(
        word=row.distribution,
        values=deviations,
        sha256=sha256,
        deviation=spread * float(np.sqrt(share)),
    )
