"""First-order propagation (JCGM 100:2008, clause 5) beside the simulation, and where it fails."""

import numpy as np

from tailrace.studies.tolerance.adaptive import numerical_tolerance
from tailrace.studies.tolerance.result import FirstOrder, Interval

COVERAGE_FACTOR = 1.959964
"""Of a Gaussian for 95 %."""
STEP = 0.05
"""Of a standard uncertainty: the finite difference from which a sensitivity is taken."""
OFF = 0.05
"""A probability of acceptance that is off by this much misleads."""


def first_order(nominal, ends, uncertainties, correlation, criterion, outcome):
    """Propagate standard uncertainties through closed forms, and compare.

    Parameters
    ----------
    nominal : float, SI unit of the figure
        Closed form of the scenario as it stands.
    ends : (inputs, 2) array, SI unit of the figure
        Closed form with each input STEP standard uncertainties below and above its value.
    uncertainties : (inputs,) array, SI units of the inputs
    correlation : (inputs, inputs) array, 1
    criterion : Criterion
    outcome : tuple of Spread, Acceptance or None
        What the simulation says.

    Returns
    -------
    FirstOrder
    """
    spread, acceptance = outcome
    # A relative deviation, so that inputs of every unit meet on a like footing.
    pulls = (ends[:, 1] - ends[:, 0]) / (2 * STEP)
    combined = float(np.sqrt(max(pulls @ correlation @ pulls, 0.0)))
    sensitivities = np.divide(
        pulls, uncertainties, out=np.zeros_like(pulls), where=uncertainties > 0
    )
    nominal = float(nominal)
    half = COVERAGE_FACTOR * combined
    interval = Interval(low=nominal - half, high=nominal + half)
    probability = _probability(nominal, combined, criterion)
    remark, misleads = _compared(criterion, interval, nominal, probability, spread, acceptance)
    return FirstOrder(
        value=nominal,
        standard_uncertainty=combined,
        interval=interval,
        sensitivities=sensitivities,
        contributions=np.abs(pulls),
        probability=probability,
        remark=remark,
        misleads=misleads,
    )


def _probability(nominal, deviation, criterion):
    from scipy.special import ndtr

    if not criterion.limited or np.isnan(nominal):
        return float("nan")
    if deviation == 0:
        return float(not (nominal < criterion.at_least or nominal > criterion.at_most))
    above = 1.0 if np.isnan(criterion.at_most) else ndtr((criterion.at_most - nominal) / deviation)
    below = (
        0.0 if np.isnan(criterion.at_least) else ndtr((criterion.at_least - nominal) / deviation)
    )
    return float(above - below)


def _compared(criterion, interval, nominal, probability, spread, acceptance):
    """What the comparison says (JCGM 101:2008, clause 8.1), and whether first order misleads."""
    name = criterion.name
    if np.isnan(nominal):
        return f"{name}: sums of variances say nothing of it", False
    if spread.samples < 2:
        return f"{name}: nothing to compare with", False
    # Chance must not make a difference of what is none.
    chance = 2 * max(spread.symmetric_error.low, spread.symmetric_error.high)
    allowed = numerical_tolerance(spread.standard_uncertainty, digits=1) + chance
    low = abs(interval.low - spread.symmetric.low)
    high = abs(interval.high - spread.symmetric.high)
    said = (
        f"{name}: first order {_range(criterion, interval)}, simulated "
        f"{_range(criterion, spread.symmetric)} (95 %)"
    )
    off = acceptance is not None and abs(probability - acceptance.probability) > OFF
    if max(low, high) <= allowed and not off:
        return said + "; they agree to a digit of the standard uncertainty", False
    why = _reason(criterion, interval, nominal, spread, allowed)
    if acceptance is not None:
        why += (
            f"; probability of acceptance {100 * probability:.3g} % against "
            f"{100 * acceptance.probability:.3g} %"
        )
    return f"{said}: {why}", True


def _reason(criterion, interval, nominal, spread, allowed):
    shift = nominal - spread.mean
    ratio = (interval.high - interval.low) / max(
        spread.symmetric.high - spread.symmetric.low, np.finfo(float).tiny
    )
    lean = spread.symmetric.high + spread.symmetric.low - 2 * spread.mean
    told = []
    if abs(shift) > allowed:
        word = "above" if shift > 0 else "below"
        told.append(f"its middle lies {criterion.shown(abs(shift))} {word} the simulated mean")
    if abs(ratio - 1) > 0.1:
        told.append(f"its width is {ratio:.2g} times the simulated one")
    if abs(lean) > allowed:
        told.append(f"the simulated distribution leans {'up' if lean > 0 else 'down'}")
    return "first order misleads, for " + (", ".join(told) if told else "its ends lie elsewhere")


def _range(criterion, interval):
    return f"{criterion.shown(interval.low)} to {criterion.shown(interval.high)}"
