"""Many cases as the lanes of one journey, and what it says taken apart again.

Lanes are in the order of the cases, within a case in that of the solutes.
"""

from collections.abc import Mapping, Sequence
from dataclasses import fields, replace
from typing import Any

import numpy as np

from tailrace.journey.hydraulics import pressure
from tailrace.journey.itinerary import Itinerary
from tailrace.journey.result import PartResult, Pressure, Result
from tailrace.journey.signal import too_dark
from tailrace.journey.validity import warnings_of
from tailrace.quantities.arrays import AnyArray, FloatArray
from tailrace.signals.band import Band

ALIKE = ("tanks", "signal_times", "signal_heights", "programme_times", "programme_fractions")
"""Numbers of which a journey takes one for all lanes, as it does of every word."""
ASIDE = ("pressure_limit",)
"""Numbers that no march reads; they are held against each case's own pressure afterwards."""
PART_METRICS = tuple(
    field.name
    for field in fields(PartResult)
    if field.name not in ("name", "kind", "behind", "band")
)


def kinship(itinerary: Itinerary) -> tuple[Any, ...]:
    """What two cases must have in common to be lanes of one journey; can be compared and hashed."""
    return tuple(
        (type(part).__name__, *(_trait(name, value) for name, value in _entries(part)))
        for part, _ in itinerary.passages
    )


def joined(itineraries: Sequence[Itinerary]) -> Itinerary:
    """One journey for cases that are kin.

    Parameters
    ----------
    itineraries : sequence of Itinerary

    Returns
    -------
    Itinerary
        Every number that may differ is a (lanes,) array; without limits of pressure.
    """
    each = len(itineraries[0].lanes)
    passages = []
    for steps in zip(*(one.passages for one in itineraries), strict=True):
        parts, streams = zip(*steps, strict=True)
        passages.append((_stacked(parts, each), _stacked(streams, each)))
    lanes = tuple(name for one in itineraries for name in one.lanes)
    return replace(
        itineraries[0], lanes=lanes, passages=tuple(passages), pressure_limit=float("nan")
    )


def metrics_of(result: Result, itineraries: Sequence[Itinerary]) -> dict[str, AnyArray]:
    """Everything but the bands that a joined journey says, case by case.

    Parameters
    ----------
    result : Result
        Of the joined journey.
    itineraries : sequence of Itinerary

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
    passages = [
        [(part, stream.over(shape[1])) for part, stream in one.passages] for one in itineraries
    ]
    drops = [pressure(one) for one in passages]
    metrics["pressure/total"] = np.array([one.total for one in drops])
    metrics["pressure/cell_inlet"] = np.array([one.cell_inlet for one in drops])
    metrics["pressure/drop"] = np.array([list(one.parts.values()) for one in drops])
    metrics["computed"] = np.ones(shape[0], dtype=bool)
    warnings = [
        [
            *warnings_of(passages[case], one, *_recorded(result, case, shape[1]), drops[case]),
            *too_dark({"absorbance": metrics["signal/absorbance"][case]}, one.lanes),
        ]
        for case, one in enumerate(itineraries)
    ]
    metrics["warnings"] = np.array(["\n".join(lines) for lines in warnings])
    return metrics


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


def _entries(record: Any) -> list[tuple[str, Any]]:
    return [(field.name, getattr(record, field.name)) for field in fields(record)]


def _same(name: str, value: object) -> bool:
    return name in ALIKE or isinstance(value, (str, bool, tuple))


def _trait(name: str, value: Any) -> Any:
    if isinstance(value, np.ndarray) and _same(name, value):
        return value.tobytes()
    # A zero switches a filter off; beside one that is on it would cost all lanes its grid.
    return value if _same(name, value) else bool(np.all(np.equal(value, 0.0)))


def _stacked(records: Sequence[Any], each: int) -> Any:
    """One part or stream for all cases, each number once for every lane of its case."""
    first, numbers = records[0], dict[str, Any]()
    for name, value in _entries(first):
        if name in ASIDE:
            numbers[name] = float("nan")
        elif not _same(name, value):
            rows = [np.broadcast_to(getattr(one, name), (each,)) for one in records]
            numbers[name] = np.concatenate(rows).astype(float)
    return replace(first, **numbers)


def _recorded(result: Result, case: int, each: int) -> tuple[FloatArray, Band]:
    """What all time windows of one case cut off, and its recorded band."""
    pick = slice(case * each, (case + 1) * each)
    lost = np.sum([part.amount_lost for part in result.parts], axis=0)
    band = band_of(result)
    return lost[pick], Band(band.values[pick], band.start[pick], band.step[pick])
