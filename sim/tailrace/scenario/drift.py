"""The rows of ``[[drift]]``, checked and in SI."""

import math
from dataclasses import dataclass

from tailrace.errors import QuantityError
from tailrace.quantities.kinds import KINDS
from tailrace.quantities.parse import parse_difference, shortened
from tailrace.scenario.contents import Contents
from tailrace.scenario.distribution import Distribution
from tailrace.scenario.drift_table import DriftTable
from tailrace.scenario.inputs import Input
from tailrace.scenario.problems import Problem
from tailrace.scenario.target import StudyError, Target, Where, target, value_at, where_is

THOUSAND = 1000.0


@dataclass(frozen=True, kw_only=True)
class Drift:
    """One field that drifts.

    Parameters
    ----------
    input : Input
        The field; its distribution is that of the rates, in its SI unit a month.
    rate : float, SI unit of the field a month
    """

    input: Input
    where: Where
    rate: float


def drifts_of(scenario: Contents) -> tuple[Drift, ...]:
    """The rows of a sound scenario."""
    return tuple(_drift(scenario, one) for one in scenario.document.drift)


def broken_drifts(scenario: Contents) -> list[Problem]:
    """What is wrong with ``[[drift]]`` of a scenario that is sound otherwise."""
    found, known = [], set()
    for index, one in enumerate(scenario.document.drift):
        key = "field"
        try:
            place = target(scenario.tables, one.field).place
            if place in known:
                raise StudyError("expected each field once, found it again; leave one out")
            known.add(place)
            key = "change" if one.relative is None else "relative"
            _drift(scenario, one)
        except (StudyError, QuantityError) as error:
            found.append(Problem(("drift", index, key), str(error)))
    if found or not scenario.document.drift:
        return found
    document = scenario.document
    if not document.accept:
        return [
            Problem(
                ("drift", 0, "field"),
                "expected what must hold as the instrument drifts, found no [[accept]]; add "
                'measure = "plates" and at_least = 10000 below [[accept]]',
            )
        ]
    counted = any(one.per != "month" for one in document.drift)
    if counted and document.retest.injections_per_month is None:
        return [
            Problem(
                ("retest", "injections_per_month"),
                "expected how often the instrument is used, as a drift is per 1000 injections, "
                "found nothing; add injections_per_month = 400",
            )
        ]
    return []


def _drift(scenario: Contents, one: DriftTable) -> Drift:
    found = target(scenario.tables, one.field)
    nominal = None
    if found.kind not in ("words", "text"):
        nominal = value_at(scenario.document, found.place)
    if nominal is None:
        raise StudyError(
            f"expected a field to which the scenario gives a number, found none at {found.name}; "
            "give it one, or take another"
        )
    rate = _change(one, found, nominal)
    if one.per != "month":
        rate *= (scenario.document.retest.injections_per_month or math.nan) / THOUSAND
    shape = Distribution(word="normal", deviation=abs(rate) * one.uncertainty)
    row = Input(
        target=found, nominal=nominal, distribution=shape, kind="drift", because=one.because
    )
    return Drift(input=row, where=where_is(scenario.document, found.place), rate=rate)


def _change(one: DriftTable, found: Target, nominal: float) -> float:
    """What a field changes by in the time that is stated, in its SI unit."""
    if (one.change is None) == (one.relative is None):
        both = "both" if one.change is not None else "neither"
        raise QuantityError(f"expected change or relative, found {both}; give one")
    if one.relative is not None:
        return one.relative * nominal
    if found.kind in KINDS:
        return parse_difference(one.change, found.kind)
    number = isinstance(one.change, int | float) and not isinstance(one.change, bool)
    if not number or not math.isfinite(one.change):
        raise QuantityError(
            f"expected a number without a unit, found {shortened(one.change)}; write 0.1"
        )
    return float(one.change)
