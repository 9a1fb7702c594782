"""First-order propagation (JCGM 100:2008, clause 5) of closed forms, beside the simulation."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from tailrace.errors import AccuracyError, PartError
from tailrace.journey.hydraulics import pressure
from tailrace.journey.itinerary import Itinerary
from tailrace.journey.propagation import spread
from tailrace.journey.textbook import textbook, textbook_metric
from tailrace.measures.peaks import Gaussian
from tailrace.parts.base import Passages
from tailrace.quantities.arrays import FloatArray
from tailrace.scenario.criteria import Criterion
from tailrace.studies.derivatives import derivatives
from tailrace.studies.samples import Samples
from tailrace.studies.tolerance.models import JourneyModel, measured
from tailrace.studies.tolerance.result import Acceptance, FirstOrder, Interval, Spread
from tailrace.studies.tolerance.statistics import numerical_tolerance

COVERAGE_FACTOR = 1.959964
"""Of a Gaussian for 95 %."""
STEP, WIDE_STEP = 0.05, 0.25
"""Of a standard uncertainty: the difference from which a sensitivity is taken, of a closed form
and of journeys, whose discretisation error must not matter in it."""
OFF = 0.05
"""A probability of acceptance that is off by this much misleads."""
NAN = float("nan")


def steps_of(samples: Samples, step: float) -> tuple[Samples, FloatArray]:
    """Samples that stand at the mean of every input, then a step below and above for each.

    ``step``: of a standard uncertainty, 1. With them the standard uncertainties, (inputs,) array,
    SI units of the inputs.
    """
    known = [one.mean_and_deviation() for one in samples.inputs]
    means, deviations = (np.array(side) for side in zip(*known, strict=True))
    steps = np.zeros((1 + 2 * len(means), len(means)))
    for place in range(len(means)):
        steps[1 + 2 * place, place], steps[2 + 2 * place, place] = -step, step
    values = means + steps * deviations
    return replace(samples, scores=steps, fixed=tuple(enumerate(values.T))), deviations


def linear_of(model: JourneyModel, samples: Samples) -> FloatArray:
    """Metrics of the journeys of ``steps_of``, (outcomes, journeys) array, SI units of the metrics.

    Where the path is linear they lie on straight lines, with the exact derivatives of the product.
    """
    steps, deviations = steps_of(samples, WIDE_STEP)
    at = steps.values()
    bounds = [one.target.bounds for one in samples.inputs]
    try:
        build = samples.build(model.scenario, range(len(bounds)))
        found = derivatives(build, at[0], bounds, deviations)
    except (AccuracyError, PartError):
        return model(steps, "steps", smooth=True).values
    values = np.array([measured(one, found.metrics)[0] for one in model.criteria])
    return np.asarray(values[:, :1] + found.of(values.T).T @ (at - at[0]).T)


def closed_forms(
    criteria: Sequence[Criterion], itineraries: Sequence[Itinerary]
) -> list[FloatArray]:
    """The metric of each criterion, for every journey, if all peaks were Gaussian.

    (journeys,) arrays, SI units of the metrics, from the sum of the parts' long-tube or textbook
    variances. NaN where such a sum says nothing: tailing, asymmetry, absolute signals.
    """
    paths = [spread(one) for one in itineraries]
    sums = [(passages, textbook(passages)) for passages in paths]
    return [np.array([_closed_form(one, *of) for of in sums]) for one in criteria]


def _closed_form(criterion: Criterion, passages: Passages, peak: Gaussian) -> float:
    asked, metric = criterion.asked, criterion.asked.metric
    if asked.of == "run":
        return float(getattr(pressure(passages), metric.name))
    if asked.of == "pair":
        return float(np.min(textbook_metric(metric.name, peak, criterion.of or None)))
    if asked.group == "recorded":
        found = textbook_metric(metric.name, peak)
    elif metric.textbook is None or peak.gradient_time is not None:
        return NAN
    else:
        found = metric.textbook(peak)
    if criterion.of:
        return float(found[criterion.of[0]])
    return float(np.min(found) if np.isnan(criterion.at_most) else np.max(found))


def first_order(
    values: FloatArray,
    step: float,
    uncertainties: FloatArray,
    correlation: FloatArray,
    criterion: Criterion,
    outcome: tuple[Spread, Acceptance | None],
) -> FirstOrder:
    """Propagate standard uncertainties to first order, and compare.

    Parameters
    ----------
    values : (1 + 2 inputs,) array, SI unit of the metric
        At the samples of ``steps_of``.
    step : float, 1
        Of these.
    uncertainties : (inputs,) array, SI units of the inputs
    correlation : (inputs, inputs) array, 1
    outcome : tuple of Spread, Acceptance or None
        What the simulation says.
    """
    # A relative deviation, so that inputs of every unit meet on a like footing.
    ends = values[1:].reshape(-1, 2)
    pulls = (ends[:, 1] - ends[:, 0]) / (2 * step)
    combined = float(np.sqrt(max(float(pulls @ correlation @ pulls), 0.0)))
    sensitivities = np.divide(
        pulls, uncertainties, out=np.zeros_like(pulls), where=uncertainties > 0
    )
    nominal = float(values[0])
    half = COVERAGE_FACTOR * combined
    interval = Interval(low=nominal - half, high=nominal + half, unit=criterion.unit)
    probability = _probability(nominal, combined, criterion)
    allowed, misleads = _compared(interval, probability, *outcome)
    return FirstOrder(
        unit=criterion.unit,
        value=nominal,
        standard_uncertainty=combined,
        interval=interval,
        sensitivities=sensitivities,
        contributions=np.abs(pulls),
        probability=probability,
        allowed=allowed,
        misleads=misleads,
    )


def _probability(nominal: float, deviation: float, criterion: Criterion) -> float:
    from scipy.special import ndtr

    if not criterion.limited or np.isnan(nominal):
        return NAN
    if deviation == 0:
        return float(not (nominal < criterion.at_least or nominal > criterion.at_most))
    least, most = criterion.at_least, criterion.at_most
    above = 1.0 if np.isnan(most) else float(ndtr((most - nominal) / deviation))
    below = 0.0 if np.isnan(least) else float(ndtr((least - nominal) / deviation))
    return above - below


def _compared(
    interval: Interval, probability: float, spread: Spread, acceptance: Acceptance | None
) -> tuple[float, bool]:
    """The difference that means nothing, and whether there is more (JCGM 101:2008, clause 8.1)."""
    if np.isnan(interval.low) or spread.samples < 2 or spread.standard_uncertainty == 0:
        return NAN, False
    # Chance must not make a difference of what is none.
    chance = 2 * max(spread.symmetric_error.low, spread.symmetric_error.high)
    allowed = numerical_tolerance(spread.standard_uncertainty, digits=1) + chance
    low = abs(interval.low - spread.symmetric.low)
    high = abs(interval.high - spread.symmetric.high)
    off = acceptance is not None and abs(probability - acceptance.probability) > OFF
    return allowed, max(low, high) > allowed or off
