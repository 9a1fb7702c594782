"""Many cases as the lanes of one journey, and what it says taken apart again.

Lanes are in the order of the cases, within a case in that of the solutes.
"""

from collections.abc import Mapping, Sequence
from dataclasses import fields
from typing import Any

import numpy as np

from tailrace.journey.hydraulics import at_cells, drops_of, pressure
from tailrace.journey.itinerary import Itinerary
from tailrace.journey.propagation import spread
from tailrace.journey.result import PartResult, Pressure, Result
from tailrace.journey.signal import too_dark
from tailrace.journey.validity import NEAR, warnings_of
from tailrace.parts.base import Passages
from tailrace.quantities.arrays import AnyArray, FloatArray
from tailrace.signals.band import Band
from tailrace.studies.cases import joined, limits_of

PART_METRICS = tuple(
    field.name
    for field in fields(PartResult)
    if field.name not in ("name", "kind", "behind", "band")
)


def metrics_of(
    result: Result, itineraries: Sequence[Itinerary], whole: Itinerary | None = None
) -> dict[str, AnyArray]:
    """Everything but the bands that a joined journey says, case by case.

    ``result``: of the joined journey; ``whole``: the joined journey, where it is at hand.

    Returns
    -------
    dict of str to array
        ``recorded/…``, ``numerical_error/…``, ``column_alone/…``, ``signal/…`` (cases, solutes);
        ``parts/…`` (cases, parts, solutes); ``pressure/total`` and ``pressure/cell_inlet``
        (cases,), ``pressure/drop`` (cases, parts of the path); ``warnings`` (cases,) of str, one
        line each; ``computed`` (cases,) of bool.
    """
    shape = (len(itineraries), len(itineraries[0].lanes))
    groups = {
        "recorded": result.recorded,
        "numerical_error": result.numerical_error,
        "column_alone": result.column_alone or {},
        "signal": result.signal,
    }
    metrics: dict[str, AnyArray] = {
        f"{group}/{name}": np.reshape(values, shape)
        for group, measures in groups.items()
        for name, values in measures.items()
    }
    for name in PART_METRICS:
        rows = [np.reshape(getattr(part, name), shape) for part in result.parts]
        metrics[f"parts/{name}"] = np.stack(rows, axis=1)
    whole = whole or joined(itineraries)
    pressures = pressures_of(spread(whole), shape[0])
    metrics |= pressures
    at_risk = _near_limits(spread(whole), itineraries, pressures["pressure/highest"])
    metrics["computed"] = np.ones(shape[0], dtype=bool)
    metrics["warnings"] = np.full(shape[0], "")
    if at_risk or not _quiet(result, whole):
        lines = [_warned(result, case, one) for case, one in enumerate(itineraries)]
        metrics["warnings"] = np.array(lines)
    return metrics


def pressures_of(passages: Passages, count: int) -> dict[str, AnyArray]:
    """Pressures of each of several cases, from joined passages.

    The highest are those with the most viscous liquid of a gradient's programme.
    """
    drops = np.array([one.reshape(count, -1)[:, 0] for one in drops_of(passages).values()])
    inlets, most = _inlets(passages, count), _thickest(passages, count)
    recording = [part.name for part, _ in passages if part.observes and not part.behind]
    total = drops.sum(axis=0) if len(drops) else np.zeros(count)
    inlet = inlets[recording[-1]] if recording else np.full(count, np.nan)
    return {
        "pressure/total": total,
        "pressure/cell_inlet": inlet,
        "pressure/highest": most * total,
        "pressure/highest_at_cell": most * inlet,
        "pressure/drop": drops.T.reshape(count, -1),
    }


def _thickest(passages: Passages, count: int) -> FloatArray:
    found = np.maximum(passages[0][1].thickest, 1.0)
    return np.broadcast_to(found, passages[0][1].lanes).reshape(count, -1)[:, 0]


def _inlets(passages: Passages, count: int) -> dict[str, FloatArray]:
    return {name: one.reshape(count, -1)[:, 0] for name, one in at_cells(passages).items()}


def _near_limits(passages: Passages, itineraries: Sequence[Itinerary], total: FloatArray) -> bool:
    """Whether any pressure comes near a limit."""
    count = len(itineraries)
    most = _thickest(passages, count)
    inlets = [most * one for one in _inlets(passages, count).values()]
    found = np.array([total, *inlets]).T
    return bool(np.any(found >= NEAR * limits_of(itineraries)))


def _quiet(result: Result, whole: Itinerary) -> bool:
    """Whether no lane gives cause for a warning, pressures aside."""
    lost = np.sum([part.amount_lost for part in result.parts], axis=0)
    none = np.nan
    nowhere = Pressure(total=none, parts={}, cell_inlet=none, highest=none, highest_at_cell=none)
    lines = warnings_of(spread(whole), whole, lost, band_of(result), nowhere)
    return not (lines or too_dark(result.signal, result.lanes))


def _warned(result: Result, case: int, one: Itinerary) -> str:
    """Warnings of one case, a line each."""
    passages, each = spread(one), len(one.lanes)
    pick = slice(case * each, (case + 1) * each)
    dark = {"absorbance": result.signal["absorbance"][pick]}
    lines = warnings_of(passages, one, *_recorded(result, case, each), pressure(passages))
    return "\n".join([*lines, *too_dark(dark, one.lanes)])


def band_of(result: Result) -> Band:
    """The recorded band of a result that was computed here; one read from a record has none."""
    if result.recorded_band is None:
        raise ValueError("expected a result with its bands, found one without; compute it")
    return result.recorded_band


def result_of(metrics: Mapping[str, AnyArray], case: int, itinerary: Itinerary) -> Result:
    """What one case says, without its bands.

    Parameters
    ----------
    metrics : dict of str to array
        As of ``metrics_of``.
    itinerary : Itinerary
        Of this case, or of another with parts of the same names.
    """
    own: dict[str, Any] = {name: values[case] for name, values in metrics.items()}
    path = [part for part, _ in itinerary.passages]
    rows = group(own, "parts")
    parts = tuple(
        PartResult(
            name=part.name,
            kind=part.kind,
            behind=part.behind,
            band=None,
            **{name: values[row] for name, values in rows.items()},
        )
        for row, part in enumerate(path)
    )
    flowed = [one.name for one in path if one.carries_flow]
    return Result(
        lanes=itinerary.lanes,
        parts=parts,
        recorded=group(own, "recorded"),
        column_alone=group(own, "column_alone") or None,
        column_band=None,
        numerical_error=group(own, "numerical_error"),
        pressure=Pressure(
            total=float(own["pressure/total"]),
            parts=dict(zip(flowed, own["pressure/drop"].tolist(), strict=True)),
            cell_inlet=float(own["pressure/cell_inlet"]),
            highest=float(own["pressure/highest"]),
            highest_at_cell=float(own["pressure/highest_at_cell"]),
        ),
        warnings=tuple(str(own["warnings"]).splitlines()),
        signal=group(own, "signal"),
    )


def group(metrics: Mapping[str, Any], group: str) -> dict[str, Any]:
    """Those of a group, such as ``recorded``, by their own names."""
    return {
        name.partition("/")[2]: values
        for name, values in metrics.items()
        if name.startswith(f"{group}/")
    }


def _recorded(result: Result, case: int, each: int) -> tuple[FloatArray, Band]:
    """What all time windows of one case cut off, and its recorded band."""
    pick = slice(case * each, (case + 1) * each)
    lost = np.sum([part.amount_lost for part in result.parts], axis=0)
    band = band_of(result)
    return lost[pick], Band(band.values[pick], band.start[pick], band.step[pick])
