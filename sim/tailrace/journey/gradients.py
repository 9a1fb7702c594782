"""What a gradient changes in a journey: when the band meets it, what it focuses, which metrics."""

import numpy as np

from tailrace.measures import Setting


def gradient_column(passages):
    """The column that is run with a gradient and its stream; None where there is none."""
    found = [pair for pair in passages if pair[0].in_gradient]
    return found[0] if found else None


def as_met(part, time, stream):
    """The part as a band meets it that arrives at this time; only a gradient makes a difference.

    Parameters
    ----------
    part : part
    time : (lanes,) array, s
        From the start of the injection.
    stream : Stream
    """
    return part.met_at(time, stream)


def handed_on(part, stream, variance, third):
    """Variance and third cumulant of what was added before, behind this part.

    Parameters
    ----------
    part : part
        As the band meets it.
    stream : Stream
    variance : (lanes,) array, s^2
    third : (lanes,) array, s^3
    """
    passed = part.variance_passed(stream)
    return variance * passed, third * passed**1.5


def focused_shares(passages, entered):
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
    before = 1 - as_met(part, entered[place], stream).variance_passed(stream)
    behind = [np.zeros(lanes)] * (len(passages) - place - 1)
    return [before] * place + [nowhere, *behind]


def setting_of(passages, **more) -> Setting:
    """What metrics need beside the peak.

    Parameters
    ----------
    passages : list of (part, Stream)
    **more
        What only some journeys know, as of ``tailrace.measures.Setting``.

    Returns
    -------
    Setting
    """
    column = gradient_column(passages)
    return Setting(
        gradient_time=None if column is None else column[0].gradient_time,
        flow_rate=passages[-1][1].flow_rate,
        **more,
    )
