"""What a liquid that changes does in a journey: when it is met, what it focuses, which metrics."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.measures import Moments, Setting
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
    passed = np.asarray(part.variance_passed(stream, variance))
    return variance * passed, third * passed**1.5


def focused_shares(passages: Passages, entered: Sequence[Moments]) -> list[FloatArray]:
    """Share of the variance that each part adds which columns take back.

    By a gradient, or with the sample's own solvent. ``entered``: of the band that enters each part;
    of one at time zero for the first.

    Returns
    -------
    list of (lanes,) array, 1
        Before a column one less what it passes on, below zero where it stretches, of all columns
        behind the part; behind the last none; NaN for the last itself, and where nothing focuses.
    """
    nowhere = np.full(passages[0][1].lanes, np.nan)
    columns = [at for at, (part, _) in enumerate(passages) if part.focuses]
    if not columns:
        return [nowhere] * len(passages)
    found, left = list[FloatArray](), np.ones_like(nowhere)
    for at in reversed(range(len(passages))):
        found.append(nowhere if at == columns[-1] else 1 - left)
        if at in columns:
            part, stream = passages[at]
            there = part.met_at(entered[at].mean, stream)
            left = left * there.variance_passed(stream, entered[at].variance)
    return found[::-1]


def setting_of(passages: Passages, **more: Any) -> Setting:
    """What metrics need beside the peak.

    ``**more``: what only some journeys know, as of ``tailrace.measures.Setting``.
    """
    beds = [part.particles_long for part, _ in passages if part.separates]
    long = beds[0] if len(beds) == 1 else np.nan
    return Setting(
        gradient_time=gradient_time(passages),
        particles_long=np.broadcast_to(long, (passages[0][1].lanes,)) if beds else None,
        flow_rate=passages[0][1].flow_rate,
        **more,
    )
