"""What ``run --json`` prints: one object of plain numbers in SI, always with the same keys."""

import math

RECORDED = (
    "apex",
    "area",
    "mean",
    "variance",
    "skewness",
    "width_half",
    "plates_half_height",
    "plates_moments",
    "tailing_5",
    "asymmetry_10",
    "amount_recovered",
)
COLUMN_ALONE = ("plates_half_height", "tailing_5")
NUMERICAL_ERROR = ("variance", "width_half", "plates_half_height", "tailing_5")


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
        keys are always all there: without a column the figures of ``column_alone`` are None.
    """
    return {
        "title": title,
        "scenario_sha256": sha256,
        "version": version,
        "solutes": [_solute(result, lane) for lane in range(len(result.lanes))],
        "pressure": {
            "total": _number(result.pressure.total),
            "parts": {name: _number(drop) for name, drop in result.pressure.parts.items()},
            "cell_inlet": _number(result.pressure.cell_inlet),
        },
        "warnings": list(result.warnings),
    }


def _solute(result, lane):
    return {
        "name": result.lanes[lane],
        "parts": [_part(part, lane) for part in result.parts],
        "recorded": _pick(result.recorded, RECORDED, lane),
        "column_alone": _pick(result.column_alone or {}, COLUMN_ALONE, lane),
        "numerical_error": _pick(result.numerical_error, NUMERICAL_ERROR, lane),
    }


def _part(part, lane):
    return {
        "name": part.name,
        "part": part.kind,
        "volume": _number(part.volume[lane]),
        "residence": _number(part.residence[lane]),
        "mixing_number": _number(part.mixing_number[lane]),
        "mean": {
            "closed_form": _number(part.mean_closed_form[lane]),
            "simulated": _number(part.mean_simulated[lane]),
        },
        "variance": {
            "gaussian_theory": _number(part.variance_gaussian_theory[lane]),
            "exact": _number(part.variance_exact[lane]),
            "simulated": _number(part.variance_simulated[lane]),
        },
        "skewness": {
            "exact": _number(part.skewness_exact[lane]),
            "simulated": _number(part.skewness_simulated[lane]),
        },
    }


def _pick(figures, keys, lane):
    return {key: _number(figures[key][lane]) if key in figures else None for key in keys}


def _number(value):
    """A finite float, or None: JSON has no word for a number that does not exist."""
    number = float(value)
    return number if math.isfinite(number) else None
