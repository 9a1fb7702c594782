"""How far the model itself may lie off (JCGM 101:2008 with a term of its own; ASME V&V 20).

One factor on the variance of every peak of an instrument, so that its plates have the stated
relative standard uncertainty. Each metric goes with it as its row of the registry does for a
Gaussian; one that no sum of variances gives (tailing, pressure) is taken as computed.
"""

from collections.abc import Sequence

import numpy as np

from tailrace.measures.metric import Metric
from tailrace.measures.peaks import Gaussian
from tailrace.quantities.arrays import FloatArray

SIZES = (0.0, 0.02, 0.05, 0.10)
"""For which the answer is given whatever is stated."""
LEAST = 0.05
"""Factor on the plates below which none is drawn, as a variance has no sign."""
STREAM = 8
SMALL = 1e-4


def exponent(metric: Metric) -> float:
    """d ln(metric) / d ln(plates) of a Gaussian peak whose variance alone changes; 1."""
    if metric.textbook is None:
        return 0.0
    ends = []
    for variance in (np.array([1 + SMALL, 1.0]), np.array([1 - SMALL, 1.0])):
        # far from zero time, so that capacities and resolutions go with the width alone
        peak = Gaussian(
            mean=np.array([1e4, 1.1e4]),
            variance=variance * np.array([1.0, variance[0]]),
            gradient_time=1e6,
            column_variance=np.ones(2),
            column_mean=np.full(2, 1e4),
            extra_column=variance,
        )
        ends.append(float(np.ravel(metric.textbook(peak))[0]))
    return float(-np.log(ends[0] / ends[1]) / np.log((1 + SMALL) / (1 - SMALL)))


def beyond(
    metrics: Sequence[Metric], values: FloatArray, size: float, scores: FloatArray
) -> FloatArray:
    """Values of metrics with the model off by so much.

    Parameters
    ----------
    values : (metrics, samples) array, SI units of the metrics
    size : float, 1
        Relative standard uncertainty of plates.
    scores : (samples,) array, 1
        Standard normal.
    """
    if size == 0:
        return values
    factor = np.maximum(1 + size * scores, LEAST)
    return np.stack(
        [row * factor ** exponent(one) for one, row in zip(metrics, values, strict=True)]
    )


def scores_of(seed: int, count: int) -> FloatArray:
    """Of so many samples, (count,) array, 1; those of other counts are independent of them."""
    random = np.random.SeedSequence(entropy=seed, spawn_key=(STREAM, count))
    return np.random.Generator(np.random.PCG64(random)).standard_normal(count)
