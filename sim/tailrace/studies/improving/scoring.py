"""The aim's metric of every journey: simulated, by textbook variances, and of the column alone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from tailrace.journey.signal import compared
from tailrace.journey.textbook import textbook_metric
from tailrace.measures import METRICS, Gaussian
from tailrace.measures.chromatogram import half_height_resolution, half_height_resolution_error
from tailrace.measures.registry import APEX, EXTRA_COLUMN, HEIGHT, WIDTH
from tailrace.quantities.arrays import AnyArray, FloatArray
from tailrace.studies.improving.aims import Aim

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
    metrics: Metrics, first: Metrics, lanes: tuple[str, ...], aim: Aim
) -> dict[str, AnyArray]:
    """Read the aim's metric off the metrics of journeys.

    ``first`` are those of the start alone: (1, solutes) arrays. Returned are (journeys,) arrays by
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
        read = _peaks(own, of, aim) if aim.metric in METRICS else _signal(own, base, of, aim)
    # A peak without such a metric is the worst of all: then there is none.
    worst = np.argmax(np.where(np.isnan(read.value), np.inf, -aim.sign * read.value), axis=1)
    rows = np.arange(len(worst))
    most = np.min if aim.sign > 0 else np.max
    ratios = _ratios(metrics, first)
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


def _ratios(metrics: Metrics, first: Metrics) -> dict[str, FloatArray]:
    names = ("concentration_recorded", "light_path", "relative_noise")
    found: dict[str, FloatArray] = compared(
        {name: metrics[f"signal/{name}"] for name in names},
        {name: first[f"signal/{name}"] for name in names},
    )
    return found


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


def _signal(metrics: Metrics, first: Metrics, of: AnyArray, aim: Aim) -> _Readings:
    """Signal over noise, whose error and Gaussian value go with the height."""
    height, error = metrics[f"recorded/{HEIGHT}"], metrics[f"numerical_error/{HEIGHT}"]
    gaussian = textbook_metric(HEIGHT, _textbook(metrics)) / height
    relative = error / height
    value = metrics[f"signal/{aim.metric}"]
    if aim.relative:
        value = _ratios(metrics, first)["signal_to_noise"]
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
