"""What a gradient changes in a journey: when the band meets it, what it focuses, which metrics."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.measures import Setting
from tailrace.parts.base import Part, Passage, Passages
from tailrace.quantities.arrays import FloatArray, Number


def gradient_column(passages: Passages) -> Passage | None:
    """The column that is run with a gradient and its stream; None where there is none."""
    found = [pair for pair in passages if pair[0].in_gradient]
    return found[0] if found else None


def gradient_time(passages: Passages) -> Number | None:
    """Of the column that is run with a gradient. float, s; None where there is none."""
    column = gradient_column(passages)
    return None if column is None else column[0].gradient_time


def handed_on(
    part: Part, stream: Stream, variance: FloatArray, third: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Variance and third cumulant of what was added before, behind this part.

    Parameters
    ----------
    part : part
        As the band meets it.
    variance : (lanes,) array, s^2
    third : (lanes,) array, s^3
    """
    passed = np.asarray(part.variance_passed(stream))
    return variance * passed, third * passed**1.5


def focused_shares(passages: Passages, entered: Sequence[FloatArray]) -> list[FloatArray]:
    """Share of the variance that each part adds which the gradient takes back.

    Parameters
    ----------
    passages : list of (part, Stream)
    entered : list of (lanes,) array, s
        Mean time at which the band enters each part.

    Returns
    -------
    list of (lanes,) array, 1
        Before the column 1 - (k leaving / k entering)^2, below zero where k rises; behind it
        none; NaN for the column itself and where there is no gradient.
    """
    lanes = passages[0][1].lanes
    nowhere = np.full(lanes, np.nan)
    column = gradient_column(passages)
    if column is None:
        return [nowhere] * len(passages)
    part, stream = column
    place = next(index for index, one in enumerate(passages) if one is column)
    before = np.asarray(1 - part.met_at(entered[place], stream).variance_passed(stream))
    behind = [np.zeros(lanes)] * (len(passages) - place - 1)
    return [before] * place + [nowhere, *behind]


def setting_of(passages: Passages, **more: Any) -> Setting:
    """What metrics need beside the peak.

    Parameters
    ----------
    passages : list of (part, Stream)
    **more
        What only some journeys know, as of ``tailrace.measures.Setting``.
    """
    return Setting(
        gradient_time=gradient_time(passages),
        flow_rate=passages[-1][1].flow_rate,
        **more,
    )
