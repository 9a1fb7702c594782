"""What the model leaves out, with its size where it moves the recorded width by more than 1 %."""

from collections.abc import Iterator

import numpy as np

from tailrace.eluent.liquids import MIXING_TEMPERATURE
from tailrace.eluent.viscosity import ATMOSPHERE, HIGHEST_PRESSURE, pressure_factor
from tailrace.errors import PartError
from tailrace.journey.result import Result
from tailrace.parts.base import Passages
from tailrace.quantities.arrays import FloatArray
from tailrace.quantities.kinds import plain
from tailrace.scenario.build import itinerary
from tailrace.scenario.contents import Contents
from tailrace.scenario.model import MethodTable

COUNTS = 0.01
"""Relative change of the recorded width from which an effect is told."""
WARM = 5.0
"""K between inlet and outlet of a column from which its heat of friction is told."""
PRESSURE = "lower diffusivity under the pressure in the tubes (pressure_dependence = true has it)"
HEAT = "higher diffusivity by the heat of friction, none of it lost"
WATER, ORGANIC = (4.18e6, 0.08), (1.9e6, 0.4)
"""Heat capacity, J/(m^3 K), and expansivity times temperature (from memory)."""
FASTER = 0.02
"""Relative, per K: diffusivity in liquids, as T over viscosity (from memory)."""


def left_out(scenario: Contents, result: Result) -> list[str]:
    """A sentence for each effect that would move a recorded width by more than COUNTS.

    All in closed form, and for straight tubes, so that they are sizes, not corrections.
    """
    total = np.sum([part.variance_recorded for part in result.parts], axis=0)
    passages = [(part, stream.over(total.size)) for part, stream in itinerary(scenario).passages]
    changes: dict[str, FloatArray] = {}
    for (part, stream), found, ratios in zip(
        passages, result.parts, _diffusivities(scenario.document.method, passages, result),
        strict=True,
    ):  # fmt: skip
        for effect, change in part.left_out(stream, ratios).items():
            changes[effect] = changes.get(effect, 0.0) + change * found.variance_recorded
    sentences = []
    for effect, change in changes.items():
        moved = np.sqrt(np.maximum(1 + change / total, 0.0)) - 1
        most = float(moved[np.argmax(np.abs(moved))])
        if abs(most) >= COUNTS:
            sentences.append(
                f"Left out: {effect}. Recorded peaks would be up to about "
                f"{plain(100 * abs(most), 2)} % {'wider' if most > 0 else 'narrower'} (from "
                "variances in closed form)."
            )
    return [*sentences, *_columns(scenario.document.method, passages, result)]


def _diffusivities(
    method: MethodTable, passages: Passages, result: Result
) -> Iterator[dict[str, float]]:
    """Diffusivity in each part by effect, over that of its stream."""
    drops = [result.pressure.parts.get(part.name, 0.0) for part, _ in passages]
    before = np.cumsum(drops) - np.asarray(drops) / 2
    for (_, stream), passed in zip(passages, before, strict=True):
        yield {
            PRESSURE: 1 / _thicker(method, float(np.max(stream.temperature)), sum(drops) - passed),
            HEAT: 1 + FASTER * _warmer(method, passed),
        }


def _organic(method: MethodTable) -> float:
    """Volume fraction of organic liquid; all where the composition is not given."""
    composition = method.eluent.composition
    return 1 - composition.get("water", 0.0) if composition else 1.0


def _thicker(method: MethodTable, temperature: float, pressure: float) -> float:
    """Viscosity under a pressure above the outlet's, over that at the outlet.

    1 where the streams have it already; acetonitrile's where the eluent is not known.
    """
    if method.pressure_dependence:
        return 1.0
    absolute = min(ATMOSPHERE + pressure, HIGHEST_PRESSURE)
    composition = method.eluent.composition or {"acetonitrile": 1.0}
    try:
        return float(pressure_factor(composition, temperature, absolute))
    except PartError:  # a mixture without a correlation
        return float(pressure_factor({"acetonitrile": 1.0}, MIXING_TEMPERATURE, absolute))


def _warmer(method: MethodTable, drop: float) -> float:
    """K by which liquid is warmed where it passes a pressure drop and loses no heat.

    (1 - alpha T) dp/(rho c): friction less what it cools as it expands (from memory).
    """
    organic = _organic(method)
    heat, expands = (
        (1 - organic) * water + organic * other for water, other in zip(WATER, ORGANIC, strict=True)
    )
    return (1 - expands) * drop / heat


def _columns(method: MethodTable, passages: Passages, result: Result) -> Iterator[str]:
    for part, _ in passages:
        warmer = _warmer(method, result.pressure.parts.get(part.name, 0.0))
        if part.separates and warmer >= WARM:
            yield (
                f"Left out: heat of friction in {part.name}, which the liquid leaves up to "
                f"{plain(warmer, 2)} K warmer than it enters (no heat lost through the wall); "
                "retention and plates are those of its temperature at the inlet."
            )
