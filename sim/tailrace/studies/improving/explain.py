"""Why a change is left out, where to stop, and whether the whole is worth making."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from tailrace.studies.improving.ledger import Ledger
from tailrace.studies.improving.result import (
    LEAST_WORTH,
    NAN,
    Improvement,
    Outcome,
    Reason,
    Step,
)


@dataclass(frozen=True)
class LeftOut:
    """Why the best combination does not have a change; fields as of ``Change``."""

    reason: Reason = ""
    tried: int = -1
    rivals: tuple[str, ...] = ()
    tried_gain: float = NAN


def left_out(ledger: Ledger, bit: int, best: int) -> LeftOut:
    """Say why the combination ``best`` does not have the change ``bit``."""
    plan = ledger.plan
    if best >> bit & 1:
        return LeftOut()
    if plan.names[bit] in plan.heaters:
        return LeftOut("forbidden")
    whole = plan.needs[bit]
    having = [one for one in ledger.order if one & whole == whole]
    if having and not any(ledger.satisfies(one) for one in having):
        return _never(ledger, whole if whole in ledger.rows else having[0])
    rivals = [
        pair & best
        for pair in plan.apart
        if pair & whole and pair & best and not pair & whole & best
    ]
    if rivals:
        return _instead(ledger, best, whole, rivals)
    together = best | whole
    if together not in ledger.rows:
        return LeftOut("not found" if plan.searched else "impossible")
    tried, gain = _tried(ledger, best, together)
    if not ledger.table.satisfied[tried]:
        computed = ledger.table.computed[tried]
        return LeftOut("breaks beside" if computed else "not computed", tried, (), gain)
    harms = gain < -_error(ledger, best, together)
    return LeftOut("harmful" if harms else "no gain", tried, (), gain)


def _never(ledger: Ledger, combination: int) -> LeftOut:
    """Why a combination cannot be had, by itself."""
    row = ledger.rows[combination]
    if not ledger.table.computed[row]:
        return LeftOut("not computed", row)
    return LeftOut("undefined" if ledger.table.satisfied[row] else "breaks alone", row)


def _instead(ledger: Ledger, best: int, whole: int, rivals: Sequence[int]) -> LeftOut:
    """Hold what excludes the change against the change in its place."""
    plan, gone = ledger.plan, 0
    for rival in rivals:
        for bit, needed in enumerate(plan.needs):
            if best >> bit & 1 and needed & rival:
                gone |= 1 << bit
    names = tuple(name for rival in rivals for name in plan.taken(rival))
    instead = best & ~gone | whole
    if instead not in ledger.rows:
        return LeftOut("rival untried", -1, names)
    tried, gain = _tried(ledger, best, instead)
    if not ledger.table.satisfied[tried]:
        computed = ledger.table.computed[tried]
        return LeftOut("breaks instead" if computed else "not computed", tried, names, gain)
    better = -gain > _error(ledger, best, instead)
    return LeftOut("rival better" if better else "rival equal", tried, names, gain)


def _tried(ledger: Ledger, best: int, other: int) -> tuple[int, float]:
    return ledger.rows[other], ledger.value(other) - ledger.value(best)


def _error(ledger: Ledger, one: int, other: int) -> float:
    return float(sum(ledger.table.error[ledger.rows[each]] for each in (one, other)))


def stop_after(steps: Sequence[Step], stop: float) -> int:
    """Number of the last step that gains a share (1) of the value before it, or more."""
    worth = [
        after.number
        for before, after in pairwise(steps)
        if after.gain >= stop * before.value and after.gain > after.gain_error
    ]
    return max(worth, default=0)


def outcome(improvement: Improvement) -> Outcome:
    """Whether the best combination is worth making, or why not.

    ``improvement``: complete but for its ``outcome``.
    """
    satisfied = improvement.combinations.satisfied
    start, last = improvement.steps[0], improvement.steps[-1]
    gain = improvement.gain(improvement.best)
    share = gain / abs(start.value) if start.value else float("inf")
    expected = improvement.expected
    if not satisfied.any():
        return "infeasible"
    if last.number == 0:
        return "no gain"
    if not satisfied[0] and satisfied[improvement.best]:
        return "needed"
    if gain <= start.error + last.error:
        return "within error"
    if expected is not None and expected.whole_low <= 0:
        return "within uncertainty"
    return "small" if share < LEAST_WORTH else "worth it"
