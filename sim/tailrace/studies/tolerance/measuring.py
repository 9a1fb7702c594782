"""The figure that a criterion is about, read from what journeys say."""

import numpy as np

from tailrace.measures.chromatogram import (
    half_height_resolution,
    half_height_resolution_error,
)
from tailrace.scenario.criteria import Criterion

FOLLOWED = ("plates", "tailing", "width")
"""Looked at for every solute where a scenario asks for nothing."""


def followed(scenario, criteria) -> tuple[Criterion, ...]:
    """The criteria; without any, figures without limits.

    Parameters
    ----------
    scenario : Scenario
    criteria : tuple of Criterion
    """
    if criteria:
        return criteria
    first = "plates" if scenario.document.gradient is None else "peak capacity"
    return tuple(
        Criterion(measure=measure, of=(lane,), label=one.name)
        for measure in (first, *FOLLOWED[1:])
        for lane, one in enumerate(scenario.document.solutes)
    )


def measured(criterion, figures):
    """The figure of a criterion and its discretisation error, sample by sample.

    Parameters
    ----------
    criterion : Criterion
    figures : dict of str to array
        As of ``tailrace.studies.lanes.metrics_of``.

    Returns
    -------
    values, errors : (samples,) array, SI unit of the figure
        NaN where a sample has no such figure.
    """
    if criterion.asked.of == "run":
        values = np.asarray(figures[criterion.asked.figure], dtype=float)
        return values, np.where(np.isnan(values), np.nan, 0.0)
    if criterion.asked.of == "pair":
        values, errors = _resolutions(figures, criterion.of)
    else:
        values, errors = _with_error(figures, criterion.asked.figure)
        if criterion.of:
            values, errors = values[:, criterion.of], errors[:, criterion.of]
    return _worst(values, errors, least=np.isnan(criterion.at_most))


def _worst(values, errors, least):
    """The least or greatest of each row; NaN where any is missing."""
    rows = np.arange(len(values))
    missing = np.isnan(values).any(axis=1)
    filled = np.where(np.isnan(values), np.inf if least else -np.inf, values)
    at = filled.argmin(axis=1) if least else filled.argmax(axis=1)
    found = np.where(missing, np.nan, values[rows, at])
    # Another one may be the worst once the errors are counted.
    return found, np.where(missing, np.nan, errors.max(axis=1, initial=0.0, where=errors > 0))


def _with_error(figures, name):
    group, _, measure = name.partition("/")
    values = np.asarray(figures[name], dtype=float)
    if group == "recorded":
        return values, np.asarray(figures[f"numerical_error/{measure}"], dtype=float)
    # Signals go with the height of the peak, and so does their relative error.
    height = np.asarray(figures["recorded/height"], dtype=float)
    relative = np.asarray(figures["numerical_error/height"], dtype=float) / height
    return values, np.abs(values) * relative


def _resolutions(figures, pair):
    """Of a pair, or of all neighbours in the order of elution; (samples, pairs) arrays, 1."""
    apex, width = figures["recorded/apex"], figures["recorded/width_half"]
    errors = [figures[f"numerical_error/{name}"] for name in ("apex", "width_half")]
    if pair:
        order = np.broadcast_to(np.array(pair), (len(apex), 2))
    else:
        order = np.argsort(apex, axis=1)
    apex, width, *errors = (
        np.take_along_axis(np.asarray(one, dtype=float), order, axis=1)
        for one in (apex, width, *errors)
    )
    values = np.abs(half_height_resolution(apex, width))
    return values, half_height_resolution_error(apex, width, *errors)
