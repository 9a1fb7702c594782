"""What ``run --json`` prints: one object of plain numbers in SI, always with the same keys."""

import math

import numpy as np

from tailrace.measures.registry import (
    CAPACITY,
    PLATES,
    RESOLUTION,
    SIGNALS,
    TAILING,
    VALLEY,
    of_peaks,
)
from tailrace.records.separation import separation

COLUMN_ALONE = (PLATES, TAILING, CAPACITY)
RESOLUTIONS = (RESOLUTION, "numerical_error", "column_alone", VALLEY, "from_valley")


def as_contract(result, title, sha256, version):
    """Turn a result into the object that the scenario contract describes.

    Parameters
    ----------
    result : Result
    title, sha256, version : str
        Of the scenario, of the bytes of its file, and of the program.

    Returns
    -------
    dict
        Text, numbers in SI and None where a value does not exist; ready for ``json.dumps``. The
        keys are always all there: without a column the figures of ``column_alone`` are None, with
        a gradient the plates, without one ``peak_capacity`` and ``gradient_focusing``.
    """
    return {
        "contract": 2,
        "title": title,
        "scenario_sha256": sha256,
        "version": version,
        "solutes": [_solute(result, lane) for lane in range(len(result.lanes))],
        "pressure": {
            "total": _number(result.pressure.total),
            "parts": {name: _number(drop) for name, drop in result.pressure.parts.items()},
            "cell_inlet": _number(result.pressure.cell_inlet),
        },
        "resolution": _resolution(result),
        "warnings": list(result.warnings),
    }


def _solute(result, lane):
    return {
        "name": result.lanes[lane],
        "parts": [_part(part, lane) for part in result.parts],
        "recorded": _pick(result.recorded, of_peaks(), lane),
        "column_alone": _pick(result.column_alone or {}, COLUMN_ALONE, lane),
        "numerical_error": _pick(result.numerical_error, of_peaks(), lane),
        "signal": _pick(result.signal, SIGNALS, lane),
    }


def _resolution(result):
    """Neighbours in the order of elution; exactly one pair is the critical one, if any can be."""
    pairs = separation(result)
    return [
        {
            "first": first,
            "second": second,
            **{name: _number(getattr(pairs, name)[pair]) for name in RESOLUTIONS},
            "critical": pair == pairs.critical,
        }
        for pair, (first, second) in enumerate(zip(pairs.first, pairs.second, strict=True))
    ]


def _part(part, lane):
    return {
        "name": part.name,
        "part": part.kind,
        "behind": part.behind,
        "volume": _number(part.volume[lane]),
        "residence": _number(part.residence[lane]),
        "fourier_number": _number(part.fourier_number[lane]),
        "mean": {
            "closed_form": _number(part.mean_closed_form[lane]),
            "simulated": _number(part.mean_simulated[lane]),
        },
        "variance": {
            "gaussian_theory": _number(part.variance_gaussian_theory[lane]),
            "exact": _number(part.variance_exact[lane]),
            "simulated": _number(part.variance_simulated[lane]),
        },
        "variance_volume": _number(part.variance_volume[lane]),
        "skewness": {
            "exact": _number(part.skewness_exact[lane]),
            "simulated": _number(part.skewness_simulated[lane]),
        },
        "gradient_focusing": _number(
            np.broadcast_to(part.gradient_focusing, part.volume.shape)[lane]
        ),
    }


def _pick(figures, keys, lane):
    return {key: _number(figures[key][lane]) if key in figures else None for key in keys}


def _number(value):
    """A finite float, or None: JSON has no word for a number that does not exist."""
    number = float(value)
    return number if math.isfinite(number) else None
