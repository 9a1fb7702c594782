"""How a metric is read on an instrument: ``[[reading]]``, checked and in SI."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from tailrace.errors import QuantityError
from tailrace.quantities.described import described
from tailrace.quantities.parse import parse, parse_difference, shortened
from tailrace.scenario.accept import ALSO, MEASURES
from tailrace.scenario.problems import Problem, unknown
from tailrace.scenario.reading_table import ReadingTable

LEAST_REPEATS = 3
WIDTHS = ("standard_deviation", "relative", "repeats", "simulated")


@dataclass(frozen=True, kw_only=True)
class Reading:
    """One row of ``[[reading]]``."""

    measure: str = described("metric, as in [[accept]]", "", names=True)
    of: str = described("solute; empty: every one, or pair", "", default="")
    deviation: float = described(
        "standard deviation of one reading", lambda one: "1" if one.relative else one.unit
    )
    unit: str = described("SI unit of the metric", "", default="1")
    kind: str = described("kind of quantity; empty: a plain number", "", default="")
    relative: bool = described("whether that is over the metric", default=False)
    freedom: float = described(
        "degrees of freedom with which it is known; infinite for a number", default=math.inf
    )
    simulated: int = described("signals with simulated noise that it is from", default=0)
    because: str = described("where it is from", "", default="")

    def size(self, about: float) -> float:
        """Standard deviation of a reading of about this value, in its unit."""
        return self.deviation * abs(about) if self.relative else self.deviation

    def quantile(self, probability: float) -> float:
        """Of the error of a reading over its standard deviation, 1 (Student's t)."""
        from scipy.special import ndtri, stdtrit

        exact = math.isinf(self.freedom)
        return float(ndtri(probability) if exact else stdtrit(self.freedom, probability))

    def errors(self, count: int, generator: np.random.Generator) -> np.ndarray:
        """Errors of readings over their standard deviation, (count,) array, 1."""
        if math.isinf(self.freedom):
            return generator.standard_normal(count)
        return generator.standard_t(self.freedom, count)


def readings_of(rows: Sequence[ReadingTable]) -> tuple[Reading, ...]:
    """The rows of a sound scenario."""
    return tuple(_reading(one) for one in rows)


def broken_readings(rows: Sequence[ReadingTable], solutes: Sequence[str]) -> list[Problem]:
    """What is wrong with ``[[reading]]`` of a scenario that is sound otherwise."""
    found, known = [], set()
    for index, one in enumerate(rows):
        key, sentence = "", ""
        given = [name for name in WIDTHS if getattr(one, name) is not None]
        if ALSO.get(one.measure, one.measure) not in MEASURES:
            key, sentence = "measure", unknown("measure", one.measure, MEASURES)
        elif one.solute is not None and one.solute not in solutes:
            key, sentence = "solute", unknown("solute", one.solute, solutes)
        elif len(given) != 1:
            wanted, seen = " or ".join(WIDTHS), " and ".join(given) or "none of them"
            key, sentence = "measure", f"expected one of {wanted}, found {seen}; give one"
        elif (one.measure, one.solute) in known:
            key, sentence = "measure", "expected each metric once, found it again; leave one out"
        else:
            try:
                _reading(one)
            except QuantityError as error:
                key, sentence = given[0], str(error)
        known.add((one.measure, one.solute))
        found += [Problem(("reading", index, key), sentence)] if key else []
    return found


def _reading(one: ReadingTable) -> Reading:
    measure = ALSO.get(one.measure, one.measure)
    metric = MEASURES[measure].metric
    shared: dict[str, Any] = {
        "measure": measure,
        "of": one.solute or "",
        "because": one.because,
        "unit": metric.unit,
        "kind": metric.kind,
    }
    if one.simulated is not None:
        return Reading(**shared, deviation=math.nan, simulated=one.simulated)
    if one.relative is not None:
        return Reading(**shared, deviation=one.relative, relative=True)
    kind = metric.kind
    if one.repeats is None:
        size = (parse_difference if kind else _plain)(one.standard_deviation, kind)
        if not size > 0:
            found = shortened(one.standard_deviation)
            raise QuantityError(f"expected a spread above 0, found {found}; write one")
        return Reading(**shared, deviation=size)
    values = [(parse if kind else _plain)(value, kind) for value in one.repeats]
    if len(values) < LEAST_REPEATS or np.ptp(values) == 0:
        raise QuantityError(
            f"expected {LEAST_REPEATS} readings or more that differ, found {len(values)}"
            f"{' alike' if len(values) >= LEAST_REPEATS else ''}; give more, with all their digits"
        )
    return Reading(**shared, deviation=float(np.std(values, ddof=1)), freedom=len(values) - 1.0)


def _plain(written: object, _: str) -> float:
    number = isinstance(written, int | float) and not isinstance(written, bool)
    if not number or not math.isfinite(float(str(written))):
        raise QuantityError(
            f"expected a number without a unit, found {shortened(written)}; write 0.1"
        )
    return float(str(written))
