"""The sentences of ``improve``: what to do, where to stop, what not to do, and why."""

import math

from tailrace.report.improvement.figures import listed, money, share, spoken_time
from tailrace.report.numbers import significant, with_error

WORDS = {
    "gain": "brings most as early as possible",
    "money": "brings most for the money as early as possible",
    "effort": "brings most for the work as early as possible",
}
"""What the order makes the most of."""


MOST_PAIRS = 2
"""Of changes on which simulation and theory disagree that are told in full."""


def about(improvement) -> list[str]:
    """What was asked, and how it was answered.

    Parameters
    ----------
    improvement : Improvement
    """
    aim, combinations = improvement.aim, improvement.combinations
    of = aim.of or f"the {'pair' if aim.key == 'resolution' else 'solute'} that has it worst"
    count = len(combinations.figure)
    lines = [f"Aim: {aim.figure} of {of}. {count} combinations of changes simulated."]
    if aim.key == "tailing":
        lines.append("A gain is what the tailing falls by.")
    return lines + [_sentence(one) for one in (aim.remark, improvement.searched) if one]


def order_line(improvement) -> str:
    """One sentence on the order of the steps, the ties in it among them."""
    line = f"The order {WORDS[improvement.order]}"
    if improvement.ties:
        groups = "; ".join(f"steps {listed(map(str, group))}" for group in improvement.ties)
        line += f"; in either order, since the difference is too small to tell: {groups}"
    return line + "."


def stop_line(improvement) -> str:
    """One sentence on where to stop; empty where there is no step.

    Parameters
    ----------
    improvement : Improvement
    """
    steps, after = improvement.steps, improvement.stop_after
    last = len(steps) - 1
    if not last:
        return ""
    if after == last:
        least = f"{100 * improvement.stop:g} % of what there is before it"
        return f"Make all steps: the last still brings {least} or more."
    coming = steps[after + 1]
    brings = share(coming.gain / abs(steps[after].figure))
    where = f"Stop after step {after}: the next" if after else "Make no step: the first"
    later = ", nor does any later one" if after + 1 < last else ""
    return (
        f"{where}, {coming.change}, brings {brings} % of what there is before it, not "
        f"{100 * improvement.stop:g} %{later}."
    )


def doubt_line(improvement) -> str:
    """One sentence on what the stated uncertainty leaves of each gain; empty without one.

    Parameters
    ----------
    improvement : Improvement
    """
    bands = [
        f"step {step.number} {gain_band(step)}"
        for step in improvement.steps[1:]
        if math.isfinite(step.gain_low)
    ]
    if not bands:
        return ""
    return f"With 95 % of the stated uncertainty the gains are: {', '.join(bands)}."


def gain_band(step) -> str:
    """Between which the gain of a Step lies for the input uncertainty: ``1500 to 2100``."""
    return f"{significant(step.gain_low)} to {significant(step.gain_high)}"


def best_line(improvement) -> str:
    """One sentence on the best combination within the constraints.

    Parameters
    ----------
    improvement : Improvement
    """
    combinations, row = improvement.combinations, improvement.best
    names = improvement.names(row)
    if not names:
        return "Within the constraints nothing is better than the instrument as it is."
    figure = with_error(combinations.figure[row], combinations.error[row])
    line = (
        f"Best within the constraints: {listed(names)}: {improvement.aim.figure} {figure}, "
        f"cost {money(combinations.cost[row])}, work {spoken_time(combinations.effort[row])}"
    )
    if not combinations.meets[improvement.whole]:
        more = combinations.figure[improvement.whole]
        line += (
            f"; without the constraints {listed(improvement.names(improvement.whole))} would give "
            f"{significant(more, 4)}"
        )
    return line + "."


def left_out_lines(improvement) -> list[str]:
    """One sentence for each change that is not taken, with the reason."""
    lines = []
    for change in improvement.changes:
        if change.forbidden:
            lines.append(f"Not allowed: {change.name}: {_ended(change.forbidden)}")
        elif change.left_out:
            lines.append(f"Not taken: {change.name}: {_ended(change.left_out)}")
    return lines


def broken_lines(improvement) -> list[str]:
    """One sentence for each constraint that a step on the way does not meet."""
    return [
        f"After step {step.number}: {_ended(one)}"
        for step in improvement.steps
        for one in step.broken
    ]


def theory_lines(improvement) -> list[str]:
    """How the sum of textbook variances differs: the rankings, and the order of the steps."""
    lines = []
    clearest = sorted(improvement.disagreements, key=_how_close)
    for one in clearest[:MOST_PAIRS]:
        simulated = [significant(gain) for gain in one.simulated]
        theory = [significant(gain) for gain in one.theory]
        lines.append(
            f"Simulation and the sum of variances disagree: alone, {one.better} brings "
            f"{simulated[0]} and {one.worse} {simulated[1]}; the sum of variances says "
            f"{theory[0]} and {theory[1]}."
        )
    if len(clearest) > MOST_PAIRS:
        lines.append(f"They disagree on {len(clearest)} pairs of changes; these are the clearest.")
    order = [step.change for step in improvement.steps[1:]]
    theory = list(improvement.theory_order)
    if theory and theory != order:
        numbers = [str(order.index(name) + 1) for name in theory if name in order]
        lines.append(f"By the sum of variances the steps would be made so: {' '.join(numbers)}.")
    elif theory and not lines:
        lines.append("The sum of variances would make the same steps in the same order.")
    return lines


def _how_close(disagreement):
    """The smaller, the more clearly both rankings are opposed."""
    first, second = disagreement.simulated, disagreement.theory
    return max(first[1] / max(first[0], 1e-300), second[0] / max(second[1], 1e-300))


def findings(improvement) -> list[str]:
    """Every sentence below the tables, the verdict last."""
    order = [order_line(improvement)] if len(improvement.steps) > 1 else []
    return [
        *order,
        *filter(None, [doubt_line(improvement)]),
        best_line(improvement),
        *left_out_lines(improvement),
        *broken_lines(improvement),
        *theory_lines(improvement),
        *filter(None, [stop_line(improvement)]),
    ]


def _sentence(text):
    return _ended(text[:1].upper() + text[1:])


def _ended(text):
    text = " ".join(text.split())
    return text if text.endswith((".", "!")) else text + "."
