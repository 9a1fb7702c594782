"""Figures of a run from sums of closed-form variances: what a spread sheet would say."""

import numpy as np

from tailrace.journey.gradients import gradient_column
from tailrace.journey.hydraulics import pressure
from tailrace.measures.chromatogram import RESOLUTION_FACTOR
from tailrace.measures.shape import GAUSSIAN_WIDTH
from tailrace.parts import KINDS


def closed_form(criterion, itineraries):
    """The figure of a criterion, for every journey, if all peaks were Gaussian.

    Parameters
    ----------
    criterion : Criterion
    itineraries : sequence of Itinerary

    Returns
    -------
    (journeys,) array, SI unit of the figure
        From the sum of the parts' long-tube or textbook variances. NaN where such a sum says
        nothing: tailing, asymmetry, absolute signals, anything in a gradient.
    """
    return np.array([_figure(criterion, one) for one in itineraries])


def _figure(criterion, itinerary):
    lanes = len(itinerary.lanes)
    passages = [(part, stream.over(lanes)) for part, stream in itinerary.passages]
    if criterion.measure == "pressure":
        return pressure(passages).total
    if criterion.measure == "cell pressure":
        return pressure(passages).cell_inlet
    if gradient_column(passages) is not None:
        return np.nan
    said = [KINDS[part.kind].theory(part, stream) for part, stream in passages]
    mean = sum(np.broadcast_to(one.mean, (lanes,)) for one in said)
    variance = sum(np.broadcast_to(one.gaussian_variance, (lanes,)) for one in said)
    deviation = np.sqrt(variance)
    if criterion.asked.of == "pair":
        order = np.array(criterion.of) if criterion.of else np.argsort(mean)
        wide = GAUSSIAN_WIDTH * deviation[order]
        return np.min(RESOLUTION_FACTOR * np.abs(np.diff(mean[order])) / (wide[:-1] + wide[1:]))
    figure = _of_solutes(criterion.measure, mean, variance, passages)
    if criterion.of:
        return figure[criterion.of[0]]
    return np.min(figure) if np.isnan(criterion.at_most) else np.max(figure)


def _of_solutes(measure, mean, variance, passages):
    """(lanes,) array, SI unit of the measure."""
    if "plates" in measure:
        return mean**2 / variance
    if measure == "width":
        return GAUSSIAN_WIDTH * np.sqrt(variance)
    if measure == "retention time":
        return mean
    columns = [(part, stream) for part, stream in passages if part.separates]
    if measure == "signal" and columns:
        part, stream = columns[0]
        return np.sqrt(KINDS[part.kind].theory(part, stream).gaussian_variance / variance)
    return np.full(mean.shape, np.nan)
