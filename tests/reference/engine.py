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
BENT = {"plates_tangent": 5}
"""How many times as far from the program's numbers may be with a tube that is bent: tangents ask
most of the highest frequencies, of which the packed table is least sure."""
NOT_TOLD = {"concentration_in_cell"}


def number(value):
    return math.nan if value is None else value


def same(mine, other, scale=0.0, loose=1):
    mine, other = number(mine), float(other)
    if math.isnan(other):
        return math.isnan(mine)
    return abs(mine - other) <= loose * CLOSE * max(abs(other), scale)


def differences(answer, loaded):
    """What of the engine's answer is not what the program says: a list of texts.

    With bent tubes, whose table is itself right to CLOSE of what passes at rest, valleys are held
    to that of a peak, and what points add beside a curve to more of the whole.
    """
    result = by_products(loaded.itinerary())
    parts = [part for part, _ in loaded.itinerary().passages]
    migrating = any(part.focuses for part in parts)
    bent = any(getattr(part, "is_bent", False) for part in parts)
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
                loose *= BENT.get(name, 1) if bent else 1
                held(f"{solute['name']}.{name}", mine[name], program[name][lane], scale, loose)
        for part, told in zip(result.parts, solute["parts"], strict=True):
            assert (part.name, part.kind, part.behind) == (
                told["name"], told["kind"], told["behind"])  # fmt: skip
            held(f"{part.name}.variance", told["variance"], part.variance_exact[lane])
            held(f"{part.name}.gaussian", told["gaussian"], part.variance_gaussian_theory[lane])
            # a difference of sums; behind a gradient these are over samples
            unseen = UNSEEN * whole[lane] * (1e3 if migrating or bent else 1)
            held(f"{part.name}.volume", told["variance_volume"], part.variance_volume[lane], unseen)
            held(f"{part.name}.residence", told["residence"], part.residence[lane])
            held(f"{part.name}.skewness", told["skewness"], part.skewness_exact[lane], 1.0)
    _between(answer, result, 1.0 if bent else 0.01, held)
    if answer["warnings"] != list(result.warnings):
        wrong.append(f"warnings: {answer['warnings']} instead of {result.warnings}")
    return wrong


def _between(answer, result, valley, held):
    """Of neighbours and of the whole path; ``valley``: its scale."""
    apart = separation(result)
    assert [one["second"] for one in answer["pairs"]] == list(apart.second)
    for place, pair in enumerate(answer["pairs"]):
        held("resolution", pair["resolution"], apart.half_height[place], 0.1)
        held("valley", pair["valley"], apart.valley_to_peak[place], valley)
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
