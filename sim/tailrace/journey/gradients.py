"""What a gradient changes in a journey: when the band meets it, what it focuses, which metrics."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.measures import Setting
from tailrace.parts.base import Part, Passages
from tailrace.quantities.arrays import FloatArray, Number


def gradient_time(passages: Passages) -> Number | None:
    """Of the columns that are run with a gradient. float, s; None where there is none."""
    return next((part.gradient_time for part, _ in passages if part.in_gradient), None)


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
        Before a column 1 - (k leaving / k entering)^2, below zero where k rises, of all columns
        behind the part; behind the last none; NaN for the last itself and without a gradient.
    """
    nowhere = np.full(passages[0][1].lanes, np.nan)
    columns = [at for at, (part, _) in enumerate(passages) if part.in_gradient]
    if not columns:
        return [nowhere] * len(passages)
    found, left = list[FloatArray](), np.ones_like(nowhere)
    for at in reversed(range(len(passages))):
        found.append(nowhere if at == columns[-1] else 1 - left)
        if at in columns:
            part, stream = passages[at]
            left = left * part.met_at(entered[at], stream).variance_passed(stream)
    return found[::-1]


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
