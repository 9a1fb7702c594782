"""The peaks by the usual sum of variances, as a spread sheet has them."""

from collections.abc import Sequence

import numpy as np

from tailrace.journey.gradients import gradient_time, handed_on
from tailrace.measures import METRICS, Gaussian
from tailrace.parts import KINDS
from tailrace.parts.base import Passages
from tailrace.quantities.arrays import FloatArray
from tailrace.signals.cumulants import Cumulants


def textbook(passages: Passages) -> Gaussian:
    """Sum the closed-form means and the long-tube or textbook variances of all parts.

    In a gradient each part is met at the sum of the means before it, and what was added before a
    column counts behind it as much as the column leaves of it. ``passages``: every number of the
    streams a (lanes,) array.
    """
    lanes = passages[0][1].lanes
    mean, variance = np.zeros(lanes), np.zeros(lanes)
    column: FloatArray | None = None
    stayed: FloatArray | None = None
    held, long = np.zeros(lanes), list[FloatArray]()
    for part, stream in passages:
        part = part.met_at(mean, stream)
        cumulants: Cumulants = KINDS[part.kind].theory(part, stream)
        if column is not None:
            column, _ = handed_on(part, stream, column, np.zeros(lanes))
        variance, _ = handed_on(part, stream, variance, np.zeros(lanes))
        mean, variance = mean + cumulants.mean, variance + cumulants.gaussian_variance
        if part.separates:
            column = (np.zeros(lanes) if column is None else column) + cumulants.gaussian_variance
            stayed = (np.zeros(lanes) if stayed is None else stayed) + cumulants.mean
            held, long = held + part.retained(stream), [*long, np.asarray(part.particles_long)]
    outside = variance - (0.0 if column is None else column)
    return Gaussian(
        mean=mean,
        variance=variance,
        gradient_time=gradient_time(passages),
        column_variance=column,
        column_mean=stayed,
        hold_up=None if stayed is None else mean - held,
        particles_long=np.broadcast_to(long[0], (lanes,)) if len(long) == 1 else None,
        extra_column=outside * np.square(passages[0][1].flow_rate),
    )


def textbook_metric(name: str, peak: Gaussian, of: Sequence[int] | None = None) -> FloatArray:
    """A metric by the sum of variances.

    Parameters
    ----------
    name : str
        Of ``tailrace.measures.METRICS``.
    of : sequence of int, optional
        Of a pair: its lanes; all neighbours, in the order of the means, if it is left out.

    Returns
    -------
    (..., lanes) or (..., pairs) array, SI
        NaN where such a sum says nothing of it.
    """
    metric = METRICS[name]
    if metric.per == "pair":
        order = np.argsort(peak.mean, axis=-1, kind="stable")
        if of is not None:
            order = np.broadcast_to(np.asarray(of), (*peak.mean.shape[:-1], len(of)))
        mean, variance = (
            np.take_along_axis(one, order, axis=-1) for one in (peak.mean, peak.variance)
        )
        peak = Gaussian(mean=mean, variance=variance, gradient_time=None)
    if metric.textbook is None or (metric.in_gradient and peak.gradient_time is not None):
        missing = metric.per == "pair"
        shape = (*peak.mean.shape[:-1], peak.mean.shape[-1] - missing)
        return np.full(shape, np.nan)
    found = metric.textbook(peak)
    return np.abs(found) if metric.per == "pair" else found
