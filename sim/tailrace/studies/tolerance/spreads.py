"""What is said of one figure over all samples, as plain frozen records. Figures are in SI."""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, kw_only=True)
class Interval:
    """From ``low`` to ``high``, in the unit of what it is of; NaN where it does not exist."""

    low: float
    high: float


@dataclass(frozen=True, kw_only=True)
class Spread:
    """The distribution of one figure over the samples (JCGM 101:2008, clause 7.5 to 7.7).

    Parameters
    ----------
    samples : int
        Those with a figure; samples that could not be computed are left out.
    mean, standard_uncertainty : float, unit of the figure
    mean_error, uncertainty_error : float, unit of the figure
        Standard errors of these from the finite number of samples.
    symmetric, shortest : Interval, unit of the figure
        95 % coverage intervals: probabilistically symmetric, and the shortest one.
    symmetric_error, shortest_error : Interval, unit of the figure
        Standard errors of their ends from the finite number of samples.
    numerical_error : float, unit of the figure
        Median over the samples of how far a figure is from the converged one.
    """

    samples: int
    mean: float
    standard_uncertainty: float
    mean_error: float
    uncertainty_error: float
    symmetric: Interval
    shortest: Interval
    symmetric_error: Interval
    shortest_error: Interval
    numerical_error: float


@dataclass(frozen=True, kw_only=True)
class Acceptance:
    """How often a criterion is met, and with what confidence (Clopper and Pearson 1934).

    Parameters
    ----------
    samples, accepted, refused, undecided : int
        ``undecided``: the limit lies within the sample's discretisation error, or the sample could
        not be computed. The three add up to ``samples``.
    probability : float, 1
        Share accepted; of the undecided, half.
    interval : Interval, 1
        Two-sided, at ``confidence``: its low end counts every undecided sample as refused, its high
        end as accepted.
    lower_bound : float, 1
        One-sided, at ``confidence``; every undecided sample counted as refused.
    required : float, 1
        The probability asked for.
    confidence : float, 1
    """

    samples: int
    accepted: int
    refused: int
    undecided: int
    probability: float
    interval: Interval
    lower_bound: float
    required: float
    confidence: float

    @property
    def met(self) -> bool:
        """Whether the required probability is kept with the required confidence."""
        return self.lower_bound >= self.required


@dataclass(frozen=True, kw_only=True)
class ToleranceLimits:
    """Distribution-free tolerance limits from order statistics (Wilks 1941).

    Parameters
    ----------
    content, confidence : float, 1
        At least ``content`` of the distribution lies within, with ``confidence``.
    at_least, at_most : float, unit of the figure
        One-sided limits; NaN with too few samples.
    between : Interval, unit of the figure
        Two-sided; NaN with too few samples.
    refused : str
        Why there are none; empty where there are.
    """

    content: float
    confidence: float
    at_least: float
    at_most: float
    between: Interval
    refused: str = ""


@dataclass(frozen=True, kw_only=True)
class FirstOrder:
    """First-order propagation (JCGM 100:2008) of closed-form variances, beside the simulation.

    Parameters
    ----------
    value : float, unit of the figure
        Closed form with every input at its mean; NaN where there is none.
    standard_uncertainty : float, unit of the figure
    interval : Interval, unit of the figure
        ``value`` -+ 1.96 standard uncertainties.
    sensitivities : (inputs,) array, unit of the figure over that of the input
    contributions : (inputs,) array, unit of the figure
        Absolute sensitivity times the input's standard uncertainty.
    probability : float, 1
        Of acceptance, if the figure were Gaussian; NaN without limits.
    remark : str
        One sentence: where it misleads, or that it does not.
    misleads : bool
    """

    value: float
    standard_uncertainty: float
    interval: Interval
    sensitivities: np.ndarray
    contributions: np.ndarray
    probability: float
    remark: str
    misleads: bool
