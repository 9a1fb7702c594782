"""What a page with stops shows: every position, computed by the solver."""

import base64
import math
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

import numpy as np

from tailrace.journey.result import Result
from tailrace.measures.registry import (
    CAPACITY,
    HEIGHT,
    PLATES,
    PLATES_OWN,
    TAILING,
    VARIANCE,
    WIDTH,
    leading,
)
from tailrace.measures.shape import GAUSSIAN_WIDTH
from tailrace.quantities.arrays import IntArray
from tailrace.records.separation import kept_fraction, weights
from tailrace.report.numbers import percent, significant, with_error
from tailrace.report.sentences import BAR, critical_line
from tailrace.studies.axes import as_asked
from tailrace.studies.sliders import Knots, Sliders, start, textbook
from tailrace.wording import say, word

DIGITS = 4
"""Significant ones of a figure, at most."""
FULL = 65535
"""The largest number of 16 bits."""
VISIBLE = 0.005
"""Of the height: where the view of a curve begins and ends."""
NAMES = (TAILING, WIDTH, HEIGHT, VARIANCE)
"""Figures that are shown below the plates."""


def sliders_data(study: Sliders) -> dict[str, Any]:
    """Everything that the script of the page reads.

    Text, lists and finite numbers, ready for ``json.dumps``: ``axes`` with ``name``, ``labels`` and
    ``start``; ``solutes``; ``parts``; ``rows`` of the table of figures; ``warnings``, each text
    once; ``cases``, one a position, with the numbers of their ``warnings``, ``pressure`` in bar,
    ``apart`` (a sentence on resolution), ``weights`` of the solutes in the chromatogram, and by
    solute ``delay`` (s, of the column's peak), ``figures`` (column alone, recorded, textbook sum,
    row after row), ``parts`` (textbook and simulated variance in s^2 and share in per cent, part
    after part) and ``gaussian`` (mean in s, variance in s^2). ``frames`` and ``knots``:
    see ``packed``.
    """
    gradient = CAPACITY in study.result(0).recorded
    texts, cases = _cases(study, gradient)
    axes, scenario = study.sweep.plan.axes, study.sweep.plan.scenario
    lines = [
        pair[lane]
        for recorded, own in zip(study.recorded, study.own, strict=True)
        for lane in range(len(study.shown))
        for pair in (recorded, own)
    ]
    return {
        "mode": "stops",
        "axes": [
            {
                "name": spoken(one.name),
                "labels": [as_asked(one, index) for index in range(len(one))],
                "start": start(scenario, one),
            }
            for one in axes
        ],
        "solutes": list(study.solutes),
        "parts": [word(part.name) for part in study.sweep.parts],
        "rows": list(rows_of(study.result(0))),
        "noun": word(leading(study.result(0).recorded).label),
        "warnings": texts,
        "cases": cases,
        **packed(lines),
    }


def _cases(study: Sliders, gradient: bool) -> tuple[list[str], list[dict[str, Any]]]:
    """Warnings, each text once, and what is said of each position."""
    warnings = study.sweep.metrics["warnings"].tolist()
    texts = list(dict.fromkeys(line for lines in warnings for line in lines.splitlines()))
    places = {text: index for index, text in enumerate(texts)}
    cases = []
    for position in range(len(study.positions)):
        case: dict[str, Any] = {
            "warnings": [places[line] for line in warnings[position].splitlines()]
        }
        if study.computed(position):
            result = study.result(position)
            case["pressure"] = significant(result.pressure.highest / BAR)
            case["apart"] = critical_line(result)
            case["weights"] = [_short(float(weights(result)[lane]), 6) for lane in study.shown]
            case["solutes"] = [
                _solute(
                    result,
                    lane,
                    gradient,
                    {name: float(one[position][lane]) for name, one in study.own_errors.items()},
                )
                for lane in study.shown
            ]
        cases.append(case)
    return texts, cases


def packed(lines: Sequence[Knots | None]) -> dict[str, Any]:
    """Curves in few bytes.

    ``frames``: for each curve the number of its knots, the time of the first in s, the grid's step
    in s, the height in 1/s, and the times between which the view shows it. ``knots``: base64 of
    numbers of 16 bits, little-endian; for each knot the steps from the one before, and its height
    over that of the curve in parts of FULL. Frames of what is None are zeros.
    """
    frames: list[float] = []
    numbers: list[bytes] = []
    for line in lines:
        if line is None:
            frames += [0] * 6
            continue
        places = _bridged(line.places)
        heights = np.interp(places, line.places, line.heights)
        height = heights.max()
        seen = line.times[line.heights >= VISIBLE * height]
        steps = np.diff(places, prepend=0)
        pairs = np.stack([steps, np.rint(heights / height * FULL)], axis=1)
        numbers.append(pairs.astype("<u2").tobytes())
        frames.append(places.size)
        frames += [_short(line.start, 9), _short(line.step, 9), _short(height, 7)]
        frames += [_short(seen[0], 6), _short(seen[-1], 6)]
    return {"frames": frames, "knots": base64.b64encode(b"".join(numbers)).decode()}


def _bridged(places: IntArray) -> IntArray:
    """Places with more of them between, where two are further apart than 16 bits can say."""
    bridges = [np.arange(first, last, FULL) for first, last in pairwise(places)]
    return np.concatenate([*bridges, places[-1:]])


def _short(number: float, digits: int) -> float:
    return float(f"{number:.{digits}g}")


def spoken(name: str) -> str:
    """``tube to cell.length`` as ``tube to cell: length``."""
    table, _, key = name.rpartition(".")
    return f"{word(table)}: {word(key.replace('_', ' '))}"


def rows_of(result: Result) -> tuple[str, ...]:
    """Heads of the rows of the table of figures."""
    metric, gradient = leading(result.recorded), CAPACITY in result.recorded
    label = word(metric.label)
    first = label if gradient else say("{plates} from the half height", plates=label)
    kept = "peak capacity kept, %" if gradient else "plates kept, %"
    others = "width at half height, s", "height, 1/s", "variance, s^2"
    also = ["plates at the recorded time"] if metric.name == PLATES_OWN else []
    return first, *map(word, (kept, "tailing at 5 % of the height", *others, *also))


def _solute(
    result: Result, lane: int, gradient: bool, own_errors: Mapping[str, float]
) -> dict[str, Any]:
    mean, variance = textbook(result, lane)
    outside = sum(float(one.mean_closed_form[lane]) for one in result.parts if not one.separates)
    return {
        "delay": _short(outside, 4),
        "figures": _figures(result, lane, gradient, (mean, variance), own_errors),
        "parts": _parts(result, lane),
        "gaussian": [_short(mean, 9), _short(variance, 9)]
        if variance > 0 and math.isfinite(mean)
        else None,
    }


def _figures(
    result: Result,
    lane: int,
    gradient: bool,
    sums: tuple[float, float],
    own_errors: Mapping[str, float],
) -> list[str]:
    """Column alone, recorded and textbook sum, row after row."""
    mean, variance = sums
    first = leading(result.recorded).name
    names = (first, *NAMES, *([PLATES] if first == PLATES_OWN else []))
    alone = result.column_alone or {}
    own = [float(alone[name][lane]) if name in alone else math.nan for name in names]
    read = [float(result.recorded[name][lane]) for name in names]
    errors = [float(result.numerical_error[name][lane]) for name in names]
    recorded = [with_error(*one, digits=DIGITS) for one in zip(read, errors, strict=True)]
    columns = [
        with_error(one, own_errors.get(name, math.nan), digits=DIGITS)
        for name, one in zip(names, own, strict=True)
    ]
    # of an overloaded column the textbook knows no time, and so no peak
    width = math.sqrt(variance) if variance > 0 and math.isfinite(mean) else math.nan
    whole = [mean**2 / width**2] if first == PLATES_OWN else []
    if whole:
        mean = sum(float(one.mean_closed_form[lane]) for one in result.parts if one.separates)
    plates = math.nan if gradient else mean**2 / width**2
    height = 1 / (math.sqrt(math.tau) * width)
    gaussian = (plates, width / width, GAUSSIAN_WIDTH * width, height, width**2, *whole)
    rows = [
        (one, two, significant(three, 4))
        for one, two, three in zip(columns, recorded, gaussian, strict=True)
    ]
    kept = 100 * float(kept_fraction(result)[lane])
    share = with_error(kept, kept * errors[0] / read[0], digits=3)
    share = share if "±" in share else percent(kept / 100)
    shares = [percent(own[0] / own[0]), share, percent(plates / own[0])]
    return [*rows[0], *shares, *(text for row in rows[1:] for text in row)]


def _parts(result: Result, lane: int) -> list[str]:
    """Textbook and simulated variance, and share of the whole, part after part."""
    added = [float(part.variance_recorded[lane]) for part in result.parts]
    total = float(np.nansum(added))
    texts = []
    for part, left in zip(result.parts, added, strict=True):
        texts.append(significant(part.variance_gaussian_theory[lane]))
        texts.append(significant(part.variance_simulated[lane]))
        texts.append(percent(left / total if total > 0 else math.nan))
    return texts


def worst_error(study: Sliders) -> str:
    """Largest discretisation error of the leading metric, in per cent, as text."""
    metrics = study.sweep.metrics
    name = leading(study.result(0).recorded).name
    lanes = list(study.shown)
    shares = [metrics[f"numerical_error/{name}"] / metrics[f"recorded/{name}"]]
    if study.own_errors:
        shares.append(study.own_errors[name] / metrics[f"column_alone/{name}"])
    share = np.concatenate(shares)[:, lanes]
    known = share[np.isfinite(share)]
    return significant(100 * float(known.max()), 2) if known.size else ""
