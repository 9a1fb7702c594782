"""What the JavaScript engine must know, from where the program says it: one object for JSON."""

from collections.abc import Mapping
from functools import lru_cache
from inspect import cleandoc
from types import UnionType
from typing import Any, Union, get_args, get_origin

import numpy as np
from pydantic import BaseModel
from pydantic.fields import FieldInfo
from pydantic_core import PydanticUndefined

from tailrace.eluent import density, diffusion, liquids, stream, viscosity
from tailrace.identity import own_version
from tailrace.journey import (
    evaluation,
    hydraulics,
    migration,
    points,
    product,
    signal,
    validity,
    windows,
)
from tailrace.measurements import evening, measuring, noise, spots
from tailrace.measures import chromatogram, registry, shape
from tailrace.measures.metric import Metric
from tailrace.parts import KINDS as PARTS
from tailrace.parts import usual
from tailrace.parts.base import Part
from tailrace.parts.column import gradient, gradient_march, gradient_theory, packing, tailing
from tailrace.parts.column import part as column
from tailrace.parts.detector import part as detector
from tailrace.parts.injector import points as injected
from tailrace.parts.injector import transfer as injection
from tailrace.parts.tube import part as tube
from tailrace.parts.tube import spectrum, theory
from tailrace.quantities.arrays import FloatArray
from tailrace.quantities.fields import Quantity
from tailrace.quantities.kinds import KINDS
from tailrace.quantities.units import prefixes, unit_table
from tailrace.scenario import build, model
from tailrace.scenario.target import field_bounds, field_kind
from tailrace.signals.resolution import Resolution
from tailrace.studies.improving import result
from tailrace.web.bend_packing import asked_for, packed
from tailrace.web.bends import bends
from tailrace.web.rolled import rolled

CONTRACT = 1
"""Of the object; the engine asks for it."""
TABLES: dict[str, type[BaseModel]] = {
    "scenario": model.Document,
    "method": model.MethodTable,
    "method.eluent": model.EluentTable,
    "solutes": model.SoluteTable,
    **{f"injection.{name}": one for name, one in model.SHAPE_TABLES.items()},
    "gradient": model.GradientTable,
    "gradient.programme": model.GradientPoint,
    **{f"path.{name}": one for name, one in model.PART_TABLES.items()},
    "detector": model.DetectorTable,
    "limits": model.LimitsTable,
    "numerics": model.NumericsTable,
    "changes": model.ChangeTable,
    "columns": model.ColumnTable,
}
"""Of a scenario file, by the name under which their fields are told."""


NUMBERS: dict[Any, tuple[str, ...]] = {
    product: (
        "REST",
        "WRAPPED",
        "UNRESOLVED",
        "ROOM",
        "FIRST",
        "STEP",
        "PROBES",
        "FARTHEST",
    ),
    windows: ("TAIL", "POINTS", "MOST_FREQUENCIES"),
    injected: ("UNEVEN", "ZEROS"),
    injection: ("STEPS", "DENSE"),
    evening: ("EVEN", "GAP", "MOST_EVEN"),
    noise: ("PIECE", "SHORTEST", "HIGHEST", "QUARTER"),
    spots: (
        "FEET",
        "LAST",
        "LEAST_FOLDS",
        "MOST_FOLDS",
        "OUT",
        "LEAST_SHARE",
        "BLANK_SHARE",
        "FEWEST_BLANK",
        "SMOOTHING",
        "FEWEST",
        "MOST_PEAKS",
        "MOST_POINTS",
        "BELOW",
        "STANDS",
        "FLAT",
    ),
    measuring: (
        *("WIDER", "MOSTLY", "PLAIN", "CERTAIN"),
        *("DRAWS", "FEWEST_DRAWS", "DRAWS_IN_ALL", "VARIANT_DRAWS"),
    ),
    points: ("APART", "MOST_TURNS", "DIFFERENCES"),
    hydraulics: ("ROUNDS", "PLACES"),
    evaluation: ("UNSEEN",),
    shape: (
        "HALF_HEIGHT",
        "PRINTED_PLATES",
        "FIVE_SIGMA_LEVEL",
        "FEWEST_SAMPLES",
        "FOOT",
        "MARGIN",
    ),
    chromatogram: ("RESOLUTION_FACTOR", "LEAST_VALLEY", "BARELY_APART", "REACH"),
    signal: ("NOISE_REFERENCE", "MOST_ABSORBANCE"),
    result: ("LEAST_WORTH",),
    validity: ("ESTIMATED", "NEAR", "PRESSURE_CAUTION", "NEAR_CAUTION"),
    column: ("TOTAL_POROSITY", "CORE_RATIO", "SYNONYMS", "EXTERNAL_POROSITY"),
    packing: ("EDDY", "PORE_DIFFUSIVITY", "STATIONARY_DIFFUSIVITY", "FILM"),
    detector: ("RISE_TIMES_IN_TIME_CONSTANTS", "LEAST_POINTS"),
    tube: ("LEAST_FOURIER", "MOST_FOURIER", "LEAST_PECLET", "MOST_DEAN", "LOOSE"),
    build: ("GAS_CONSTANT", "MOST_FACTOR", "PROGRAMME_STEPS"),
    stream: ("WATER_DENSITY", "LAMINAR_LIMIT", "KOZENY_CARMAN"),
}
"""Constants that the engine shares, by the module that holds them."""


@lru_cache(maxsize=1)
def facts() -> dict[str, Any]:
    """All of it: texts, numbers in SI, lists and tables, ready for JSON."""
    return {
        "contract": CONTRACT,
        "version": own_version(),
        "kinds": {name: _plain(vars(one)) for name, one in KINDS.items()},
        "units": {"names": unit_table(), "prefixes": prefixes()},
        "tables": {name: _table(one) for name, one in TABLES.items()},
        "parts": {name: _kind(one.part) for name, one in PARTS.items()},
        "usual": [_usual(one) for one in usual.USUAL],
        "metrics": {name: _metric(row) for name, row in registry.METRICS.items()},
        "signals": {name: _metric(row) for name, row in registry.SIGNALS.items()},
        "numbers": _numbers(),
        "eluent": _eluent(),
        "tube": _tube(),
        "bends": bends(),
        "migration": _migration(),
        "tailing": {
            "spreads": _plain(tailing.SPREADS),
            "shares": _plain(tailing.SHARES),
            **{
                name: rolled(table.T[..., None], 1e-6)
                for name, table in zip(("read", "shown"), tailing.tables(), strict=True)
            },
            "rounds": tailing.ROUNDS,
        },
    }


def computing_facts(tubes: FloatArray | None = None) -> dict[str, Any]:
    """Without what only forms say, and without what only gradients ask for.

    ``tubes``: C and X of bent ones between which others lie, (tubes, 2) array.
    """
    left = ("usual", "migration", "bends")
    found = {key: _wordless(value) for key, value in facts().items() if key not in left}
    if tubes is None or not len(tubes):
        return found
    return found | {"bends": bends(packed(asked_for(tubes)))}


def _wordless(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _wordless(one) for key, one in value.items() if key != "meaning"}
    return value


def _table(one: type[BaseModel]) -> dict[str, Any]:
    """What a table means, and its fields."""
    return {
        "meaning": cleandoc(one.__doc__ or ""),
        "fields": {key: _field(field) for key, field in one.model_fields.items()},
    }


def _field(field: FieldInfo) -> dict[str, Any]:
    kind, words = field_kind(field)
    united = get_origin(field.annotation) in (Union, UnionType)
    options = get_args(field.annotation) if united else (field.annotation,)
    if bool in options:
        kind, words = "boolean", ()
    elif int in options:
        kind = "number"
    elif kind == "text" and str not in options:
        kind = "table"
    found: dict[str, Any] = {"kind": kind, "needed": field.is_required()}
    if words:
        found["words"] = list(words)
    if kind == "number":
        bounds = field_bounds(field, kind)
        found |= {
            key: end for key, end in zip(("low", "high"), bounds, strict=True) if np.isfinite(end)
        }
    row = KINDS.get(kind)
    meaning = field.description or (row and f"{row.name[0].upper()}{row.name[1:]}, {row.bounds}.")
    found["meaning"] = meaning or ""
    endless = next((mark.endless for mark in _marks(field) if mark.endless), "")
    if endless:
        found["endless"] = endless
    if field.default not in (None, PydanticUndefined) and not isinstance(field.default, BaseModel):
        found["default"] = _plain(field.default)
    examples = field.examples or (row and list(row.examples))
    if examples:
        found["examples"] = _plain(examples)
    return found


def _marks(field: FieldInfo) -> list[Quantity]:
    every = [*field.metadata]
    for option in get_args(field.annotation):
        every += getattr(option, "__metadata__", ())
    return [mark for mark in every if isinstance(mark, Quantity)]


def _kind(part: type[Part]) -> dict[str, Any]:
    """What a kind of part is, and can."""
    can = ("injects", "separates", "observes", "records", "carries_flow", "smooths")
    return {"meaning": cleandoc(part.__doc__ or "").split("\n")[0]} | {
        name: getattr(part, name) for name in can
    }


def _usual(one: usual.Usual) -> dict[str, Any]:
    return {
        "name": one.name,
        "part": one.part,
        "words": list(one.words),
        "remark": one.remark,
        "ranges": {
            key: {
                "shown": list(row),
                "limits": list(one.limits(key)),
                "kind": usual.KIND_OF_KEY.get(key, "number"),
            }
            for key, row in one.ranges.items()
        },
    }


def _metric(row: Metric) -> dict[str, Any]:
    told = ("label", "unit", "meaning", "per", "kind", "shown", "digits", "in_gradient")
    names = (*told, "relative_to")
    return {name: getattr(row, name) for name in names}


def _numbers() -> dict[str, Any]:
    """Constants by the names that their modules give them."""
    return _taken(NUMBERS)


def _taken(asked: Mapping[Any, tuple[str, ...]]) -> dict[str, Any]:
    return {name: _plain(vars(module)[name]) for module, names in asked.items() for name in names}


def _eluent() -> dict[str, Any]:
    """Coefficients of the correlations."""
    asked: dict[Any, tuple[str, ...]] = {
        viscosity: (
            *("WATER_TERMS", "PURE_TERMS", "AT_25_DEGC", "EXCESS_SLOPE"),
            *("PRESSURE_TERMS", "ATMOSPHERE", "HIGHEST_PRESSURE"),
        ),
        density: ("WATER_DENOMINATOR", "METHANOL_TERMS", "ACETONITRILE_TERMS", "EXCESS_VOLUME"),
        diffusion: ("ATOMS", "DOUBLE_BOND", "RING", "UNSATURATION"),
        liquids: ("LOWEST_TEMPERATURE", "HIGHEST_TEMPERATURE", "MIXING_TEMPERATURE"),
    }
    found = {
        name: _plain(getattr(module, name)) for module, names in asked.items() for name in names
    }
    found["WATER_DENSITY_TERMS"] = _plain(density.WATER_TERMS)
    found["LIQUIDS"] = {name: _plain(vars(one)) for name, one in liquids.LIQUIDS.items()}
    return found


def _tube() -> dict[str, Any]:
    """The table of straight tubes, to 3e-8, and exact cumulants.

    Of these the logarithms over their growth, at even steps of the logarithm of the Fourier number.
    """
    coefficients = spectrum.table()
    nodes, growth = theory.tabulated_growth()
    return {
        "version": spectrum.VERSION,
        "least": spectrum.LEAST,
        "most": spectrum.MOST,
        "shape": list(coefficients.shape),
        "coefficients": rolled(coefficients, 2.0**-24),
        "nodes": [float(nodes[0]), float(nodes[-1]), nodes.size],
        "growth": rolled(growth[None], 1e-8),
    }


def _migration() -> dict[str, Any]:
    """How bands go through columns whose liquid changes."""
    asked: dict[Any, tuple[str, ...]] = {
        gradient: (
            *("LEAST_FACTOR", "MOST_FACTOR", "RINSED", "RINSING_POINTS", "BENDS", "WAYS"),
            *("EVENLY", "WEIGHTS", "NORMALLY", "NORMAL_SHARES"),
        ),
        gradient_theory: ("SAME",),
        migration: ("HALVED", "SOFT", "LAST", "BLURRED", "PER_WIDTH", "FINER"),
    }
    march = ("PANEL", "POINTS_PER_WIDTH", "COARSEST", "MOST_DOUBLINGS", "NEGLIGIBLE")
    passage = _taken({gradient_march: (*march, "MOST_VALUES", "NODES", "WEIGHTS")})
    return _taken(asked) | {"BED": passage, "TRUNCATION": Resolution().truncation}


def _plain(value: Any) -> Any:
    """The same in what JSON has."""
    if isinstance(value, Mapping):
        return {str(key): _plain(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(one) for one in value]
    if isinstance(value, np.ndarray | np.generic):
        return value.tolist()
    return value
