"""What ``run --json`` prints: one object of plain numbers in SI, always with the same keys."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from tailrace.journey.result import PartResult, Result
from tailrace.measures.registry import CAPACITY, PLATES, SIGNALS, TAILING, of_peaks
from tailrace.quantities.described import descriptions
from tailrace.records.layout import as_json as plain
from tailrace.records.separation import Separation, separation

COLUMN_ALONE = (PLATES, TAILING, CAPACITY)
PART = ("volume", "residence", "fourier_number", "variance_volume", "gradient_focusing")
BACK = {
    "plates_back": "plates",
    "peak_capacity_back": "peak_capacity",
    "resolution_back": "resolution",
    "back_error": "numerical_error",
}
"""Keys of a part, and the fields of ``Regained`` that they read."""
PART_BY_ORIGIN = {
    "mean": ("closed_form", "simulated"),
    "variance": ("gaussian_theory", "exact", "simulated"),
    "skewness": ("exact", "simulated"),
}


def as_json(result: Result, title: str, sha256: str, version: str) -> dict[str, Any]:
    """Turn a result into the object that the scenario contract describes.

    ``title``, ``sha256``, ``version``: of the scenario, of the bytes of its file, and of the
    program. It holds text, numbers in SI and None where a value does not exist; ready for
    ``json.dumps``.
    The keys are always all there: without a column the metrics of ``column_alone`` are None, with a
    gradient the plates, without one ``peak_capacity`` and ``gradient_focusing``.
    """
    return {
        "contract": 2,
        "title": title,
        "scenario_sha256": sha256,
        "version": version,
        "solutes": [_solute(result, lane) for lane in range(len(result.lanes))],
        "pressure": plain(result.pressure),
        "resolution": _neighbours(separation(result)),
        "warnings": list(result.warnings),
    }


def _solute(result: Result, lane: int) -> dict[str, Any]:
    return {
        "name": result.lanes[lane],
        "parts": [_part(part, lane) | _back(result, part.name, lane) for part in result.parts],
        "recorded": _pick(result.recorded, of_peaks(), lane),
        "column_alone": _pick(result.column_alone or {}, COLUMN_ALONE, lane),
        "numerical_error": _pick(result.numerical_error, of_peaks(), lane),
        "signal": _pick(result.signal, SIGNALS, lane),
    }


def _neighbours(pairs: Separation) -> list[dict[str, Any]]:
    """Neighbours in the order of elution; exactly one pair is the critical one, if any can be."""
    columns = {name: plain(getattr(pairs, name)) for name in descriptions(Separation)}
    return [
        {name: column[pair] for name, column in columns.items()}
        | {"critical": pair == pairs.critical}
        for pair in range(len(pairs.first))
    ]


def _part(part: PartResult, lane: int) -> dict[str, Any]:
    def number(name: str) -> Any:
        return plain(np.broadcast_to(getattr(part, name), part.volume.shape)[lane])

    return {
        "name": part.name,
        "part": part.kind,
        "behind": part.behind,
        **{name: number(name) for name in PART},
        **{
            group: {origin: number(f"{group}_{origin}") for origin in origins}
            for group, origins in PART_BY_ORIGIN.items()
        },
    }


def _back(result: Result, name: str, lane: int) -> dict[str, Any]:
    """What comes back if a part alone were ideal; None of the column, and where not known."""
    found: dict[str, Any] = dict.fromkeys(BACK)
    if result.regained is not None:
        for key, field in BACK.items():
            value = getattr(result.regained, field).get(name)
            found[key] = (
                None if value is None else plain(float(np.ravel(value)[lane % np.size(value)]))
            )
    return found


def _pick(metrics: Mapping[str, Any], keys: Any, lane: int) -> dict[str, Any]:
    return {key: plain(float(metrics[key][lane])) if key in metrics else None for key in keys}
