"""What samples say: mean, uncertainty, coverage and its errors, and how many are enough."""

import math

import numpy as np

from tailrace.quantities.arrays import FloatArray
from tailrace.studies.tolerance.result import Interval, Spread, ToleranceLimits

COVERAGE = 0.95
SOUGHT = 1.12
NAN = float("nan")
Ranks = tuple[int, int]


ROUNDING = 1e-9
"""Of a mean, below which a standard deviation is what computing leaves of one value."""


def spread_of(values: FloatArray, errors: FloatArray, unit: str = "1") -> Spread:
    """Summary of a metric (JCGM 101:2008, 7.6 and 7.7); NaN throughout below two values.

    Standard errors hold for independent samples; such as fill space evenly are as a rule better.

    Parameters
    ----------
    values, errors : (samples,) array, ``unit``
        The metric and its discretisation error; NaN where it does not exist.
    unit : str
        SI.
    """
    there = np.isfinite(values)
    values = np.sort(values[there])
    count = len(values)
    if count < 2:
        nothing = Interval(low=NAN, high=NAN, unit=unit)
        return Spread(
            unit=unit,
            samples=count,
            mean=NAN,
            standard_uncertainty=NAN,
            mean_error=NAN,
            uncertainty_error=NAN,
            symmetric=nothing,
            shortest=nothing,
            symmetric_error=nothing,
            shortest_error=nothing,
            numerical_error=NAN,
        )
    deviation = values.std(ddof=1)
    if deviation <= ROUNDING * abs(values.mean()):
        deviation = 0.0
    fourth = np.mean((values - values.mean()) ** 4) - deviation**4
    doubt = np.sqrt(max(fourth, 0.0) / count) / (2 * deviation) if deviation > 0 else 0.0
    symmetric, shortest = coverage_ranks(values)
    return Spread(
        unit=unit,
        samples=count,
        mean=float(values.mean()),
        standard_uncertainty=float(deviation),
        mean_error=float(deviation / np.sqrt(count)),
        uncertainty_error=float(doubt),
        symmetric=_between(values, symmetric, unit),
        shortest=_between(values, shortest, unit),
        symmetric_error=_rank_errors(values, symmetric, unit),
        shortest_error=_rank_errors(values, shortest, unit),
        numerical_error=float(np.median(np.nan_to_num(errors[there]))),
    )


def coverage_ranks(values: FloatArray, coverage: float = COVERAGE) -> tuple[Ranks, Ranks]:
    """Positions of the ends of two coverage intervals among rising values (JCGM 101:2008, 7.7).

    The first is probabilistically symmetric. Between values that are k apart lies k / (samples + 1)
    of the distribution on average, so it has the least k that makes this the coverage.

    The second is the shortest. What is sought as the shortest of many holds less than others of as
    many samples (the standard's own, of 1,000, as little as 94.2 %), so its values are farther
    apart by SOUGHT, as J. Frey, J. Statist. Plann. Inference 143 (2013) 1039, has it for prediction
    intervals (her formula as open implementations give it). Where the first is shorter, it is both.
    """
    count = len(values)
    inside = min(math.ceil(coverage * (count + 1) - ROUNDING), count - 1)
    first = (count - inside - 1) // 2
    middle = first, first + inside
    wide = math.ceil(coverage * count + SOUGHT * math.sqrt((1 - coverage) * count))
    if wide >= count:
        return middle, middle
    widths = values[wide:] - values[: count - wide]
    least = int(np.argmin(widths))
    shorter = widths[least] < values[middle[1]] - values[middle[0]]
    return middle, (least, least + wide) if shorter else middle


def _between(values: FloatArray, ranks: Ranks, unit: str) -> Interval:
    return Interval(low=float(values[ranks[0]]), high=float(values[ranks[1]]), unit=unit)


def _rank_errors(values: FloatArray, ranks: Ranks, unit: str) -> Interval:
    """Standard errors of order statistics: half the way to those two binomial deviations away, on
    the side where that is longer (nearer ones are too few samples away to be steady)."""
    errors = []
    for rank in ranks:
        share = (rank + 0.5) / len(values)
        step = 2 * np.sqrt(len(values) * share * (1 - share))
        low, high = np.clip([np.floor(rank - step), np.ceil(rank + step)], 0, len(values) - 1)
        errors.append(float(np.diff(values[[int(low), rank, int(high)]]).max()) / 2)
    return Interval(low=errors[0], high=errors[1], unit=unit)


def least_samples(content: float, confidence: float, sides: int) -> int:
    """Samples of which the least and greatest are tolerance limits, on one side or on two.

    1 - content^n >= confidence, or 1 - n content^(n - 1) + (n - 1) content^n >= confidence: Wilks,
    Ann. Math. Statist. 12 (1941) 91.
    """
    low, high = 0, 1
    while wilks_rank(high, content, confidence, sides) is None:
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        few = wilks_rank(middle, content, confidence, sides) is None
        low, high = (middle, high) if few else (low, middle)
    return high


def wilks_rank(count: int, content: float, confidence: float, sides: int) -> int | None:
    """How far from the ends of sorted samples the tolerance limits lie.

    The greatest position (from 0 at the end) that will do; None with too few samples. The content
    between the order statistics has a beta distribution, whatever the metric's.
    """
    from scipy.special import betainc

    # Probability that at least `tail` of the samples lie in a tail of probability 1 - content.
    def holds(rank: int) -> bool:
        tail = sides * (rank + 1)
        return bool(betainc(tail, count - tail + 1, 1 - content) >= confidence)

    if sides > count or not holds(0):
        return None
    low, high = 0, count // sides
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if holds(middle) else (low, middle)
    return low


def tolerance_limits(
    values: FloatArray, content: float, confidence: float, independent: bool, unit: str = "1"
) -> ToleranceLimits:
    """Distribution-free tolerance limits of a metric.

    Parameters
    ----------
    values : (samples,) array, ``unit``
    content, confidence : float, 1
    independent : bool
        Whether the samples know nothing of each other: else there are no such limits.
    unit : str
        SI.
    """
    there = np.sort(values[np.isfinite(values)])
    one = wilks_rank(len(there), content, confidence, 1)
    two = wilks_rank(len(there), content, confidence, 2)
    refused = ""
    if not independent:
        refused = "dependent samples"
    elif len(there) < len(values):
        refused = "missing values"
    elif one is None:
        refused = "few samples"
    if refused:
        one = two = None
    return ToleranceLimits(
        unit=unit,
        content=content,
        confidence=confidence,
        at_least=NAN if one is None else float(there[one]),
        at_most=NAN if one is None else float(there[-1 - one]),
        between=Interval(low=NAN, high=NAN, unit=unit)
        if two is None
        else _between(there, (two, len(there) - 1 - two), unit),
        samples=len(there),
        refused=refused,
    )


BATCH = 1_000
"""Samples of a batch. The standard takes 10,000 and stops after two of them at the earliest: here
journeys are dear, so batches are smaller, and at least LEAST_BATCHES of them are made. That is as
many samples as the standard's first batch, and a standard deviation over ten averages is better
known than one over two."""
LEAST_BATCHES = 10
MOST_SAMPLES, MOST_WHERE_DIGITS_STOP = 1_000_000, 100_000


def numerical_tolerance(uncertainty: float, digits: int) -> float:
    """Half a unit of the last significant digit of a standard uncertainty.

    In the same unit. JCGM 101:2008, 7.9.2: u = c 10^l, c of ``digits`` digits; delta = 10^l / 2.
    """
    if not uncertainty > 0:
        return 0.0
    # Rounded first: 0.0996 is 0.10 to two digits.
    rounded = float(f"{uncertainty:.{digits - 1}e}")
    return float(0.5 * 10.0 ** (math.floor(math.log10(rounded) + 1e-12) - digits + 1))


def settled(values: FloatArray, size: int, digits: int) -> tuple[bool, FloatArray]:
    """Whether more samples would no longer change the digits asked for.

    Parameters
    ----------
    values : (outcomes, samples) array, SI units of the metrics
        Of whole batches.
    size : int
        Samples of a batch.

    Returns
    -------
    bool
        True where twice the standard error of mean, uncertainty and both ends of the 95 %
        interval, over the batches, is within the tolerance; for every outcome.
    (outcomes,) array, SI units of the metrics
        The tolerances.
    """
    batches = values.shape[1] // size
    tolerances, done = [], batches >= 2
    for one in values:
        deviation = np.nanstd(one, ddof=1) if np.isfinite(one).sum() > 1 else 0.0
        tolerances.append(numerical_tolerance(float(deviation), digits))
        if batches < 2:
            continue
        rows = np.array([_summary(part) for part in one.reshape(batches, size)])
        errors = rows.std(axis=0, ddof=1) / np.sqrt(batches)
        # A batch without any value has no summary; no more samples would mend that.
        done = done and not np.any(2 * errors > tolerances[-1])
    return bool(done), np.array(tolerances)


def _summary(values: FloatArray) -> list[float]:
    """Mean, standard uncertainty and ends of the interval of one batch."""
    spread = spread_of(values, np.zeros(len(values)))
    return [
        spread.mean,
        spread.standard_uncertainty,
        spread.symmetric.low,
        spread.symmetric.high,
    ]
