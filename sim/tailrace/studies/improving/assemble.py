"""What the answer holds: steps, changes, frontiers; why a change is left out, where to stop."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from itertools import pairwise

import numpy as np

from tailrace.quantities.arrays import FloatArray, IntArray
from tailrace.studies.improving.ledger import Ledger
from tailrace.studies.improving.result import (
    LEAST_WORTH,
    NAN,
    Change,
    Combinations,
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
    having = np.flatnonzero(ledger.bits & whole == whole)
    if having.size and not (ledger.table.satisfied & ~np.isnan(ledger.score))[having].any():
        first = int(ledger.bits[having[0]])
        return _never(ledger, whole if whole in ledger.rows else first)
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


def change_of(ledger: Ledger, bit: int, best: int, share: float, share_error: float) -> Change:
    """Return what the change ``bit`` is worth.

    ``best`` is the best combination within the constraints; ``share`` the Shapley value (1).
    """
    plan = ledger.plan
    one, whole = plan.scenario.document.changes[bit], plan.needs[bit]
    lasts = np.flatnonzero(
        (ledger.bits >> bit & 1 == 1) & np.isin(ledger.bits & ~(1 << bit), ledger.bits)
    )
    last = ledger.best_of(lasts) if lasts.size else whole
    alone, alone_error, theory = ledger.gain(whole & ~(1 << bit), whole)
    at_last, last_error, _ = ledger.gain(last & ~(1 << bit), last)
    apart = [pair & ~(1 << bit) for pair in plan.apart if pair >> bit & 1]
    return Change(
        name=one.name,
        cost=one.cost,
        effort=one.effort,
        needs=tuple(one.needs),
        excludes=tuple(name for pair in sorted(apart) for name in plan.taken(pair)),
        caution=one.caution,
        alone=alone,
        alone_error=alone_error,
        last=at_last,
        last_error=last_error,
        share=float(share),
        share_error=float(share_error),
        theory_alone=theory,
        in_best=bool(best >> bit & 1),
        heaters=plan.heaters.get(one.name, ()),
        **asdict(left_out(ledger, bit, best)),
    )


def steps_of(ledger: Ledger, changes: Sequence[Change], order: Sequence[int]) -> tuple[Step, ...]:
    """Return the steps from the start over the changes (bits) in their order."""
    steps, now = [], 0
    for number, bit in enumerate((None, *order)):
        before, now = now, now if bit is None else now | 1 << bit
        gain = (NAN, NAN, NAN) if bit is None else ledger.gain(before, now)
        change = None if bit is None else changes[bit]
        taken = tuple(changes[one].name for one in order[:number])
        steps.append(_step(ledger, ledger.rows[now], change, taken, gain))
    return tuple(steps)


def _step(
    ledger: Ledger,
    row: int,
    change: Change | None,
    taken: tuple[str, ...],
    gain: tuple[float, float, float],
) -> Step:
    table = ledger.table
    lost = ledger.plan.aim.sign * float(table.ceiling[0] - table.value[0])
    same = ("value", "error", "theory", "pressure", "cell_pressure", "signal", "noise")
    return Step(
        number=len(taken),
        change=change.name if change else "",
        taken=taken,
        combination=row,
        of=str(table.of[row]),
        gain=gain[0],
        gain_error=gain[1],
        gain_low=NAN,
        gain_high=NAN,
        recovered=float(ledger.score[row] - ledger.score[0]) / lost if lost > 0 else NAN,
        theory_gain=gain[2],
        cost=change.cost if change else 0.0,
        effort=change.effort if change else 0.0,
        total_cost=float(table.cost[row]),
        total_effort=float(table.effort[row]),
        caution=change.caution if change else "",
        **{name: float(getattr(table, name)[row]) for name in (*same, "signal_to_noise")},
    )


def frontiers(table: Combinations, score: FloatArray) -> dict[str, IntArray]:
    """Return the rows that no other beats at less demand, by kind of demand.

    Parameters
    ----------
    score : (combinations,) array, 1
        Greater is better.

    Returns
    -------
    dict of str to (points,) array of int, 1
        As of ``Improvement``. A row that gains no more than the discretisation error is left out.
    """
    demands = {
        "cost": table.cost,
        "effort": table.effort,
        "pressure": table.pressure,
        "signal_to_noise": -table.signal_to_noise,
    }
    within = np.flatnonzero(table.satisfied & ~np.isnan(score))
    found = {}
    for name, demand in demands.items():
        rows = within[~np.isnan(demand[within])]
        front: list[int] = []
        for row in rows[np.lexsort((rows, -score[rows], demand[rows]))].tolist():
            if front:
                error = table.error[row] + table.error[front[-1]]
                if score[row] - score[front[-1]] <= error:
                    continue
            front.append(row)
        found[name] = np.array(front, dtype=np.int64)
    return found
