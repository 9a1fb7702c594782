"""The search among too many changes to simulate all of their combinations."""

from __future__ import annotations

from collections.abc import Iterable

from tailrace.studies.improving.ledger import Ledger
from tailrace.studies.improving.ordering import orders, sampled_shapley_values
from tailrace.studies.improving.planning import Plan

ORDERS_SAMPLED = 48
SEED = 1


def climbed(ledger: Ledger) -> int:
    """Climb from the start to a combination that no single step betters.

    Each round tries every change that is not taken, with what it needs, and every exchange of one
    that is taken (with what needs it) for one that is not, and takes the best of them that keeps
    to the constraints. Ends where none gains more than the discretisation error.
    """
    plan, now, stage = ledger.plan, 0, 0
    while True:
        for tries in (_additions(plan, now), _exchanges(plan, now)):
            stage += 1
            ledger.simulate(tries, f"search-{stage:04d}")
            better = [one for one in tries if ledger.satisfies(one) and _gains(ledger, now, one)]
            if better:
                now = max(better, key=lambda one: (ledger.value(one), -one))
                break
        else:
            return now


def greedy_order(ledger: Ledger, combination: int) -> tuple[int, ...]:
    """The bits of a combination, at each step the one after which the value is best."""
    plan, now = ledger.plan, 0
    order: list[int] = []
    while now != combination:
        left = _bits(combination & ~now)
        tries = [now | 1 << bit for bit in left if plan.needs[bit] & ~(now | 1 << bit) == 0]
        ledger.simulate(tries, f"order-{len(order) + 1:04d}")
        tries = [one for one in tries if ledger.value(one) > float("-inf")]
        best = max(tries, key=lambda one: (ledger.satisfies(one), ledger.value(one), -one))
        order.append((best & ~now).bit_length() - 1)
        now = best
    return tuple(order)


def shared(ledger: Ledger, combination: int) -> tuple[dict[int, float], dict[int, float]]:
    """Shapley values of the members of a combination and their errors, from random orders.

    By bit, float, 1. Of each beginning of an order counts what can be made of it: the greatest part
    whose needs are met, and no less than an earlier beginning was worth.
    """
    plan, members = ledger.plan, _bits(combination)
    sampled = orders(members, ORDERS_SAMPLED, SEED)
    beginnings = {_feasible(plan, _sum(one[:at])) for one in sampled for at in range(len(one) + 1)}
    ledger.simulate(sorted(beginnings), "shares")
    most = ledger.value(combination)
    best: dict[int, float] = {}

    def value(coalition: int) -> float:
        inside = [one for one in beginnings if one & ~coalition == 0]
        if coalition not in best:
            best[coalition] = min(most, max(ledger.value(one) for one in inside))
        return most if coalition == combination else best[coalition]

    return sampled_shapley_values(value, members, ORDERS_SAMPLED, SEED)


def _additions(plan: Plan, now: int) -> list[int]:
    news = [now | needed for needed in plan.needs]
    return [one for one in dict.fromkeys(news) if one != now and plan.allowed(one)]


def _exchanges(plan: Plan, now: int) -> list[int]:
    """One out, with what needs it, and one in, with what it needs."""
    found: list[int] = []
    for bit in _bits(now):
        depending = [one for one in _bits(now) if plan.needs[one] >> bit & 1]
        less = now & ~_sum(depending)
        found += [one for one in _additions(plan, less) if one & ~now]
    return list(dict.fromkeys(found))


def _feasible(plan: Plan, coalition: int) -> int:
    """The greatest part of a coalition whose needs are met."""
    return _sum(bit for bit in _bits(coalition) if plan.needs[bit] & ~coalition == 0)


def _gains(ledger: Ledger, before: int, after: int) -> bool:
    rows = [ledger.rows[before], ledger.rows[after]]
    error = float(sum(ledger.table.error[row] for row in rows))
    return ledger.value(after) - ledger.value(before) > error or (
        ledger.satisfies(after) and not ledger.satisfies(before)
    )


def _bits(combination: int) -> list[int]:
    return [bit for bit in range(combination.bit_length()) if combination >> bit & 1]


def _sum(bits: Iterable[int]) -> int:
    return sum(1 << bit for bit in bits)
