"""The conclusions in words: why a change is left out, where to stop, whether it is worth it."""

from itertools import pairwise

LEAST_WORTH = 0.05
"""Of the figure at the start: a whole gain below it is not worth the work (our own choice)."""


def left_out(ledger, bit, best) -> str:
    """Say why the best combination does not have a change.

    Parameters
    ----------
    ledger : Ledger
    bit : int
        The change.
    best : int
        The combination.
    """
    plan = ledger.plan
    if plan.names[bit] in plan.forbidden:
        return plan.forbidden[plan.names[bit]]
    whole = plan.needs[bit]
    having = [one for one in ledger.order if one & whole == whole]
    if having and not any(ledger.meets(one) for one in having):
        return _never(ledger, whole if whole in ledger.rows else having[0])
    rivals = [
        pair & best
        for pair in plan.apart
        if pair & whole and pair & best and not pair & whole & best
    ]
    if rivals:
        return _in_its_place(ledger, best, whole, rivals)
    together = best | whole
    if together not in ledger.rows:
        return (
            "was not found to bring more" if plan.searched else "cannot be made beside the others"
        )
    broken = ledger.broken[ledger.rows[together]]
    if broken:
        return f"beside the others: {'; '.join(broken)}"
    gain = ledger.value(together) - ledger.value(best)
    doubt = _doubt(ledger, together, best)
    if abs(gain) <= doubt or gain > 0:
        return "brings nothing measurable beside the others"
    return f"makes it worse beside the others, by {_number(-gain)}"


def _never(ledger, combination):
    """Why a combination cannot be had, by itself."""
    row = ledger.rows[combination]
    warned = str(ledger.figures["warnings"][row]).splitlines()
    uncomputed = not ledger.figures["computed"][row] and warned
    return warned[0] if uncomputed else "; ".join(ledger.broken[row]) or "has no such figure"


def _in_its_place(ledger, best, whole, rivals):
    plan = ledger.plan
    gone = 0
    for rival in rivals:
        for bit, needed in enumerate(plan.needs):
            if best >> bit & 1 and needed & rival:
                gone |= 1 << bit
    names = " and ".join(f'"{name}"' for rival in rivals for name in plan.taken(rival))
    instead = best & ~gone | whole
    if instead in ledger.rows:
        broken = ledger.broken[ledger.rows[instead]]
        if broken:
            return f"in the place of {names}: {'; '.join(broken)}"
        if ledger.value(best) - ledger.value(instead) > _doubt(ledger, best, instead):
            return f"{names} in its place brings more"
        return f"{names} in its place brings as much"
    return f"{names} stands in its place"


def stop_after(steps, stop) -> int:
    """Number of the last step that brings a share of the figure before it, or more.

    Parameters
    ----------
    steps : sequence of Step
    stop : float, 1
    """
    worth = [
        after.number
        for before, after in pairwise(steps)
        if after.gain >= stop * before.figure and after.gain > after.gain_error
    ]
    return max(worth, default=0)


def verdict(improvement) -> tuple[bool, str]:
    """Whether the best combination is worth making, and a sentence that says so.

    Parameters
    ----------
    improvement : Improvement
        Complete but for these two.
    """
    made, figure = improvement, improvement.aim.figure
    start, last = made.steps[0], made.steps[-1]
    if not made.combinations.meets.any():
        return False, f"Nothing keeps to the constraints: {'; '.join(start.broken)}."
    gain = float(made.gain(made.best))
    who = f" ({start.of})" if start.of == last.of else ""
    change = f"{figure} {_number(start.figure)} to {_number(last.figure)}{who}"
    share = gain / abs(start.figure) if start.figure else float("inf")
    if not made.changes or last.number == 0:
        return False, f"Not worth it: no change within the constraints brings better {figure}."
    if start.broken and made.combinations.meets[made.best]:
        return True, f"Needed: the start does not keep to the constraints; {change}."
    if gain <= start.error + last.error:
        return False, f"Not worth it: the gain is below the discretisation error; {change}."
    if made.expected and made.expected.whole_low <= 0:
        return False, f"Not worth it: the gain is within the input uncertainty; {change}."
    if share < LEAST_WORTH:
        return False, (
            f"Not worth it: all that is allowed gains {100 * share:.2g} %, less than "
            f"{100 * LEAST_WORTH:g} %; {change}."
        )
    back = made.recovered(made.best)
    lost = f", {100 * back:.0f} % of what was lost" if back == back else ""
    plural = "change brings" if last.number == 1 else "changes bring"
    stop = ""
    if 0 < made.stop_after < last.number:
        stop = (
            f"; stop after step {made.stop_after}, each one behind it brings less than "
            f"{100 * made.stop:g} %"
        )
    return True, f"Worth it: {last.number} {plural} {change}{lost}{stop}."


def _doubt(ledger, one, other):
    return float(sum(ledger.scores.error[ledger.rows[made]] for made in (one, other)))


def _number(value):
    """Three digits, whole where there are more."""
    return f"{value:.0f}" if abs(value) >= 1000 else f"{value:.3g}"
