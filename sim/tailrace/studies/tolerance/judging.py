"""Whether samples keep the limits, and with what probability and confidence."""

import numpy as np

from tailrace.studies.tolerance.result import Acceptance, Interval

ACCEPTED, REFUSED, UNDECIDED = 1, 0, -1


def clopper_pearson(hits, count, confidence, sides=2):
    """Bounds of a probability of which some hits among independent trials are known.

    Parameters
    ----------
    hits, count : int
    confidence : float, 1
    sides : int
        2: both bounds together have the confidence; 1: each has it alone.

    Returns
    -------
    tuple of two float, 1
        Clopper and Pearson, Biometrika 26 (1934) 404: exact, never too narrow.
    """
    from scipy.special import betaincinv

    tail = (1 - confidence) / sides
    low = 0.0 if hits == 0 else float(betaincinv(hits, count - hits + 1, tail))
    high = 1.0 if hits == count else float(betaincinv(hits + 1, count - hits, 1 - tail))
    return low, high


def states_of(values, errors, at_least, at_most):
    """Judge every sample.

    Parameters
    ----------
    values, errors : (samples,) array, any unit
        The figure and its discretisation error.
    at_least, at_most : float, the same unit
        NaN: no such limit.

    Returns
    -------
    (samples,) array of int, 1
        ACCEPTED or REFUSED; UNDECIDED where the limit lies within the discretisation error, or
        where there is no figure.
    """
    margin = np.fmin(np.asarray(values) - at_least, at_most - np.asarray(values))
    error = np.nan_to_num(errors)
    states = np.full(np.shape(values), UNDECIDED)
    states[margin >= error] = ACCEPTED
    states[margin < -error] = REFUSED
    return states


def together(states):
    """Judge all criteria at once: refused by one is refused.

    Parameters
    ----------
    states : (criteria, samples) array of int, 1

    Returns
    -------
    (samples,) array of int, 1
    """
    states = np.asarray(states)
    whole = np.full(states.shape[1], UNDECIDED)
    whole[(states == ACCEPTED).all(axis=0)] = ACCEPTED
    whole[(states == REFUSED).any(axis=0)] = REFUSED
    return whole


def acceptance_of(states, required, confidence) -> Acceptance:
    """Count what was judged.

    Parameters
    ----------
    states : (samples,) array of int, 1
    required, confidence : float, 1

    Returns
    -------
    Acceptance
    """
    count = len(states)
    accepted = int(np.sum(states == ACCEPTED))
    refused = int(np.sum(states == REFUSED))
    undecided = count - accepted - refused
    low, _ = clopper_pearson(accepted, count, confidence)
    _, high = clopper_pearson(accepted + undecided, count, confidence)
    return Acceptance(
        samples=count,
        accepted=accepted,
        refused=refused,
        undecided=undecided,
        probability=(accepted + undecided / 2) / count,
        interval=Interval(low=low, high=high),
        lower_bound=clopper_pearson(accepted, count, confidence, sides=1)[0],
        required=required,
        confidence=confidence,
    )
