"""What samples of a figure say of its distribution: mean, uncertainty, coverage and its errors."""

import numpy as np

from tailrace.studies.tolerance.result import Interval, Spread, ToleranceLimits

COVERAGE = 0.95
NOTHING = Interval(low=float("nan"), high=float("nan"))


def spread_of(values, errors) -> Spread:
    """Summary of a figure (JCGM 101:2008, 7.6 and 7.7).

    Parameters
    ----------
    values, errors : (samples,) array, any unit
        The figure and its discretisation error; NaN where it does not exist.

    Returns
    -------
    Spread
        NaN throughout with fewer than two values. Its standard errors hold for independent samples;
        samples that fill space evenly are as a rule better than they say.
    """
    there = np.isfinite(values)
    values = np.sort(values[there])
    count = len(values)
    if count < 2:
        none = float("nan")
        return Spread(
            samples=count,
            mean=none,
            standard_uncertainty=none,
            mean_error=none,
            uncertainty_error=none,
            symmetric=NOTHING,
            shortest=NOTHING,
            symmetric_error=NOTHING,
            shortest_error=NOTHING,
            numerical_error=none,
        )
    deviation = values.std(ddof=1)
    about = values - values.mean()
    fourth = np.mean(about**4) - deviation**4
    symmetric, shortest = coverage_ranks(values)
    return Spread(
        samples=count,
        mean=float(values.mean()),
        standard_uncertainty=float(deviation),
        mean_error=float(deviation / np.sqrt(count)),
        uncertainty_error=float(
            np.sqrt(max(fourth, 0.0) / count) / (2 * deviation) if deviation > 0 else 0.0
        ),
        symmetric=_between(values, symmetric),
        shortest=_between(values, shortest),
        symmetric_error=_rank_errors(values, symmetric),
        shortest_error=_rank_errors(values, shortest),
        numerical_error=float(np.median(np.nan_to_num(errors[there]))),
    )


def coverage_ranks(values, coverage=COVERAGE):
    """Positions of the ends of two coverage intervals among sorted values (JCGM 101:2008, 7.7.2).

    Parameters
    ----------
    values : (samples,) array, any unit
        Rising.
    coverage : float, 1

    Returns
    -------
    tuple of two int
        Of the probabilistically symmetric interval.
    tuple of two int
        Of the shortest one.
    """
    count = len(values)
    inside = min(int(coverage * count + 0.5), count - 1)
    first = (count - inside + 1) // 2 - 1 if (count - inside) % 2 else (count - inside) // 2 - 1
    first = max(first, 0)
    shortest = int(np.argmin(values[inside:] - values[: count - inside]))
    return (first, first + inside), (shortest, shortest + inside)


def _between(values, ranks):
    return Interval(low=float(values[ranks[0]]), high=float(values[ranks[1]]))


def _rank_errors(values, ranks):
    """Standard errors of order statistics: half the way to those a binomial deviation away."""
    errors = []
    for rank in ranks:
        share = (rank + 0.5) / len(values)
        step = np.sqrt(len(values) * share * (1 - share))
        low, high = np.clip([np.floor(rank - step), np.ceil(rank + step)], 0, len(values) - 1)
        errors.append(float(values[int(high)] - values[int(low)]) / 2)
    return Interval(low=errors[0], high=errors[1])


def least_samples(content, confidence, sides) -> int:
    """Samples of which the least and greatest are tolerance limits (Wilks 1941).

    Parameters
    ----------
    content, confidence : float, 1
    sides : int
        1: one limit; 2: two.

    Returns
    -------
    int
        1 - content^n >= confidence, or 1 - n content^(n - 1) + (n - 1) content^n >= confidence:
        Wilks, Ann. Math. Statist. 12 (1941) 91.
    """
    low, high = 0, 1
    while wilks_rank(high, content, confidence, sides) is None:
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        few = wilks_rank(middle, content, confidence, sides) is None
        low, high = (middle, high) if few else (low, middle)
    return high


def wilks_rank(count, content, confidence, sides):
    """How far from the ends of sorted samples the tolerance limits lie.

    Parameters
    ----------
    count : int
    content, confidence : float, 1
    sides : int

    Returns
    -------
    int or None
        The greatest position (from 0 at the end) that will do; None with too few samples. The
        content between the order statistics has a beta distribution, whatever the figure's.
    """
    from scipy.special import betainc

    # Probability that at least `tail` of the samples lie in a tail of probability 1 - content.
    def kept(rank):
        tail = sides * (rank + 1)
        return betainc(tail, count - tail + 1, 1 - content) >= confidence

    if sides * 1 > count or not kept(0):
        return None
    low, high = 0, count // sides
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if kept(middle) else (low, middle)
    return low


def tolerance_limits(values, content, confidence, independent) -> ToleranceLimits:
    """Distribution-free tolerance limits of a figure.

    Parameters
    ----------
    values : (samples,) array, any unit
    content, confidence : float, 1
    independent : bool
        Whether the samples know nothing of each other: else there are no such limits.

    Returns
    -------
    ToleranceLimits
    """
    none = float("nan")
    limits = {"at_least": none, "at_most": none, "between": NOTHING, "refused": ""}
    there = np.sort(values[np.isfinite(values)])
    asked = f"{100 * content:g} % with {100 * confidence:g} % confidence"
    if not independent:
        limits["refused"] = (
            "distribution-free tolerance limits hold for independent samples only, and these are "
            "not: take the generator random"
        )
    elif len(there) < len(values):
        limits["refused"] = f"{len(values) - len(there)} samples without a value"
    elif wilks_rank(len(there), content, confidence, 1) is None:
        limits["refused"] = (
            f"too few samples for {asked}: {len(there)} of {least_samples(content, confidence, 1)} "
            f"for one limit, of {least_samples(content, confidence, 2)} for two"
        )
    else:
        rank = wilks_rank(len(there), content, confidence, 1)
        limits["at_least"], limits["at_most"] = float(there[rank]), float(there[-1 - rank])
        rank = wilks_rank(len(there), content, confidence, 2)
        if rank is not None:
            limits["between"] = Interval(low=float(there[rank]), high=float(there[-1 - rank]))
    return ToleranceLimits(content=content, confidence=confidence, **limits)
