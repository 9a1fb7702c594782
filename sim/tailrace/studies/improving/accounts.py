"""What each change and each step comes to, and which combinations no other beats."""

import numpy as np

from tailrace.studies.improving.reasons import left_out
from tailrace.studies.improving.result import Change, Disagreement, Step

NAN = float("nan")


def change_of(ledger, bit, best, share, share_error) -> Change:
    """Return what one change is worth.

    Parameters
    ----------
    ledger : Ledger
    bit : int
        The change.
    best : int
        The best combination within the constraints.
    share, share_error : float, 1

    Returns
    -------
    Change
    """
    plan, rows = ledger.plan, ledger.rows
    one = plan.scenario.document.changes[bit]
    whole = plan.needs[bit]
    lasts = [made for made in ledger.order if made >> bit & 1 and made & ~(1 << bit) in rows]
    last = max(lasts, key=lambda made: (ledger.value(made), -made), default=whole)
    alone, alone_error, theory = _gain(ledger, whole & ~(1 << bit), whole)
    at_last, last_error, _ = _gain(ledger, last & ~(1 << bit), last)
    apart = [pair & ~(1 << bit) for pair in plan.apart if pair >> bit & 1]
    return Change(
        name=one.name,
        cost=one.cost,
        effort=one.effort,
        needs=tuple(one.needs),
        excludes=tuple(name for pair in sorted(apart) for name in plan.taken(pair)),
        caution=one.caution,
        forbidden=plan.forbidden.get(one.name, ""),
        alone=alone,
        alone_error=alone_error,
        last=at_last,
        last_error=last_error,
        share=float(share),
        share_error=float(share_error),
        theory_alone=theory,
        in_best=bool(best >> bit & 1),
        left_out="" if best >> bit & 1 else left_out(ledger, bit, best),
    )


def _gain(ledger, before, after):
    """Gain from one combination to another, its discretisation error, and the gain by theory."""
    if before not in ledger.rows or after not in ledger.rows:
        return NAN, NAN, NAN
    one, other = ledger.rows[before], ledger.rows[after]
    scores, sign = ledger.scores, ledger.plan.aim.sign
    return (
        float(ledger.score[other] - ledger.score[one]),
        float(scores.error[other] + scores.error[one]),
        float(sign * (scores.theory[other] - scores.theory[one])),
    )


def steps_of(ledger, made, order):
    """Return the steps from the start to the best.

    Parameters
    ----------
    ledger : Ledger
    made : Improvement
        Complete but for the steps.
    order : sequence of int
        Bits.

    Returns
    -------
    tuple of Step
    """
    steps, now = [], 0
    for number, bit in enumerate((None, *order)):
        before, now = now, now if bit is None else now | 1 << bit
        gain = (NAN, NAN, NAN) if bit is None else _gain(ledger, before, now)
        taken = tuple(ledger.plan.names[one] for one in order[:number])
        steps.append(_step(made, taken, ledger.rows[now], gain))
    return tuple(steps)


def _step(made, taken, row, gain):
    table = made.combinations
    change = next((one for one in made.changes if taken and one.name == taken[-1]), None)
    told = ("pressure", "cell_pressure", "signal", "noise", "signal_to_noise")
    return Step(
        number=len(taken),
        change=change.name if change else "",
        taken=taken,
        combination=row,
        figure=float(table.figure[row]),
        error=float(table.error[row]),
        of=str(table.of[row]),
        gain=gain[0],
        gain_error=gain[1],
        gain_low=NAN,
        gain_high=NAN,
        recovered=float(made.recovered(row)),
        theory=float(table.theory[row]),
        theory_gain=gain[2],
        cost=change.cost if change else 0.0,
        effort=change.effort if change else 0.0,
        total_cost=float(table.cost[row]),
        total_effort=float(table.effort[row]),
        **{name: float(getattr(table, name)[row]) for name in told},
        caution=change.caution if change else "",
        broken=table.broken[row],
    )


def disagreements(changes):
    """Return the pairs that the sum of variances ranks the other way round.

    Parameters
    ----------
    changes : sequence of Change

    Returns
    -------
    tuple of Disagreement
        Where both differences are greater than the discretisation error.
    """
    found = []
    for one in changes:
        for other in changes:
            doubt = one.alone_error + other.alone_error
            if one.alone - other.alone > doubt and other.theory_alone - one.theory_alone > doubt:
                found.append(
                    Disagreement(
                        better=one.name,
                        worse=other.name,
                        simulated=(one.alone, other.alone),
                        theory=(one.theory_alone, other.theory_alone),
                    )
                )
    return tuple(found)


def frontiers(table, score):
    """Return the rows that no other beats at less demand, by kind of demand.

    Parameters
    ----------
    table : Combinations
    score : (combinations,) array, 1
        Greater is better.

    Returns
    -------
    dict of str to (points,) int array
        As of ``Improvement``. A row that gains no more than the discretisation error is left out.
    """
    demands = {
        "cost": table.cost,
        "effort": table.effort,
        "pressure": table.pressure,
        "signal_to_noise": -table.signal_to_noise,
    }
    within = np.flatnonzero(table.meets & ~np.isnan(score))
    found = {}
    for name, demand in demands.items():
        rows, front = within[~np.isnan(demand[within])], []
        for row in rows[np.lexsort((rows, -score[rows], demand[rows]))]:
            beaten = (
                front and score[row] - score[front[-1]] <= table.error[row] + table.error[front[-1]]
            )
            if not beaten:
                front.append(int(row))
        found[name] = np.array(front, dtype=int)
    return found
