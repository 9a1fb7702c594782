"""The stated search among too many changes to travel all of their combinations."""

from tailrace.studies.improving.sharing import orders, sampled_shares

ORDERS_DRAWN = 48
SEED = 1
STATED = (
    "{count} changes are too many for all combinations: from the start, the change that gains most "
    "was taken, then exchanged for others as long as that gained more, {travelled} combinations in "
    "all; the shares are from {draws} random orders"
)


def climbed(ledger) -> int:
    """Climb from the start to a combination that no single step betters.

    Each round tries every change that is not taken, with what it needs, and every exchange of one
    that is taken (with what needs it) for one that is not, and takes the best of them that keeps
    to the constraints. Ends where none gains more than the discretisation error.

    Parameters
    ----------
    ledger : Ledger
        Travels what is tried.

    Returns
    -------
    int
        The combination.
    """
    plan, now, stage = ledger.plan, 0, 0
    while True:
        for tries in (_additions(plan, now), _exchanges(plan, now)):
            stage += 1
            ledger.travel(tries, f"search-{stage:04d}")
            better = [one for one in tries if ledger.meets(one) and _gains(ledger, now, one)]
            if better:
                now = max(better, key=lambda one: (ledger.value(one), -one))
                break
        else:
            return now


def greedy_order(ledger, combination) -> tuple[int, ...]:
    """The bits of a combination, at each step the one after which the figure is best.

    Parameters
    ----------
    ledger : Ledger
    combination : int
    """
    plan, now, order = ledger.plan, 0, []
    while now != combination:
        left = _bits(combination & ~now)
        tries = [now | 1 << bit for bit in left if plan.needs[bit] & ~(now | 1 << bit) == 0]
        ledger.travel(tries, f"order-{len(order) + 1:04d}")
        tries = [one for one in tries if ledger.value(one) > float("-inf")]
        best = max(tries, key=lambda one: (ledger.meets(one), ledger.value(one), -one))
        order.append((best & ~now).bit_length() - 1)
        now = best
    return tuple(order)


def shared(ledger, combination):
    """Shares of the members of a combination in its gain, from random orders.

    Parameters
    ----------
    ledger : Ledger
    combination : int

    Returns
    -------
    share, error : dict of int to float, 1
        By bit. Of each beginning of an order counts what can be made of it: the greatest part
        whose needs are met, and no less than an earlier beginning was worth.
    """
    plan, members = ledger.plan, _bits(combination)
    drawn = orders(members, ORDERS_DRAWN, SEED)
    beginnings = {_made(plan, _sum(one[:at])) for one in drawn for at in range(len(one) + 1)}
    ledger.travel(sorted(beginnings), "shares")
    most = ledger.value(combination)
    best = {}

    def value(coalition):
        inside = [one for one in beginnings if one & ~coalition == 0]
        if coalition not in best:
            best[coalition] = min(most, max(ledger.value(one) for one in inside))
        return most if coalition == combination else best[coalition]

    return sampled_shares(value, members, ORDERS_DRAWN, SEED)


def stated(ledger) -> str:
    """How it was searched, in a sentence."""
    return STATED.format(
        count=len(ledger.plan.names), travelled=len(ledger.rows), draws=ORDERS_DRAWN
    )


def _additions(plan, now):
    news = [now | needed for needed in plan.needs]
    return [one for one in dict.fromkeys(news) if one != now and plan.allowed(one)]


def _exchanges(plan, now):
    """One out, with what needs it, and one in, with what it needs."""
    found = []
    for bit in _bits(now):
        depending = [one for one in _bits(now) if plan.needs[one] >> bit & 1]
        less = now & ~_sum(depending)
        found += [one for one in _additions(plan, less) if one & ~now]
    return list(dict.fromkeys(found))


def _made(plan, coalition):
    """The greatest part of a coalition whose needs are met."""
    return _sum(bit for bit in _bits(coalition) if plan.needs[bit] & ~coalition == 0)


def _gains(ledger, before, after):
    rows = [ledger.rows[before], ledger.rows[after]]
    doubt = float(sum(ledger.scores.error[row] for row in rows))
    return ledger.value(after) - ledger.value(before) > doubt or (
        ledger.meets(after) and not ledger.meets(before)
    )


def _bits(combination):
    return [bit for bit in range(combination.bit_length()) if combination >> bit & 1]


def _sum(bits):
    return sum(1 << bit for bit in bits)
