"""The JavaScript engine's answers held against the program's, number by number."""

import math

import numpy as np

from reference.scenarios import scenario
from tailrace.errors import TailraceError
from tailrace.journey.evaluation import UNSEEN
from tailrace.journey.migration import by_products
from tailrace.records.separation import separation
from tailrace.scenario.scenario import Scenario

CLOSE = 1e-4
"""Relative, of every number; over a scale of what can be near zero."""
NOT_TOLD = {"concentration_in_cell"}


def number(value):
    return math.nan if value is None else value


def same(mine, other, scale=0.0, loose=1):
    mine, other = number(mine), float(other)
    if math.isnan(other):
        return math.isnan(mine)
    return abs(mine - other) <= loose * CLOSE * max(abs(other), scale)


def differences(answer, loaded):
    """What of the engine's answer is not what the program says: a list of texts."""
    result = by_products(loaded.itinerary())
    parts = [part for part, _ in loaded.itinerary().passages]
    migrating = any(part.focuses for part in parts)
    wrong = []

    def held(what, mine, other, scale=0.0, loose=1):
        if not same(mine, other, scale, loose):
            wrong.append(f"{what}: {mine} instead of {other}")

    whole = np.nansum([np.abs(one.variance_volume) for one in result.parts], axis=0)
    for lane, solute in enumerate(answer["solutes"]):
        groups = (
            (result.recorded, solute["metrics"]),
            (result.column_alone or {}, solute["metrics_column"]),
            (result.signal, solute["signal"]),
        )
        for program, mine in groups:
            assert set(program) - NOT_TOLD <= set(mine)
            for name in set(program) - NOT_TOLD:
                scale = 1.0 if name == "skewness" else 0.0
                if migrating and name == "variance_volume_extra_column":
                    scale = 1e-3 * whole[lane]
                # of the column's own peak in a gradient the program knows no error
                loose = 2 if migrating and program is result.column_alone else 1
                held(f"{solute['name']}.{name}", mine[name], program[name][lane], scale, loose)
        for part, told in zip(result.parts, solute["parts"], strict=True):
            assert (part.name, part.kind, part.behind) == (
                told["name"], told["kind"], told["behind"])  # fmt: skip
            held(f"{part.name}.variance", told["variance"], part.variance_exact[lane])
            held(f"{part.name}.gaussian", told["gaussian"], part.variance_gaussian_theory[lane])
            # a difference of sums; behind a gradient these are over samples
            unseen = UNSEEN * whole[lane] * (1e3 if migrating else 1)
            held(f"{part.name}.volume", told["variance_volume"], part.variance_volume[lane], unseen)
            held(f"{part.name}.residence", told["residence"], part.residence[lane])
            held(f"{part.name}.skewness", told["skewness"], part.skewness_exact[lane], 1.0)
    _between(answer, result, held)
    if answer["warnings"] != list(result.warnings):
        wrong.append(f"warnings: {answer['warnings']} instead of {result.warnings}")
    return wrong


def _between(answer, result, held):
    """Of neighbours and of the whole path."""
    apart = separation(result)
    assert [one["second"] for one in answer["pairs"]] == list(apart.second)
    for place, pair in enumerate(answer["pairs"]):
        held("resolution", pair["resolution"], apart.half_height[place], 0.1)
        held("valley", pair["valley"], apart.valley_to_peak[place], 0.01)
    held("pressure", answer["pressure"]["total"], result.pressure.total)
    held("highest", answer["pressure"]["highest"], result.pressure.highest)


def compared(ask, seeds, draw=scenario):
    """Differences by seed, and how many scenarios both computed.

    Left out are those with bends of which the page says that it does not know them.
    """
    wrong, count = {}, 0
    for seed in seeds:
        tables = draw(np.random.default_rng(seed))
        answer = ask("answer", tables)
        if answer["bent"]:
            continue
        try:
            loaded = Scenario.from_tables(tables)
            by_products(loaded.itinerary())
        except TailraceError as error:
            if answer["refused"] is None:
                wrong[seed] = [f"computed what the program refuses: {error}"]
            continue
        count += 1
        found = [answer["refused"]] if answer["refused"] else differences(answer, loaded)
        if found:
            wrong[seed] = found
    return wrong, count
