"""Sobol' indices: which inputs make the metrics uncertain."""

from collections.abc import Sequence

import numpy as np
from scipy.special import ndtr, stdtrit

from tailrace.quantities.arrays import FloatArray
from tailrace.studies.samples import Samples, scores_of, uniform_points
from tailrace.studies.tolerance.models import Model
from tailrace.studies.tolerance.result import Indices

STREAM = 1
RESAMPLES = 999
CONFIDENCE = 0.95


def sobol_indices(model: Model, samples: Samples, base: int, names: Sequence[str]) -> Indices:
    """First-order and total indices by the sampling of Saltelli et al.

    Correlated inputs go together as one: the variance that they share has no one owner. Sobol'
    points (Owen scrambling); estimators of Saltelli et al., Comput. Phys. Commun. 181 (2010) 259,
    table 2 (b) and (f). Intervals from a bootstrap over the rows, its percentiles expanded as few
    rows ask for (Hesterberg, Am. Stat. 69 (2015) 371, from memory).

    Parameters
    ----------
    samples : Samples
        Of the inputs as they are spread; their scores are not used.
    base : int
        Rows of each of two matrices; a power of 2. ``(groups + 2) * base`` samples are computed.
    names : sequence of str
        Of the outcomes.
    """
    matrices = _matrices(samples, base)
    answer = model(samples.with_scores(np.concatenate(matrices), "sobol"), "indices")
    values = answer.values.reshape(len(answer.values), len(matrices), base)
    values = values[:, :, np.isfinite(values).all(axis=(0, 1))]
    first, total = indices_of(values)
    low, high = _intervals(values, samples.seed)
    return Indices(
        inputs=tuple(" + ".join(samples.names[place] for place in one) for one in samples.groups),
        outcomes=tuple(names),
        first=first,
        total=total,
        first_low=low[0],
        first_high=high[0],
        total_low=low[1],
        total_high=high[1],
        confidence=CONFIDENCE,
        base=values.shape[2],
    )


def _matrices(samples: Samples, base: int) -> list[FloatArray]:
    """Scores of the matrices A and B, and of A with the columns of each group from B."""
    inputs = len(samples.inputs)
    points = uniform_points(base, 2 * inputs, samples.seed, "sobol", STREAM)
    one, other = (
        scores_of(half, samples.correlation) for half in (points[:, :inputs], points[:, inputs:])
    )
    matrices = [one, other]
    for group in samples.groups:
        mixed = one.copy()
        mixed[:, group] = other[:, group]
        matrices.append(mixed)
    return matrices


def indices_of(values: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Indices from the metrics of all matrices.

    Parameters
    ----------
    values : (outcomes, 2 + groups, rows) array, any unit
        Of the matrices A and B, and of A with the column of each group from B.

    Returns
    -------
    first, total : (outcomes, groups) array, 1
        0 for a metric without variance.
    """
    one, other, mixed = values[:, 0], values[:, 1], values[:, 2:]
    middle = values[:, :2].mean(axis=(1, 2))[:, None]
    variance = np.var(values[:, :2].reshape(len(values), -1), axis=1)[:, None]
    change = mixed - one[:, None]
    first = np.mean((other - middle)[:, None] * change, axis=2)
    total = np.mean(change**2, axis=2) / 2
    # A metric that no input moves still differs by rounding and by the grids of its lanes.
    there = variance > np.square(1e-12 * middle)
    first, total = (
        np.divide(part, variance, out=np.zeros_like(part), where=there) for part in (first, total)
    )
    return first, total


def _intervals(values: FloatArray, seed: int) -> tuple[FloatArray, FloatArray]:
    """Ends of the percentile bootstrap, two (2, outcomes, groups) arrays."""
    random = np.random.Generator(
        np.random.PCG64(np.random.SeedSequence(seed, spawn_key=(STREAM, 1)))
    )
    rows = values.shape[2]
    found = np.array(
        [indices_of(values[:, :, random.integers(0, rows, rows)]) for _ in range(RESAMPLES)]
    )
    wider = stdtrit(rows - 1, (1 + CONFIDENCE) / 2) * np.sqrt(rows / (rows - 1))
    tail = ndtr(-wider)
    return np.quantile(found, tail, axis=0), np.quantile(found, 1 - tail, axis=0)
