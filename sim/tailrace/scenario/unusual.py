"""Values that are most likely slips: what instruments, columns and solutes hardly ever have."""

from collections.abc import Iterator

import numpy as np

from tailrace.parts.column.part import POROSITIES, Column
from tailrace.parts.table import PathTable, is_number
from tailrace.parts.usual import outside
from tailrace.quantities.kinds import show
from tailrace.scenario.build import part_of
from tailrace.scenario.contents import Contents

USUAL_BORE, USUAL_FLOW = 4.6e-3, (0.04e-6 / 60, 8e-6 / 60)
MORE_POROUS = 0.1
"""Share by which a porosity may lie outside its usual range unnoted (our own choice)."""
ANY_FLOW = (1e-9 / 60, 1e-5 / 60)
"""Flows, m^3/s: with a column of this bore (m; others in proportion to the section), without one.

Common practice, no source.
"""
AT_ODDS = 1.25
"""Ratio of two statements of one retention factor from which they are said to differ."""
LEAST_KW = 6.0
"""Retention factor in the weak liquid alone, below which a gradient hardly separates (our own)."""


def unusual(scenario: Contents) -> list[str]:
    """One sentence for each value of a part that lies outside what instruments have."""
    found = [
        line
        for one in scenario.document.path
        for line in outside(one.part, one.name, _sizes(one, scenario))
    ]
    porous = _rare_porosity(scenario)
    return [*_rare_flow(scenario), *_logarithms(scenario), *_at_odds(scenario), *porous, *found]


def _rare_porosity(scenario: Contents) -> Iterator[str]:
    """Columns that hold much more, or less, than such particles do."""
    for part in (part_of(one, scenario.document.method) for one in scenario.document.path):
        if not isinstance(part, Column) or np.isnan(part.porosity).all():
            continue
        low, high = POROSITIES[part.particle]
        low, high = low * (1 - MORE_POROUS), high * (1 + MORE_POROUS)
        if not low <= float(np.max(part.porosity)) <= high:
            yield (
                f"{part.name}: porosity {float(np.max(part.porosity)):.3g} lies outside what is "
                f"usual of {part.particle} particles, {low:.2g} to {high:.2g} (common practice, no "
                "source); check the dead time, the volumes of the path and the bore"
            )


def _logarithms(scenario: Contents) -> Iterator[str]:
    """Solutes whose kw is more likely its logarithm."""
    if scenario.document.gradient is None:
        return
    for one in scenario.document.solutes:
        if one.kw is not None and one.kw < LEAST_KW:
            yield (
                f"{one.name}: kw = {one.kw:g} is hardly retained by any liquid; if that is its "
                f"decadic logarithm, write kw = {10**one.kw:.3g}"
            )


def _at_odds(scenario: Contents) -> Iterator[str]:
    """Solutes whose kw and s, with which the sample's solvent acts, say another k in the eluent."""
    document, strong = scenario.document, getattr(scenario.document.injection, "strong", None)
    water = document.method.eluent.composition.get("water", 0.0)
    if strong is None or document.gradient is not None or not 0 < water < 1:
        return
    for one in document.solutes:
        if not (one.kw and one.s and one.retention_factor):
            continue
        by_law = one.kw / 10 ** (one.s * (1 - water))
        if not 1 / AT_ODDS <= by_law / one.retention_factor <= AT_ODDS:
            yield (
                f"{one.name}: kw and s give k = {by_law:.3g} in the eluent, and k is "
                f"{one.retention_factor:.3g}; the sample's solvent acts with the former: write "
                f"kw = {one.retention_factor * 10 ** (one.s * (1 - water)):.3g}, or correct s"
            )


def _rare_flow(scenario: Contents) -> Iterator[str]:
    """A flow that hardly anybody uses with such a column, or at all without one."""
    flow = scenario.document.method.flow
    parts = [part_of(one, scenario.document.method) for one in scenario.document.path]
    bores = [float(np.min(one.bore)) for one in parts if isinstance(one, Column)]
    scale = (min(bores) / USUAL_BORE) ** 2 if bores else 1.0
    low, high = (scale * one for one in (USUAL_FLOW if bores else ANY_FLOW))
    if not low <= flow <= high:
        column = f" with a column of {show(min(bores), 'bore')} bore" if bores else ""
        yield (
            f"method: flow {show(flow, 'flow rate')} lies outside what is usual{column}, "
            f"{show(low, 'flow rate', 2)} to {show(high, 'flow rate', 2)} (common practice, no "
            "source); check the point and the unit"
        )


def _sizes(one: PathTable, scenario: Contents) -> dict[str, float]:
    """Numbers of a part by key, SI, its volume among them where the part itself has no key."""
    found = {key: value for key, value in one.part_values().items() if is_number(value)}
    return {"volume": float(np.max(part_of(one, scenario.document.method).volume))} | found
