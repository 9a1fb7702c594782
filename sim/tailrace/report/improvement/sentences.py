"""The sentences of ``improve``: the verdict, what to do, where to stop, what not to do, and why."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping

import numpy as np

from tailrace.journey.result import Result
from tailrace.measures.registry import CAPACITY, EXTRA_COLUMN, METRICS, PLATES_OWN, SIGNALS
from tailrace.quantities.kinds import show
from tailrace.report.improvement.pressures import at_its_highest, slower, unchecked_line
from tailrace.report.numbers import ABSENT, percent, significant, with_error
from tailrace.report.sentences import ABOUT, tolerances
from tailrace.studies.improving.result import (
    LEAST_WORTH,
    Change,
    Disagreement,
    Improvement,
    Step,
    Violation,
)

BAR = 1e5
"""Pa"""
MINUTE = 60.0
"""s"""
ALPHABET = "abcdefghijklmnopqrstuvwxyz"


def letters(index: int) -> str:
    """Short name of a change by its place in the file: a to z, then aa, ab …"""
    text = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, len(ALPHABET))
        text = ALPHABET[rest] + text
    return text


def gained(value: float, error: float, digits: int = 0) -> str:
    """A gain with its sign, rounded to the place where its error begins; 0 within the error.

    ``digits``: as of ``with_error``.
    """
    if math.isfinite(value) and abs(value) <= (error if math.isfinite(error) else 0):
        return "0"
    text = with_error(value, error, digits=digits).partition(" ± ")[0]
    return f"+{text}" if math.isfinite(value) and value > 0 else text


def money(value: float) -> str:
    """Money in the file's own currency, to the unit; tenths and hundredths where there are any."""
    if not math.isfinite(value):
        return ABSENT
    return f"{value:.0f}" if abs(value - round(value)) < 0.005 else f"{value:.2f}"


def minutes(seconds: float) -> str:
    """A working time in minutes, to the minute."""
    return f"{seconds / MINUTE:.0f}" if math.isfinite(seconds) else ABSENT


def spoken_time(seconds: float) -> str:
    """A working time as it is said: ``45 min``, ``2 h 5 min``, ``none``."""
    hours, rest = divmod(round(seconds / MINUTE), 60)
    parts = [f"{hours} h"] if hours else []
    parts += [f"{rest} min"] if rest else []
    return " ".join(parts) or "none"


def bars(pressure: float) -> str:
    """A pressure in bar, three digits."""
    return significant(pressure / BAR)


def ratio(value: float) -> str:
    """A ratio to the start, two decimals."""
    return f"{value:.2f}" if math.isfinite(value) else ABSENT


def share(fraction: float) -> str:
    """A share in per cent without the sign, with its sign where it is negative."""
    if math.isfinite(fraction) and -0.005 < 100 * fraction <= 0:
        return "0.00"
    return percent(fraction)


def listed(names: Iterable[str]) -> str:
    """Names in a sentence: ``a``, ``a and b``, ``a, b and c``."""
    names = list(names)
    if len(names) < 2:
        return "".join(names)
    return ", ".join(names[:-1]) + " and " + names[-1]


ORDERS = {
    "gain": "brings most as early as possible",
    "money": "brings most for the money as early as possible",
    "effort": "brings most for the work as early as possible",
}
"""What the order makes the most of."""
MOST_PAIRS = 2
"""Of changes on which simulation and theory disagree that are shown in full."""


def in_bar(pressure: float) -> str:
    """A pressure with its unit, three digits."""
    return show(pressure, "pressure", 3)


CONSTRAINTS: dict[str, tuple[str, str, Callable[[float], str]]] = {
    "pressure": ("pressure", "pressure, whole path, at most", in_bar),
    "cell_pressure": ("pressure at the cell", "pressure in the cell, at most", in_bar),
    "signal": ("signal", "signal over the start's, at least", ratio),
    "signal_to_noise": (
        "signal-to-noise ratio",
        "signal to noise over the start's, at least",
        ratio,
    ),
    "budget": ("cost", "cost, at most", money),
    "effort": ("working time", "work, at most", spoken_time),
}
"""Constraints as sentences call them, what was asked, and how values are written."""


def metric_label(name: str) -> str:
    """What people call a metric of the registry, or what has no row there: ``pressure``."""
    rows = METRICS | SIGNALS
    return rows[name].label if name in rows else name


def step_name(step: Step) -> str:
    """Number and change of a step: ``2 narrow tubes``."""
    return f"{step.number} {step.change}" if step.number else "0 as it is"


def verdict(improvement: Improvement) -> str:
    """Whether the best combination is worth making, and what it brings."""
    count, after = improvement.steps[-1].number, improvement.stop_after
    start, last = improvement.steps[0], improvement.steps[-1]
    label, outcome = improvement.aim.label, improvement.outcome
    if outcome == "worth it" and 0 < after < count:
        last = improvement.steps[after]
    who = f" ({start.of})" if start.of and start.of == last.of else ""
    change = f"{label} from {_reached(improvement, start)} to {_reached(improvement, last)}{who}"
    ends = _ends(improvement, last.combination)
    if outcome == "worth it":
        return f"Worth it: {_what_it_brings(improvement, last, change)}{ends}."
    gain = improvement.gain(improvement.best) / abs(start.value) if start.value else math.inf
    return {
        "infeasible": f"Nothing keeps to the constraints: {'; '.join(broken(improvement, 0))}"
        f"{slower(improvement)}{_unmet(improvement)}.",
        "no gain": f"Not worth it: no change within the constraints brings better {label}.",
        "needed": f"Needed: the start does not keep to the constraints; {change}{ends}.",
        "within error": f"Not worth it: the gain is below the discretisation error; {change}.",
        "within uncertainty": f"Not worth it: the gain is within the input uncertainty; {change}.",
        "small": f"Not worth it: all that is allowed gains {100 * gain:.2g} %, less than "
        f"{100 * LEAST_WORTH:g} %; {change}.",
    }[outcome]


def _what_it_brings(improvement: Improvement, last: Step, change: str) -> str:
    count, more = last.number, improvement.steps[-1].number - last.number
    back = improvement.recovered(last.combination)
    lost = f", {100 * back:.0f} % of what was lost" if math.isfinite(back) else ""
    brings = f"{count} changes bring" if count > 1 else "1 change brings"
    if not more:
        return f"{brings} {change}{lost}"
    rest = "the step behind brings" if more == 1 else f"each of the {more} steps behind brings"
    first = brings if count > 1 else "change brings"
    return f"the first {first} {change}{lost}; {rest} less than {100 * improvement.stop:g} %"


def broken(improvement: Improvement, row: int) -> list[str]:
    """One clause for each constraint that a combination does not keep to."""
    return [
        violation_clause(one) + at_its_highest(improvement, one.constraint)
        for one in improvement.violations(row)
    ]


def violation_clause(one: Violation) -> str:
    """What is broken, by how much: ``pressure 410 bar, 10 bar above 400 bar``."""
    what, _, written = CONSTRAINTS[one.constraint]
    if written is ratio:
        return f"{what} {one.value:.3g} of the start's, below {one.limit:.3g}"
    value, over, limit = map(written, (one.value, one.value - one.limit, one.limit))
    return f"{what} {value}, {over} above {limit}"


def forbidden(change: Change) -> str:
    """Why the method does not allow a change; empty where it does."""
    if not change.heaters:
        return ""
    return (
        "the method needs temperature control, and without it nothing heats as "
        f"{' and '.join(change.heaters)} did"
    )


def left_out(improvement: Improvement, change: Change) -> str:
    """Why the best combination does not have a change; empty where it has."""
    names = " and ".join(f'"{name}"' for name in change.rivals)
    tried = change.tried
    clauses = "; ".join(broken(improvement, tried)) if tried >= 0 else ""
    if change.reason == "not computed":
        return str(improvement.combinations.warnings[tried]).partition("\n")[0]
    return {
        "": "",
        "forbidden": forbidden(change),
        "undefined": "has no such metric",
        "breaks alone": clauses,
        "breaks beside": f"beside the others: {clauses}",
        "breaks instead": f"in the place of {names}: {clauses}",
        "rival better": f"{names} in its place brings more",
        "rival equal": f"{names} in its place brings as much",
        "rival untried": f"{names} stands in its place",
        "not found": "was not found to bring more",
        "impossible": "cannot be made beside the others",
        "no gain": "brings nothing measurable beside the others",
        "harmful": f"makes it worse beside the others, by {_number(-change.tried_gain)}",
    }[change.reason]


def remark(improvement: Improvement) -> str:
    """What must be known of the metric that is aimed at; empty where nothing must."""
    aim = improvement.aim
    if aim.metric == CAPACITY:
        return "with a gradient there are no plates; the peak capacity takes their place"
    if aim.metric == PLATES_OWN:
        return (
            "plates are told at the retention that the column alone gives, so that a delay does "
            "not count as efficiency; a data system that takes the recorded time finds more"
        )
    if aim.metric == EXTRA_COLUMN:
        return "it counts in volume what all parts but the column add to the recorded variance"
    return ""


def searched(improvement: Improvement) -> str:
    """How combinations were searched; empty where all were simulated."""
    if not improvement.orders_sampled:
        return ""
    return (
        f"{len(improvement.changes)} changes are too many for all combinations: from the start, "
        "the change that gains most was taken, then exchanged for others as long as that gained "
        f"more, {len(improvement.combinations.value)} combinations in all; the Shapley values are "
        f"from {improvement.orders_sampled} random orders"
    )


def basis(improvement: Improvement) -> str:
    """What the intervals of the expected metrics hold."""
    expected = improvement.expected
    samples = 0 if expected is None else expected.samples
    if not samples:
        return "none: no input uncertainty is stated, or none was sampled"
    if expected is not None and expected.typical:
        return (
            f"typical tolerances of makers, 95 % of {samples} samples, and the discretisation "
            f"error; half widths, common practice, no source: {tolerances()}"
        )
    return f"the stated input uncertainty, 95 % of {samples} samples, and the discretisation error"


def basis_line(improvement: Improvement) -> str:
    """The same as a sentence, and how to read a measurement outside its interval."""
    text = f"The interval of what is expected is {basis(improvement)}."
    expected = improvement.expected
    if expected is not None and expected.typical:
        return (
            f"{text} The scenario states no uncertainty of its own, so these stand in its place. "
            "Joints, retention, diffusivities, the packing and how tubes lie count as exact: no "
            "band of times and pressure can be given, and a measurement outside the others is a "
            "reason to look, not a fault. Say in [[uncertain]] what you know better."
        )
    if expected is not None and expected.samples:
        return (
            f"{text} What is not called uncertain counts as exact: judge retention and pressure "
            "by what changes from step to step."
        )
    return (
        "No acceptance band can be given: no uncertainty is stated, or none was sampled. Judge "
        "by what changes from step to step, or say in [[uncertain]] how well bores, volumes, flow "
        "and the column's plates are known. --ranges typical takes typical tolerances of makers."
    )


def about(improvement: Improvement) -> list[str]:
    """What was asked, and how it was answered."""
    aim = improvement.aim
    of = aim.of or f"the {'pair' if aim.key == 'resolution' else 'solute'} that has it worst"
    of += " on each" * bool(aim.columns)
    count = len(improvement.combinations.value)
    lines = [f"Aim: {aim.label} of {of}. {count} combinations of changes simulated."]
    if aim.sign < 0:
        lines.append(f"A gain is what the {aim.label} falls by.")
    clauses = (remark(improvement), searched(improvement))
    return lines + [_ended(one[:1].upper() + one[1:]) for one in clauses if one]


def order_line(improvement: Improvement) -> str:
    """The order of the steps, the ties in it among them; empty where there is no step."""
    if len(improvement.steps) < 2:
        return ""
    line = f"The order {ORDERS[improvement.order]}"
    if improvement.ties:
        groups = "; ".join(f"steps {listed(map(str, group))}" for group in improvement.ties)
        line += f"; in either order, since the difference is too small to tell: {groups}"
    if improvement.free_first:
        line += (
            "; what costs nothing may come first, since the order hardly matters: "
            f"{', '.join(improvement.free_first)}"
        )
    return line + "."


def _unmet(improvement: Improvement) -> str:
    """What the best set, which breaks constraints, would give."""
    row = improvement.whole
    if not row:
        return ""
    value = _number(improvement.combinations.value[row])
    names = listed(improvement.names(row))
    return (
        f"; the best set without them ({names}) would give {improvement.aim.label} {value}"
        f"{_ends(improvement, row)}"
    )


def _ends(improvement: Improvement, row: int) -> str:
    """Signal and pressure of a combination, as a clause; empty of the start."""
    table = improvement.combinations
    found = []
    if math.isfinite(table.signal_to_noise[row]):
        found.append(f"{ratio(float(table.signal_to_noise[row]))} of the start's signal to noise")
    if math.isfinite(table.pressure[row]):
        pressure = in_bar(float(table.pressure[row]))
        found.append(f"{pressure} {ABOUT}{at_its_highest(improvement)}")
    return f"; it ends at {' and '.join(found)}" if found and row else ""


def stop_line(improvement: Improvement) -> str:
    """Where to stop; empty where there is no step."""
    steps, after = improvement.steps, improvement.stop_after
    last = len(steps) - 1
    if not last:
        return ""
    least = f"{100 * improvement.stop:g} %"
    if after == last:
        return f"Make all steps: the last still brings {least} or more of what there is before it."
    brings = share(steps[after + 1].gain / abs(steps[after].value))
    where = f"Stop after step {after}: the next" if after else "Make no step: the first"
    later = ", nor does any later one" if after + 1 < last else ""
    return (
        f"{where}, {steps[after + 1].change}, brings {brings} % of what there is before it, not "
        f"{least}{later}."
    )


def doubt_line(improvement: Improvement) -> str:
    """What the stated uncertainty leaves of each gain; empty without one."""
    intervals = [
        f"step {step.number}: {gain_interval(step)}"
        for step in improvement.steps[1:]
        if math.isfinite(step.gain_low)
    ]
    if not intervals:
        return ""
    return f"Within the stated uncertainty (95 %) the gains are {', '.join(intervals)}."


def gain_interval(step: Step) -> str:
    """Between which the gain of a step lies for the input uncertainty: ``1500 to 2100``."""
    return f"{significant(step.gain_low)} to {significant(step.gain_high)}"


def best_line(improvement: Improvement) -> str:
    """The best combination within the constraints."""
    table, row = improvement.combinations, improvement.best
    names = improvement.names(row)
    if not names:
        return "Within the constraints nothing is better than the instrument as it is."
    line = (
        f"Best within the constraints: {listed(names)}: {improvement.aim.label} "
        f"{_number(table.value[row])}, cost {money(table.cost[row])}, work "
        f"{spoken_time(table.effort[row])}"
    )
    if not table.satisfied[improvement.whole]:
        whole = listed(improvement.names(improvement.whole))
        line += f"; without the constraints {whole} would give "
        line += _number(table.value[improvement.whole])
    return line + "."


def left_out_lines(improvement: Improvement) -> list[str]:
    """One sentence for each change that is not taken, with the reason."""
    return [
        f"Not {'allowed' if change.heaters else 'taken'}: {change.name}: "
        f"{_ended(left_out(improvement, change))}"
        for change in improvement.changes
        if change.reason
    ]


def broken_lines(improvement: Improvement) -> list[str]:
    """One sentence for each constraint that a step on the way does not keep to."""
    return [
        f"After step {step.number}: {_ended(one)}"
        for step in improvement.steps
        for one in broken(improvement, step.combination)
    ]


def theory_lines(improvement: Improvement) -> list[str]:
    """How the sum of textbook variances differs: the rankings, and the order of the steps."""
    lines = []
    clearest = sorted(improvement.disagreements, key=_how_close)
    for one in clearest[:MOST_PAIRS]:
        better, worse = map(significant, one.simulated)
        lines.append(
            f"Simulation and the sum of variances disagree: alone, {one.better} brings {better} "
            f"and {one.worse} {worse}; the sum of variances says "
            f"{' and '.join(map(significant, one.theory))}."
        )
    if len(clearest) > MOST_PAIRS:
        lines.append(f"They disagree on {len(clearest)} pairs of changes; these are the clearest.")
    order = [step.change for step in improvement.steps[1:]]
    theory_order = list(improvement.theory_order)
    if theory_order and theory_order != order:
        numbers = [str(order.index(name) + 1) for name in theory_order if name in order]
        lines.append(f"By the sum of variances the steps would be made so: {' '.join(numbers)}.")
    elif theory_order and not lines:
        lines.append("The sum of variances would make the same steps in the same order.")
    return lines


def _how_close(one: Disagreement) -> float:
    """The smaller, the more clearly both rankings are opposed."""
    first, second = one.simulated, one.theory
    return max(first[1] / max(first[0], 1e-300), second[0] / max(second[1], 1e-300))


def findings(improvement: Improvement) -> list[str]:
    """Every sentence below the tables but the verdict."""
    lines: Iterable[str] = (
        order_line(improvement),
        doubt_line(improvement),
        best_line(improvement),
        *left_out_lines(improvement),
        *broken_lines(improvement),
        unchecked_line(improvement),
        *theory_lines(improvement),
        stop_line(improvement),
    )
    return [line for line in lines if line]


def computed_line(improvement: Improvement) -> str:
    """How many combinations were computed, and how well the worst was."""
    table = improvement.combinations
    count, failed = len(table.value), int(np.count_nonzero(~table.computed))
    text = f"{failed} could not be computed" if failed else "all could be computed"
    line = f"{count} combinations of changes were simulated, the start among them; {text}."
    good = np.isfinite(table.error) & (np.abs(table.value) > 0)
    if good.any():
        worst = float(np.max(table.error[good] / np.abs(table.value[good])))
        line += f" The largest discretisation error of the metric is {percent(worst)} % of it."
    return line


def warning_lines(states: Mapping[str, Result]) -> list[str]:
    """Each warning of the runs that are shown in full, with the states that have it."""
    having: dict[str, list[str]] = {}
    for name, result in states.items():
        for warning in result.warnings:
            having.setdefault(warning, []).append(name)
    return [f"{warning} ({'; '.join(names)})" for warning, names in having.items()]


def _ended(text: str) -> str:
    text = " ".join(text.split())
    return text if text.endswith((".", "!")) else text + "."


def _reached(improvement: Improvement, step: Step) -> str:
    """The metric behind a step, as far as what is uncertain of the inputs leaves it."""
    half = [
        (one.high - one.low) / 2
        for one in (improvement.expected.rows if improvement.expected else ())
        if (one.step, one.metric, one.of) == (step.number, improvement.aim.metric, step.of)
    ]
    return _number(step.value, *half)


def _number(value: float, error: float = 0.0) -> str:
    """Three digits at most, fewer where its error leaves fewer: no model is known any better."""
    return with_error(value, np.nan_to_num(error), digits=3).partition(" ± ")[0]
