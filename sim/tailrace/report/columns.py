"""What an instrument leaves of each of several columns: tables and sentences."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np

from tailrace.journey.result import OnColumn, Result
from tailrace.measures.registry import METRICS, PLATES, PLATES_OWN
from tailrace.quantities.described import descriptions
from tailrace.quantities.kinds import plain
from tailrace.report.numbers import percent, significant
from tailrace.report.sentences import ABOUT
from tailrace.report.table import Column, Table, field, numbers, tabulated, words
from tailrace.studies.improving.result import LEAST_WORTH, Improvement

OF_WORST = "of the solute that keeps least"


def left_table(result: Result) -> Table | None:
    """What a run leaves of each column; None where there are not several."""
    if not result.columns:
        return None
    described_fields = descriptions(OnColumn)

    def of(name: str) -> Any:
        return lambda one: getattr(one, name)[one.worst]

    columns = [
        field(OnColumn, "name"),
        numbers(described_fields["could_give"], of("could_give")),
        numbers(described_fields["recorded"], of("recorded"), of("numerical_error")),
        numbers(described_fields["kept"], of("kept")),
        words("of", lambda one: result.lanes[one.worst]),
        field(OnColumn, "pressure", under=ABOUT),
    ]
    label = METRICS[result.columns[0].metric].label
    title = f"What the instrument leaves of each column ({label}, {OF_WORST})"
    return tabulated(title, columns, result.columns)


def left_lines(result: Result) -> list[str]:
    """Which column keeps least and most, and what a run with each warns of beside the others."""
    if not result.columns:
        return []
    known = [one for one in result.columns if np.isfinite(one.kept[one.worst])]
    ordered = sorted(known, key=lambda one: float(one.kept[one.worst]))
    lines = [
        f"Warning: with {one.name}: {text}"
        for one in result.columns
        for text in one.warnings
        if text not in result.warnings
    ]
    if len(ordered) > 1:
        low, high = ordered[0], ordered[-1]
        lines.append(
            f"Of the columns {low.name} keeps least, {percent(low.kept[low.worst])} %, and "
            f"{high.name} most, {percent(high.kept[high.worst])} %."
        )
    return lines


@dataclass(frozen=True)
class _Row:
    """One column under a plan of changes: the metric and its kept share after each step."""

    name: str
    own: float
    value: tuple[float, ...]
    error: tuple[float, ...]

    @property
    def kept(self) -> tuple[float, ...]:
        return tuple(one / self.own for one in self.value)

    @property
    def gains(self) -> tuple[float, ...]:
        return tuple(np.diff(self.value).tolist())


def _rows(improvement: Improvement) -> list[_Row]:
    found = improvement.combinations.by_column
    if found is None:
        return []
    steps = [step.combination for step in improvement.steps]
    return [
        _Row(
            name,
            float(found.ceiling[at]),
            tuple(found.value[steps, at].tolist()),
            tuple(found.error[steps, at].tolist()),
        )
        for at, name in enumerate(found.names)
    ]


def gains_table(improvement: Improvement) -> Table | None:
    """What each column keeps after each step; None where there are not several."""
    rows = _rows(improvement)
    if not rows:
        return None
    columns: list[Column] = [
        words("column", lambda row: row.name),
        words("could", lambda row: significant(row.own, 4), "give"),
        words("as it is", lambda row: significant(row.value[0], 4)),
        words("at the", lambda row: significant(row.value[-1], 4), "end"),
        words("kept, %:", lambda row: percent(row.kept[0]), "as it is"),
        *(
            words("after", partial(_kept, step.number), f"step {step.number}")
            for step in improvement.steps[1:]
        ),
    ]
    label = METRICS[improvement.aim.metric].label
    return tabulated(f"What each column gains ({label}, {OF_WORST})", columns, rows)


def _kept(step: int, row: _Row) -> str:
    return percent(row.kept[step])


def gains_lines(improvement: Improvement) -> list[str]:
    """Which column gains from which step, that which gains most first, and which hardly gains."""
    rows = sorted(_rows(improvement), key=lambda row: row.kept[0] - row.kept[-1])
    return [_gained(row, improvement) for row in rows if improvement.steps[1:]]


def _gained(row: _Row, improvement: Improvement) -> str:
    what = METRICS[PLATES if improvement.aim.metric == PLATES_OWN else improvement.aim.metric].label
    text = (
        f"{row.name}: {plain(row.value[0], 4)} to {plain(row.value[-1], 4)} {what}, "
        f"{percent(row.kept[0])} to {percent(row.kept[-1])} % of what it could give"
    )
    if row.value[-1] - row.value[0] < LEAST_WORTH * row.value[0]:
        return f"{text}; it hardly gains."
    bring = [
        at
        for at, gain in enumerate(row.gains, 1)
        if gain >= improvement.stop * row.value[at - 1] and gain > row.error[at] + row.error[at - 1]
    ]
    most = int(np.argmax(row.gains))
    idle = [at for at in range(1, len(row.value)) if at not in bring]
    text += f"; most from step {most + 1} ({improvement.steps[most + 1].change})"
    if idle:
        text += f", hardly anything from {_steps(idle)}"
    return f"{text}."


def _steps(numbers_: Sequence[int]) -> str:
    listed = [str(one) for one in numbers_]
    if len(listed) == 1:
        return f"step {listed[0]}"
    return f"steps {', '.join(listed[:-1])} and {listed[-1]}"


def gains_json(improvement: Improvement) -> list[dict[str, Any]]:
    """Each column with what it could give, and figure, error and kept share after each step."""
    return [
        {
            "name": row.name,
            "could_give": row.own,
            "steps": [
                {"step": at, "figure": value, "numerical_error": error, "kept": kept}
                for at, (value, error, kept) in enumerate(
                    zip(row.value, row.error, row.kept, strict=True)
                )
            ],
        }
        for row in _rows(improvement)
    ]
