"""What each change and each step comes to, and which combinations no other beats."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict

import numpy as np

from tailrace.quantities.arrays import FloatArray, IntArray
from tailrace.studies.improving.explain import left_out
from tailrace.studies.improving.ledger import Ledger
from tailrace.studies.improving.result import NAN, Change, Combinations, Step


def change_of(ledger: Ledger, bit: int, best: int, share: float, share_error: float) -> Change:
    """Return what the change ``bit`` is worth.

    ``best`` is the best combination within the constraints; ``share`` the Shapley value (1).
    """
    plan = ledger.plan
    one, whole = plan.scenario.document.changes[bit], plan.needs[bit]
    lasts = [each for each in ledger.order if each >> bit & 1 and each & ~(1 << bit) in ledger.rows]
    last = max(lasts, key=lambda each: (ledger.value(each), -each), default=whole)
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
