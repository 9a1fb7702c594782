"""Sliders that move freely, where a page computes products itself: what is marched beside it."""

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from typing import Any

import numpy as np

from tailrace.journey.itinerary import Itinerary
from tailrace.journey.product import not_multiplied
from tailrace.journey.propagation import spread
from tailrace.measures.registry import HEIGHT, PLATES, PLATES_OWN, TAILING, VARIANCE, WIDTH
from tailrace.quantities.arrays import FloatArray
from tailrace.quantities.parse import parse
from tailrace.scenario.changed import OF_THE_START, remade, with_values
from tailrace.scenario.scenario import Scenario
from tailrace.studies.axes import Axis, axes_of, described
from tailrace.studies.batch import Batch, Metrics
from tailrace.studies.engine import AT_RANDOM, Engine, as_products, check_of
from tailrace.studies.runner import Runner
from tailrace.studies.sliders import shown_solutes

MOST_CORNERS = 8
"""Of the box that the sliders span; of more corners so many are marched."""

SHOWN = (PLATES, PLATES_OWN, TAILING, WIDTH, HEIGHT, VARIANCE)
"""Metrics that a page shows."""


@dataclass(frozen=True, kw_only=True)
class FreeSliders:
    """Some sliders, and positions that were marched.

    Parameters
    ----------
    asked : tuple of str
        Each slider as it was asked for.
    shown : tuple of int
        The solutes that are shown.
    starts : tuple
        What the scenario says of each field, in SI or as words (of a bend also "straight"); None
        where it leaves it out.
    positions : tuple of tuple of int
        Places on the axes; an empty one is the scenario as it stands.
    metrics : dict of str to array
        Of the marched positions, as of ``tailrace.studies.lanes.metrics_of``.
    engine : Engine
        Products of the same positions compared with the marches.
    bends : (tubes, 2) array, 1
        C and X of tubes with a bend, in all solutes, at corners of what the sliders span.
    """

    scenario: Scenario
    axes: tuple[Axis, ...]
    asked: tuple[str, ...]
    shown: tuple[int, ...]
    starts: tuple[float | str | None, ...]
    positions: tuple[tuple[int, ...], ...]
    batch: Batch
    metrics: Metrics
    engine: Engine
    bends: FloatArray


def free_sliders(
    scenario: Scenario,
    slide: Sequence[str],
    solutes: Sequence[str] = (),
    runner: Runner | None = None,
) -> FreeSliders | None:
    """March some positions of sliders that a page can compute by itself; None where it cannot.

    Parameters, and what is raised before anything is computed, as of
    ``tailrace.studies.sliders.sliders``.
    """
    axes = axes_of(scenario, slide, grid=False)
    shown = shown_solutes(scenario, solutes)
    lengths = [len(a) for a in axes]
    picked = {one: _at(scenario, axes, one).itinerary() for one in _picked(lengths)}
    if scenario.curve is not None or not all(_computed(one) for one in picked.values()):
        return None
    bends = np.concatenate([_bends(one) for one in picked.values()])
    if bends.size:
        corners = [_at(scenario, axes, one).itinerary() for one in _corners(lengths)]
        if not all(_computed(one) for one in corners):
            return None
        bends = np.concatenate([bends, *(_bends(one) for one in corners)])
    starts = tuple(start_of(scenario, one) for one in axes)
    positions = tuple(one for one in picked if not one or not _as_it_stands(axes, starts, one))
    itineraries = tuple(picked[one] for one in positions)
    where = [described(axes, one) if one else "the scenario" for one in positions]
    batch = Batch("positions", itineraries, lambda case: where[case])
    runner = runner or Runner()
    marched = runner.travelled(batch)
    products = runner.travelled(as_products(batch), needed=False)
    return FreeSliders(
        scenario=scenario,
        axes=axes,
        asked=tuple(slide),
        shown=shown,
        starts=starts,
        positions=positions,
        batch=batch,
        metrics=marched,
        engine=check_of(products, *(_known(one, products) for one in (products, _seen(marched)))),
        bends=bends,
    )


def _known(metrics: Metrics, products: Metrics) -> Metrics:
    """At those positions alone of which the products are known: elsewhere a page shows none."""
    return {name: values[products["computed"]] for name, values in metrics.items()}


def _seen(metrics: Metrics) -> Metrics:
    """Without the errors of what a page does not show, so that none of that is compared."""
    return {
        key: values
        for key, values in metrics.items()
        if not key.startswith("numerical_error/") or key.partition("/")[2] in SHOWN
    }


def start_of(scenario: Scenario, one: Axis) -> float | str | None:
    """What the scenario says of a field, in SI or as a word; None where it leaves it out."""
    value: Any = tomllib.loads(scenario.text)
    try:
        for key in one.target.place:
            value = value[key]
    except KeyError:
        return None
    if one.unit == "" or value == "straight":
        return str(value).lower() if isinstance(value, bool) else str(value)
    return float(value) if one.target.kind == "number" else parse(value, one.target.kind)


def _at(scenario: Scenario, axes: Sequence[Axis], places: Sequence[int]) -> Scenario:
    document = {key: value for key, value in scenario.tables.items() if key not in OF_THE_START}
    values = {
        one.target.place: one.written[place] for one, place in zip(axes, places, strict=False)
    }
    where = f"at {described(axes, places)}" if places else ""
    return remade(scenario, with_values(document, values), where)


def _as_it_stands(
    axes: Sequence[Axis], starts: Sequence[float | str | None], places: Sequence[int]
) -> bool:
    """Whether a position is that of the scenario itself."""
    return all(
        start is not None
        and (
            str(one.values[place]) == start
            if one.unit == "" or isinstance(start, str)
            else bool(np.isclose(one.values[place], float(start), rtol=1e-9, atol=0.0))
        )
        for one, start, place in zip(axes, starts, places, strict=True)
    )


def _computed(itinerary: Itinerary) -> bool:
    """Whether the path is a product of what a page holds: no part of it goes about it otherwise."""
    passages = spread(itinerary)
    otherwise = any(part.tabulated_bends(stream) is None for part, stream in passages)
    return not (not_multiplied(passages) or otherwise)


def _bends(itinerary: Itinerary) -> FloatArray:
    """C and X of all tubes with a bend, in all lanes. (tubes, 2) array."""
    found = (part.tabulated_bends(stream) for part, stream in spread(itinerary))
    return np.concatenate([np.zeros((0, 2)), *(one for one in found if one is not None)])


def _corners(lengths: Sequence[int]) -> list[tuple[int, ...]]:
    return list(product(*((0, count - 1) for count in lengths)))


def _picked(lengths: Sequence[int]) -> tuple[tuple[int, ...], ...]:
    """The scenario itself, corners, and some positions at random."""
    random = np.random.default_rng(len(lengths))
    corners = (
        _corners(lengths)
        if 2 ** len(lengths) <= MOST_CORNERS
        else [tuple((count - 1) * int(random.integers(2)) for count in lengths)
              for _ in range(MOST_CORNERS)]
    )  # fmt: skip
    inside = [tuple(int(random.integers(count)) for count in lengths) for _ in range(AT_RANDOM)]
    return tuple(dict.fromkeys([(), *corners, *inside]))
