"""What ``tolerance --against`` says, as text and as one JSON object."""

from typing import Any

from tailrace.records.layout import as_json as plain
from tailrace.records.trade import Trade, in_words, trade
from tailrace.report.numbers import ABSENT, percent, significant, with_error
from tailrace.report.sentences import computed
from tailrace.report.table import Headline, Table, tabulated, words
from tailrace.studies.tolerance.result import Acceptance
from tailrace.studies.tolerance.transferring import Moved, Transfer


def blocks(found: Transfer) -> list[str | Table]:
    """What is shown."""
    shared = ", ".join(map(in_words, found.shared))
    drawn = (
        f"{found.samples} pairs of instruments, seed {found.seed}. The same on both: "
        f"{shared or 'nothing'}; all else is drawn for each. How far the model may lie off is "
        "left out, as if it were the same for both."
    )
    return [
        Headline(f"{found.title} → {found.other}"),
        _differences(found),
        _passes(found),
        drawn,
        *(computed(one) for one in found.engine),
        Headline(conclusion(found)),
    ]


def conclusion(found: Transfer) -> str:
    """Whether the method may go there."""
    one = found.both
    both = (
        f"Both instruments keep all limits in {_bound(one)} of pairs at "
        f"{percent(one.confidence)} % confidence ({percent(one.required)} % asked): "
        f"{one.state}. Where the first keeps them, the second does in "
        f"{percent(found.second_given_first)} %."
    )
    if found.equivalent is None:
        return f"{both} No margin was given: whether they are equivalent is not asked."
    one = found.equivalent
    return (
        f"{both} All differences are within their margins in {_bound(one)} "
        f"({percent(one.required)} % asked): equivalence {one.state}."
    )


def _bound(one: Acceptance) -> str:
    """What is sure of a share: at most, where that shows that it is too small."""
    if one.state == "not kept":
        return f"at most {percent(one.interval.high)} %"
    return f"at least {percent(one.lower_bound)} %"


def as_json(found: Transfer, sha256: tuple[str, str], version: str) -> dict[str, Any]:
    """The same as one object, numbers in SI."""
    return {
        "contract": 2,
        "version": version,
        "scenario_sha256": sha256[0],
        "against_sha256": sha256[1],
        **plain(found),
        "met": found.satisfied,
        "conclusion": conclusion(found),
    }


def _differences(found: Transfer) -> Table:
    def unit(one: Moved) -> Trade:
        return trade(one.kind, one.unit)

    def span(one: Moved, value: float) -> str:
        return significant(float(unit(one).span(value)))

    columns = (
        words("second less first", lambda one: unit(one).named(one.name)),
        words("as they", lambda one: _pm(unit(one), one.nominal, one.nominal_error), "stand"),
        words("mean", lambda one: _pm(unit(one), one.spread.mean, one.spread.mean_error)),
        words("standard", lambda one: span(one, one.spread.standard_uncertainty), "deviation"),
        words("95 %", lambda one: span(one, one.spread.symmetric.low), "from"),
        words("", lambda one: span(one, one.spread.symmetric.high), "to"),
        words("margin", lambda one: span(one, one.margin)),
        words("within, %", lambda one: _share(one.within), "at least"),
        words("", lambda one: ABSENT if one.within is None else one.within.state),
    )
    return tabulated("Differences of two instruments", columns, found.rows)


def _pm(unit: Trade, value: float, error: float) -> str:
    return with_error(float(unit.span(value)), float(unit.span(error)))


def _share(one: Acceptance | None) -> str:
    return ABSENT if one is None else percent(one.lower_bound)


def _passes(found: Transfer) -> Table:
    columns = (
        words("criterion", lambda row: row[0]),
        words("first keeps it,", lambda row: percent(row[1].probability), "% of pairs"),
        words("second,", lambda row: percent(row[2].probability), "% of pairs"),
    )
    rows = [(one.name, one.first, one.second) for one in found.rows]
    return tabulated("How often each instrument keeps its limits", columns, rows)
