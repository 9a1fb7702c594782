"""The sentences of a run, and one on two solvers side by side."""

import math
from collections.abc import Sequence

import numpy as np

from tailrace.journey.product import UNRESOLVED
from tailrace.journey.result import Assumption, PartResult, Pressure, Result
from tailrace.journey.validity import ESTIMATED
from tailrace.journey.verification import READ, WITHIN, CrossCheck
from tailrace.measures.registry import CAPACITY, METRICS, PLATES, RECOVERED, VARIANCE, leading
from tailrace.parts.base import Part
from tailrace.parts.usual import TOLERANCES
from tailrace.records.separation import (
    kept_fraction,
    separation,
    shares_outside_column,
    worst_first,
)
from tailrace.records.trade import people
from tailrace.report.numbers import is_resolved, percent, significant, with_error
from tailrace.studies.engine import Engine
from tailrace.wording import say, word

NUMBERS = ("no", "one", "two", "three")
BAR = 1e5
"""Pa"""

ABOUT = f"± {100 * ESTIMATED:.0f} %"
"""Behind a pressure."""
ENOUGH = 0.8
"""Share of the loss that the named parts explain, if three of them can."""


WHOLE = 0.99
"""Of the amount: with less, widths are not those of the whole peak."""
NEARLY_ALL = 0.9
"""From this share on it is said what is left."""


def computed(engine: Engine) -> str:
    """How the journeys of a study were computed; empty where all were marched and none asks why."""
    text = f"Journeys marched: {engine.reason}. " if engine.reason else ""
    if engine.multiplied:
        text += (
            f"{engine.multiplied} journeys computed as products of transfer functions; "
            f"{engine.compared} of them, the extreme ones and some at random, were marched as well"
        )
        metric = METRICS.get(engine.metric)
        if metric is not None:
            of = " of the peak's width" if metric.relative_to == "width" else ""
            text += (
                f", and {metric.label} differs most, by {significant(100 * engine.difference, 2)} "
                f"%{of}, where the march is known to {significant(100 * engine.error, 2)} %"
            )
        text += "."
    if engine.unresolved:
        text += (
            f" {engine.unresolved} more, of which the product would be known to no better than "
            f"{100 * UNRESOLVED:g} %, were marched."
        )
    return text.strip()


def pressure_line(
    pressure: Pressure, parts: Sequence[PartResult | Part] = (), gradient: bool = False
) -> str:
    """On the pressure, and on those parts that lie behind the recording."""
    names = [part.name for part in parts if part.behind]
    line = _pressure(pressure, bool(names))
    if gradient:
        line = line.replace("Pressure:", "Pressure in the eluent of [method]:", 1)
    if names:
        line += (
            f" Behind the cell in which the signal is recorded: {', '.join(names)}; what lies "
            "there adds nothing to the recorded peak, only pressure."
        )
    return line


def _pressure(pressure: Pressure, behind: bool) -> str:
    if not math.isfinite(pressure.total):
        return "Pressure: not known, since the viscosity is not."
    line = f"Pressure: {significant(pressure.total / BAR)} bar {ABOUT} over the whole path"
    if pressure.highest > pressure.total:
        highest = significant(pressure.highest / BAR)
        line += f", {highest} bar with the most viscous liquid of the programme"
    if math.isfinite(pressure.limit):
        side = "above" if pressure.highest > pressure.limit else "within"
        line += f", {side} the limit of {significant(pressure.limit / BAR)} bar"
    if pressure.cell_inlet > 0:
        line += f", {significant(pressure.cell_inlet / BAR, 2)} bar at the inlet of the cell"
    elif pressure.cell_inlet == 0 and not behind:
        line += "; what lies behind the cell is not on the path, and its pressure comes on top"
    return line + "."


def tolerances() -> str:
    """Typical tolerances of makers, half widths."""
    each = (f"{' '.join(one)} {width}" for one, width in TOLERANCES.items())
    return ", ".join(each).replace("_", " ")


def conclusion(result: Result) -> str:
    """One sentence for the person at the bench, on the solute that loses most."""
    lane = worst_first(result)[0]
    shares = shares_outside_column(result, lane)
    if result.column_alone is None:
        spread = significant(result.recorded[VARIANCE][lane]) + " s^2"
        if len(result.lanes) > 1:
            spread += f" of {result.lanes[lane]}"
        return (
            f"The path has no column; {_places(shares, f'the variance of {spread}')}, "
            "shares of the variance added by all parts."
        )
    of = f"Most is lost for {result.lanes[lane]}: of" if len(result.lanes) > 1 else "Of"
    gradient = CAPACITY in result.recorded
    name, what = leading(result.recorded).name, "plates"
    if gradient:
        what = "peaks side by side in the gradient (peak capacity)"
    could = significant(result.column_alone[name][lane])
    kept = kept_fraction(result)[lane]
    reach = "not one can be read at the recorder"
    if math.isfinite(kept):
        reached = significant(result.recorded[name][lane])
        reach = f"{reached} ({percent(kept)} %) reach the recorder"
        if not gradient and reached != (plain := significant(result.recorded[PLATES][lane])):
            reach += f" at the column's own retention ({plain} by the recorded time)"
        reach += above_whole(result, lane)
    if not is_resolved(result.recorded[name][lane], result.numerical_error[name][lane]):
        return (
            f"{of} {could} {what} that {the_columns(result.parts)} could give; what reaches the "
            "recorder is not resolved: its discretisation error is as large as the number. Ask for "
            "a smaller --accuracy, or for points of the signal that lie closer."
        )
    blame = brought_back(result, lane)
    if not blame:
        left = "left of what is " if gradient else ""
        blame = (
            f"{_places(shares, 'the loss')}, shares of the variance {left}added outside "
            f"{the_columns(result.parts)}"
        )
    return (
        f"{of} {could} {what} that {the_columns(result.parts)} could give, {reach}; {blame}."
        f" {focusing(result, lane)}"
    ).rstrip()


def above_whole(result: Result, lane: int) -> str:
    """Why more is kept than the column could give, as a clause; empty where it is not."""
    own, name, kept = result.column_alone, leading(result.recorded).name, kept_fraction(result)
    if own is None or not kept[lane] > 1:
        return ""
    if (kept[lane] - 1) * own[name][lane] <= result.numerical_error[name][lane]:
        return ", more than 100 % within the discretisation error"
    if result.recorded[RECOVERED][lane] < WHOLE:
        missing = percent(1 - result.recorded[RECOVERED][lane])
        return f", more than 100 % since {missing} % of the amount is missing: it is not resolved"
    if result.recorded[VARIANCE][lane] < own[VARIANCE][lane]:
        return (
            ", more than 100 % since the column alone is computed for an injection all at once, "
            "which spreads more in the column than the wider one"
        )
    return (
        ", more than 100 % since the peak is narrower at half height, though its variance is larger"
    )


def focusing(result: Result, lane: int) -> str:
    """One sentence on what the gradient, or the sample's own solvent, takes back of the variance.

    And what it cannot; empty without either.
    """
    focused = np.array(
        [np.broadcast_to(part.gradient_focusing, (len(result.lanes),)) for part in result.parts]
    )
    at = [k for k, part in enumerate(result.parts) if part.separates]
    if not at or np.isnan(np.delete(focused, at[-1], axis=0)).any():
        return ""
    added = np.array([part.variance_simulated[lane] for part in result.parts])
    before, behind = (
        significant(added[part].sum()) for part in (slice(at[0]), slice(at[-1] + 1, None))
    )
    what = "The gradient" if CAPACITY in result.recorded else "The sample's solvent"
    share = float(focused[0, lane])
    if share < 0:  # a gradient alone only narrows
        what = "The sample's solvent"
        taken = f"makes {significant(1 - share)} times as much of"
    elif share < NEARLY_ALL:
        taken = f"focuses {percent(share)} % of"
    else:
        rest = percent(1 - share).replace("<", "less than ")
        taken = f"focuses all but {rest} % of"
    taken = f"{taken} what the parts before {the_columns(result.parts)} add ({before} s^2)"
    if at[-1] + 1 == len(result.recording):
        return f"{what} {taken}."
    them = "them" if len(at) > 1 else "it"
    return f"{what} {taken} and nothing of what those behind {them} add ({behind} s^2)."


def the_columns(parts: Sequence[PartResult]) -> str:
    """What separates on a path, as sentences call it."""
    return "the columns" if sum(part.separates for part in parts) > 1 else "the column"


def assumption_line(one: Assumption, lanes: Sequence[str], lane: int) -> str:
    """Between which values the answer of one solute lies, depending on what is so, and what settles
    it."""
    row = METRICS[one.metric]
    read = people(row.unit, row.shown)
    size, unit = read.size, f" {read.unit}".rstrip()
    of = f" of {lanes[lane]}" if len(lanes) > 1 else ""
    low, high = (float(values[lane]) / size for values in (one.low, one.high))
    text = [
        f"{row.label} {_range(low, high)}{unit}{of}",
        *(
            f"{what} {_range(float(low), float(high))}{unit}"
            for what, low, high, unit in (
                ("width at half height", one.width_low[lane], one.width_high[lane], " s"),
                ("resolution of the critical pair", one.resolution_low, one.resolution_high, ""),
            )
            if math.isfinite(low)
        ),
    ]
    return (
        f"{one.subject}: taken as {one.taken}. Depending on which: {', '.join(text)}. What settles "
        f"it: {one.settled}."
    )


def _range(low: float, high: float) -> str:
    first, last = significant(low), significant(high)
    return first if first == last else f"{first} to {last}"


def assumption_lines(result: Result) -> list[str]:
    """What the answer is most sensitive to, for the solute that loses most."""
    if not result.assumptions:
        return []
    lane, count = worst_first(result)[0], len(result.assumptions)
    most = "one assumption" if count == 1 else f"{NUMBERS[count]} assumptions"
    return [
        f"The answer is most sensitive to {most}:",
        *(assumption_line(one, result.lanes, lane) for one in result.assumptions),
    ]


def critical_line(result: Result) -> str:
    """One sentence on the two neighbours that are hardest to tell apart.

    Empty where there are no neighbours.
    """
    pairs = separation(result)
    if pairs.critical is None:
        return ""
    pair = pairs.critical
    line = say(
        "Critical pair: {first} and {second}, resolution {resolution} recorded",
        first=pairs.first[pair],
        second=pairs.second[pair],
        resolution=with_error(pairs.half_height[pair], pairs.numerical_error[pair], digits=4),
    )
    if math.isfinite(pairs.column_alone[pair]):
        could = significant(pairs.column_alone[pair])
        several = sum(part.separates for part in result.parts) > 1
        one, more = (
            " of {could} that the column could give",
            " of {could} that the columns could give",
        )
        line += say(more if several else one, could=could)
    if result.recorded_band is not None and not math.isfinite(pairs.valley_to_peak[pair]):
        return line + word("; on the recorded trace they have run into one peak.")
    return line + "."


def verdict(check: CrossCheck) -> str:
    """One sentence on a CrossCheck: whether anything is wrong, and if so, in what."""
    bounds = (
        f"{WITHIN:g} times the sum of both error estimates, which are themselves known no better, "
        f"or by {READ:g} of what is read"
    )
    if check.agree:
        return f"The two solvers agree, nothing is wrong: no metric differs by more than {bounds}."
    far = ", ".join(f"{name} ({solute})" for name, solute in check.far)
    return (
        f"The two solvers differ, do not rely on it: by more than {bounds}, in {far}; compute "
        "again with a smaller --accuracy."
    )


def brought_back(result: Result, lane: int) -> str:
    """The parts whose ideal version brings most back, the most first; empty where not known."""
    ranked = [] if result.regained is None else result.regained.ranked(lane)
    if not ranked or result.regained is None:
        return ""
    errors = result.regained.numerical_error
    most = [(name, back) for name, back in ranked[:3] if back > errors[name][lane]]
    if not most:
        return "no part that were ideal alone would bring back anything measurable"
    metric = leading(result.recorded)
    # a part that brings a twentieth of the first is not worth the reader's time
    (first, back), *others = [one for one in most if one[1] >= most[0][1] / 20]
    text = (
        f"most comes back from {first}: if it alone were ideal, {significant(back)} "
        f"{'of the peak capacity' if metric.name == CAPACITY else 'plates'}"
    )
    if others:
        text += ", then " + " and ".join(f"{name} {significant(more)}" for name, more in others)
    return text


def _places(shares: dict[str, float], whole: str) -> str:
    """Where the variance comes from: the few parts that explain ENOUGH of it."""
    if not shares:
        return "no part adds to it"
    named, explained = [], 0.0
    for name, share in list(shares.items())[:3]:
        named.append(f"{name} ({percent(share)} %)")
        explained += share
        if explained >= ENOUGH:
            break
    text = named[0] if len(named) == 1 else ", ".join(named[:-1]) + " and " + named[-1]
    return f"{'most' if explained > 0.5 else 'the largest share'} of {whole} is in {text}"
