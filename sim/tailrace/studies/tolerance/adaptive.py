"""How many samples are enough (JCGM 101:2008, clause 7.9)."""

import math

import numpy as np

from tailrace.quantities.arrays import FloatArray
from tailrace.studies.tolerance.statistics import spread_of

BATCH = 1_000
"""Samples of a batch. The standard takes 10,000 and stops after two of them at the earliest: here
journeys are dear, so batches are smaller, and at least LEAST_BATCHES of them are made. That is as
many samples as the standard's first batch, and a standard deviation over ten averages is better
known than one over two."""
LEAST_BATCHES = 10
MOST_SAMPLES = 100_000


def numerical_tolerance(uncertainty: float, digits: int) -> float:
    """Half a unit of the last of so many significant digits of a standard uncertainty.

    In the same unit. JCGM 101:2008, 7.9.2: u = c 10^l with c of so many digits; delta = 10^l / 2.
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
