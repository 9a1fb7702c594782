"""Which combinations have been simulated, what came of them, and the aim's metric of each."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, TypeAlias

import numpy as np

from tailrace.errors import AccuracyError, MeasureError
from tailrace.journey.signal import compared
from tailrace.journey.textbook import textbook_metric
from tailrace.measures import METRICS, Gaussian
from tailrace.measures.chromatogram import half_height_resolution, half_height_resolution_error
from tailrace.measures.registry import APEX, EXTRA_COLUMN, HEIGHT, WIDTH
from tailrace.quantities.arrays import AnyArray, FloatArray, IntArray
from tailrace.studies.batch import gathered, reason_of
from tailrace.studies.improving.aims import Aim
from tailrace.studies.improving.branches import Branches
from tailrace.studies.improving.planning import Plan
from tailrace.studies.improving.result import ByColumn, Combinations
from tailrace.studies.lanes import group
from tailrace.studies.runner import Runner

Metrics: TypeAlias = Mapping[str, AnyArray]
"""By ``group/name``, (journeys, solutes) arrays; see ``tailrace.studies.improving.branches``."""


@dataclass(frozen=True)
class _Readings:
    """The aim's metric of every solute or pair that counts; (journeys, solutes or pairs) arrays."""

    of: AnyArray
    value: FloatArray
    error: FloatArray
    ceiling: FloatArray
    theory: FloatArray


def scored(
    metrics: Metrics,
    first: Metrics,
    lanes: tuple[str, ...],
    aim: Aim,
    injected: FloatArray | float = 1.0,
) -> dict[str, AnyArray]:
    """Read the aim's metric off the metrics of journeys.

    ``first`` are those of the start alone: (1, solutes) arrays; ``injected``: how much is injected
    over the start's, (journeys, 1) array. Returned are (journeys,) arrays by
    the fields of ``Combinations``: ``value``, ``error``, ``of``, ``ceiling``, ``theory``,
    ``signal``, ``noise`` and ``signal_to_noise``.
    """
    counted = _counted(lanes, aim)
    own = {name: values[:, counted] for name, values in metrics.items() if values.ndim == 2}
    base = {name: values[:, counted] for name, values in first.items() if values.ndim == 2}
    names = np.array(lanes, dtype=object)[counted]
    if aim.of_pairs:
        read = _pairs(own, names, aim)
    else:
        of = np.broadcast_to(names, own[f"recorded/{HEIGHT}"].shape)
        read = (
            _peaks(own, of, aim) if aim.metric in METRICS else _signal(own, base, of, aim, injected)
        )
    # A peak without such a metric is the worst of all: then there is none.
    worst = np.argmax(np.where(np.isnan(read.value), np.inf, -aim.sign * read.value), axis=1)
    rows = np.arange(len(worst))
    most = np.min if aim.sign > 0 else np.max
    ratios = _ratios(metrics, first, injected)
    return {
        "value": read.value[rows, worst],
        "error": read.error[rows, worst],
        "of": read.of[rows, worst],
        "ceiling": most(read.ceiling, axis=1),
        "theory": most(read.theory, axis=1),
        "signal": np.min(ratios["signal"], axis=1),
        "noise": np.max(ratios["noise"], axis=1),
        "signal_to_noise": np.min(ratios["signal_to_noise"], axis=1),
    }


def on_all(
    each: Sequence[dict[str, AnyArray]], starts: Sequence[dict[str, AnyArray]]
) -> dict[str, AnyArray]:
    """The mean over columns of what each keeps.

    ``each``: as of ``scored``, on one column after the other; ``starts``: those of the start.
    Returned as of ``scored``; with one column alone its own.
    """
    if len(each) == 1:
        return each[0]
    shares = {
        name: np.mean(
            [
                one[name] / np.broadcast_to(start["ceiling"], one[name].shape)
                for one, start in zip(each, starts, strict=True)
            ],
            axis=0,
        )
        for name in ("value", "error", "ceiling", "theory")
    }
    return {
        **shares,
        "of": np.full(len(each[0]["value"]), ""),
        "signal": np.min([one["signal"] for one in each], axis=0),
        "noise": np.max([one["noise"] for one in each], axis=0),
        "signal_to_noise": np.min([one["signal_to_noise"] for one in each], axis=0),
    }


def side_by_side(
    each: Sequence[dict[str, AnyArray]], columns: Sequence[str]
) -> dict[str, AnyArray]:
    """Metrics on several columns as one instrument's: solutes beside each other, most pressure.

    ``each``: (journeys, solutes) and (journeys,) arrays, on one column after the other.
    """
    if len(each) == 1:
        return each[0]
    found: dict[str, AnyArray] = {
        name: np.concatenate([one[name] for one in each], axis=1)
        for name, values in each[0].items()
        if values.ndim == 2
    }
    warnings = [
        "\n".join(
            f"{column}: {line}"
            for column, text in zip(columns, texts_of, strict=True)
            for line in text.splitlines()
        )
        for texts_of in zip(*(one["warnings"].tolist() for one in each), strict=True)
    ]
    return found | {
        "pressure/highest": np.max([one["pressure/highest"] for one in each], axis=0),
        "computed": np.all([one["computed"] for one in each], axis=0),
        "warnings": np.array(warnings),
    }


def named(lanes: Sequence[str], columns: Sequence[str]) -> tuple[str, ...]:
    """Solutes side by side on several columns: ``cohumulone, short column``."""
    if not columns:
        return tuple(lanes)
    return tuple(f"{lane}, {column}" for column in columns for lane in lanes)


def _counted(lanes: tuple[str, ...], aim: Aim) -> list[int]:
    """Places of the solutes that count."""
    if not aim.of:
        return list(range(len(lanes)))
    if not aim.of_pairs:
        return [lanes.index(aim.of)]
    return next(
        [at, place]
        for at, one in enumerate(lanes)
        for place, other in enumerate(lanes)
        if at != place and f"{one}/{other}" == aim.of
    )


def _ratios(
    metrics: Metrics, first: Metrics, injected: FloatArray | float
) -> dict[str, FloatArray]:
    names = ("concentration_recorded", "light_path", "relative_noise")
    found: dict[str, FloatArray] = compared(
        {name: metrics[f"signal/{name}"] for name in names},
        {name: first[f"signal/{name}"] for name in names},
    )
    return found | {name: found[name] * injected for name in ("signal", "signal_to_noise")}


def _alone(metrics: Metrics, name: str) -> FloatArray:
    nowhere = np.full_like(metrics[f"recorded/{HEIGHT}"], np.nan)
    return metrics.get(f"column_alone/{name}", nowhere)


def _textbook(metrics: Metrics) -> Gaussian:
    return Gaussian(
        mean=metrics["textbook/mean"],
        variance=metrics["textbook/variance"],
        gradient_time=metrics.get("setting/gradient_time"),
    )


def _peaks(metrics: Metrics, of: AnyArray, aim: Aim) -> _Readings:
    """A metric of single peaks."""
    value, error = (metrics[f"{group}/{aim.metric}"] for group in ("recorded", "numerical_error"))
    theory = metrics.get(f"textbook/{aim.metric}")
    if theory is None:
        theory = textbook_metric(aim.metric, _textbook(metrics))
    if aim.metric == EXTRA_COLUMN:
        ceiling = np.zeros_like(value)  # an ideal instrument adds nothing
    else:
        ceiling = _alone(metrics, aim.metric)
    return _Readings(of, value, error, ceiling, theory)


def _signal(
    metrics: Metrics, first: Metrics, of: AnyArray, aim: Aim, injected: FloatArray | float
) -> _Readings:
    """Signal over noise, whose error and Gaussian value go with the height."""
    height, error = metrics[f"recorded/{HEIGHT}"], metrics[f"numerical_error/{HEIGHT}"]
    gaussian = textbook_metric(HEIGHT, _textbook(metrics)) / height
    relative = error / height
    value = metrics[f"signal/{aim.metric}"]
    if aim.relative:
        value = _ratios(metrics, first, injected)["signal_to_noise"]
        before = first[f"recorded/{HEIGHT}"]
        gaussian = gaussian / (textbook_metric(HEIGHT, _textbook(first)) / before)
        relative = relative + first[f"numerical_error/{HEIGHT}"] / before
    ceiling = np.full_like(value, np.nan)  # light path and noise change: there is none
    return _Readings(of, value, value * relative, ceiling, value * gaussian)


def _pairs(metrics: Metrics, names: AnyArray, aim: Aim) -> _Readings:
    """The resolution of neighbours, in the order in which they elute."""
    groups = ("recorded", "numerical_error")
    peaks = [metrics[f"{group}/{name}"] for group in groups for name in (APEX, WIDTH)]
    alone = [_alone(metrics, name) for name in (APEX, WIDTH)]
    own, ideal = _in_order(peaks), _in_order(alone)
    eluted = names[np.argsort(peaks[0], axis=1, kind="stable")]
    return _Readings(
        of=eluted[:, :-1] + "/" + eluted[:, 1:],
        value=half_height_resolution(*own[:2]),
        error=half_height_resolution_error(*own),
        ceiling=half_height_resolution(*ideal),
        theory=textbook_metric(aim.metric, _textbook(metrics)),
    )


def _in_order(peaks: list[FloatArray]) -> list[FloatArray]:
    """(journeys, solutes) arrays, each journey in the order of the first."""
    order = np.argsort(peaks[0], axis=1, kind="stable")
    return [np.take_along_axis(one, order, axis=1) for one in peaks]


GROUPS = {
    "recorded": "recorded",
    "numerical_error": "numerical_error",
    "column_alone": "column_alone",
    "signals": "signal",
    "textbook": "textbook",
}
"""Metrics by solute: fields of ``Combinations``, and groups of a batch's metrics."""


class Ledger:
    """Simulates combinations when they are asked for, each instrument once.

    ``rows`` gives the row of a combination in ``table``; ``score`` the value of each row, where
    greater is better. Raises AccuracyError or MeasureError where the start has no such metric.
    """

    table: Combinations
    score: FloatArray
    bits: IntArray
    """Combinations by row."""

    def __init__(self, plan: Plan, runner: Runner) -> None:
        self.plan, self._runner = plan, runner
        self.rows = {one: row for row, one in enumerate(plan.combinations)}
        self._which = list(plan.instruments.which)
        self._limits = list(plan.instruments.cell_limits)
        self._metrics = runner.run(plan.batch)
        self._count = len(plan.batch.itineraries)
        self._settle()
        if not self.table.computed[0]:
            reason = reason_of(self._metrics, 0)
            raise AccuracyError(f"the start could not be computed: {reason}")
        if np.isnan(self.score[0]):
            raise MeasureError(
                f"aim {plan.aim.key}: expected a start with such a metric, found a peak that has "
                "none; choose another aim, or record more densely"
            )

    def simulate(self, combinations: Iterable[int], stage: str) -> None:
        """Simulate those of some combinations that are allowed and have not been yet.

        ``stage`` names the batch in the checkpoint.
        """
        plan = self.plan
        news = [one for one in dict.fromkeys(combinations) if one not in self.rows]
        news = [one for one in news if plan.allowed(one)]
        if not news:
            return
        built = plan.bench.build([plan.taken(one) for one in news])
        for one in news:
            self.rows[one] = len(self.rows)
        self._which += built.which
        self._limits += built.cell_limits
        fresh = built.itineraries[self._count :]
        if fresh:
            metrics = self._runner.run(Branches(stage, fresh, self._where(self._count)))
            total = len(built.itineraries)
            self._metrics = gathered(
                [self._metrics, metrics], [range(self._count), range(self._count, total)]
            )
            self._count = total
        self._settle()

    def best_of(self, rows: IntArray | slice = slice(None)) -> int:
        """The combination with the best value among some rows; of equals the first by number."""
        values = np.where(np.isnan(self.score[rows]), -np.inf, self.score[rows])
        return int(self.bits[rows][np.lexsort((self.bits[rows], -values))[0]])

    def value(self, combination: int) -> float:
        """Score of a combination, float, 1; minus infinity where it has none."""
        row = self.rows.get(combination)
        score = np.nan if row is None else self.score[row]
        return -np.inf if np.isnan(score) else float(score)

    def gain(self, before: int, after: int) -> tuple[float, float, float]:
        """Gain from one combination to another, its discretisation error, and that of theory."""
        if before not in self.rows or after not in self.rows:
            return np.nan, np.nan, np.nan
        one, other = self.rows[before], self.rows[after]
        table, sign = self.table, self.plan.aim.sign
        return (
            float(self.score[other] - self.score[one]),
            float(table.error[other] + table.error[one]),
            float(sign * (table.theory[other] - table.theory[one])),
        )

    def satisfies(self, combination: int) -> bool:
        """Whether a combination was simulated, has the metric and keeps to every constraint."""
        row = self.rows.get(combination)
        if row is None or np.isnan(self.score[row]):
            return False
        return bool(self.table.satisfied[row])

    def _where(self, first: int) -> Callable[[int], str]:
        """Says in words which combination a journey is; ``first`` are in earlier batches."""
        order, which = tuple(self.rows), tuple(self._which)
        return lambda journey: self.plan.where_of(first + journey, order, which)

    def _on(self, which: IntArray) -> dict[str, AnyArray]:
        """Metrics of the instruments of all combinations; not copied where each has its own."""
        if np.array_equal(which, np.arange(self._count)):
            return dict(self._metrics)
        return {name: values[which] for name, values in self._metrics.items()}

    def _settle(self) -> None:
        """Read scores and prices of all combinations."""
        plan, columns = self.plan, self.plan.bench.columns
        lanes = plan.batch.itineraries[0].lanes
        self.bits = np.fromiter(self.rows, dtype=np.int64, count=len(self.rows))
        injected = plan.bench.injected(self.bits, plan)
        each = [
            _dosed(self._on(which), share)
            for which, share in zip(np.array(self._which).T, injected, strict=True)
        ]
        firsts = [{name: values[:1] for name, values in one.items()} for one in each]
        own = [
            scored(one, first, lanes, plan.aim, share)
            for one, first, share in zip(each, firsts, injected, strict=True)
        ]
        scores = on_all(own, [{"ceiling": one["ceiling"][:1]} for one in own])
        metrics = side_by_side(each, columns)
        changes = plan.scenario.document.changes
        taken = (self.bits[:, None] >> np.arange(len(changes)) & 1).astype(bool)
        fields: dict[str, Any] = {**scores}
        fields |= {name: group(metrics, key) for name, key in GROUPS.items()}
        inlets, limits = _at_cells(each, np.array(self._limits))
        table = Combinations(
            **fields,
            solutes=named(lanes, columns),
            taken=taken,
            cost=taken @ np.array([one.cost for one in changes]),
            effort=taken @ np.array([one.effort for one in changes]),
            pressure=metrics["pressure/highest"],
            cell_pressure=inlets,
            cell_limit=limits,
            computed=metrics["computed"],
            satisfied=metrics["computed"],
            warnings=metrics["warnings"],
            by_column=_by_column(columns, own),
        )
        self.table = replace(table, satisfied=table.computed & table.keeping(plan.constraints))
        self.score = plan.aim.sign * table.value


def _dosed(metrics: dict[str, AnyArray], injected: FloatArray) -> dict[str, AnyArray]:
    """Signals of so many times the start's amounts, which metrics are of."""
    names = [f"signal/{name}" for name in ("amount", "absorbance", "signal_to_noise")]
    return metrics | {name: metrics[name] * injected for name in names}


def _at_cells(each: Sequence[Metrics], limits: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Pressure at the cell and what it bears, with the column that leaves it the least margin.

    ``limits``: (combinations, columns) array, Pa.
    """
    inlets = np.array([one["pressure/highest_at_cell"] for one in each]).T
    margin = np.where(np.isnan(limits), 0.0, limits) - np.where(np.isnan(inlets), 0.0, inlets)
    rows, least = np.arange(len(inlets)), np.argmin(margin, axis=1)
    return inlets[rows, least], limits[rows, least]


def _by_column(columns: Sequence[str], own: Sequence[dict[str, AnyArray]]) -> ByColumn | None:
    if not columns:
        return None
    value, error, of = (np.array([one[key] for one in own]).T for key in ("value", "error", "of"))
    ceiling = np.array([one["ceiling"][0] for one in own])
    return ByColumn(names=tuple(columns), value=value, error=error, of=of, ceiling=ceiling)
