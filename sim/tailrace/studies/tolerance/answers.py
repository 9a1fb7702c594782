"""Answers to the questions that go on from the samples, as plain frozen records, in SI."""

from dataclasses import dataclass

import numpy as np

from tailrace.studies.tolerance.spreads import Acceptance, Interval


@dataclass(frozen=True, kw_only=True)
class Indices:
    """Sobol' indices: whose uncertainty makes that of the figures (Saltelli et al. 2010).

    Parameters
    ----------
    inputs : tuple of str
        Names; correlated inputs go together as one, joined by " + ".
    outcomes : tuple of str
    first, total : (outcomes, inputs) array, 1
        Share of the variance that an input makes alone, and with all that it interacts with.
    first_low, first_high, total_low, total_high : (outcomes, inputs) array, 1
        Bootstrap interval of each at ``confidence``.
    confidence : float, 1
    base : int
        Rows of each sample; ``(inputs + 2) * base`` journeys were made.
    remark : str
        Which inputs go together, and why; else empty.
    """

    inputs: tuple[str, ...]
    outcomes: tuple[str, ...]
    first: np.ndarray
    first_low: np.ndarray
    first_high: np.ndarray
    total: np.ndarray
    total_low: np.ndarray
    total_high: np.ndarray
    confidence: float
    base: int
    remark: str = ""


@dataclass(frozen=True, kw_only=True)
class Widened:
    """One input at the widest tolerance.

    Parameters
    ----------
    name, unit, kind : str
        Of the input; ``unit`` SI, ``kind`` of quantity or empty.
    scale : float, 1
        Its spread over the stated one: 2 is twice as wide, 0 none at all.
    stated, widest : str
        Its distribution in words: ``normal, standard deviation 2 um``.
    limits : Interval, ``unit``
        What it may be: the ends of a bounded distribution, else the middle 99.73 %.
    """

    name: str
    unit: str
    kind: str
    scale: float
    stated: str
    widest: str
    limits: Interval


@dataclass(frozen=True, kw_only=True)
class Widening:
    """The widest tolerance that still keeps all criteria (the inverse question).

    Parameters
    ----------
    title : str
        ``needle seat.bore alone`` or ``all together, alike``.
    rule : str
        How it is shared out among several inputs; one sentence, empty for one input.
    inputs : tuple of Widened
    scale : float, 1
        Of the rule: the greatest at which acceptance was found by full simulation; 0 if none.
    scale_refused : float, 1
        The least at which it was found refused by full simulation; infinity if none up to the
        greatest that was looked at. The true end lies between the two as the samples have it.
    tried : tuple of (float, Acceptance)
        Every scale that was simulated, rising.
    fresh : Acceptance or None
        At ``scale``, with samples of another seed; None where ``scale`` is 0.
    sentence : str
        The answer in one sentence.
    """

    title: str
    rule: str
    inputs: tuple[Widened, ...]
    scale: float
    scale_refused: float
    tried: tuple[tuple[float, Acceptance], ...]
    fresh: Acceptance | None
    sentence: str


@dataclass(frozen=True, kw_only=True)
class RegionMap:
    """Where two inputs may lie, the others drawn as stated.

    Parameters
    ----------
    names, units, kinds : tuple of two str
        Of the first input (columns) and the second (rows).
    first : (columns,) array, unit of the first input
    second : (rows,) array, unit of the second input
    accepted, undecided : (rows, columns) array of int, 1
        Of ``samples`` at each place; all criteria together.
    samples : int
        At each place; the same samples of the other inputs everywhere.
    lower, upper : (rows, columns) array, 1
        One-sided bounds of the probability of acceptance, each at ``confidence``.
    allowed : (rows, columns) array of int, 1
        1 acceptance is kept with confidence, 0 it is missed with confidence, -1 neither.
    required, confidence : float, 1
    stated : tuple of two Interval
        What the two inputs are as stated: the ends, or the middle 95 %.
    nominal : tuple of two float
        Where the scenario stands.
    """

    names: tuple[str, str]
    units: tuple[str, str]
    kinds: tuple[str, str]
    first: np.ndarray
    second: np.ndarray
    accepted: np.ndarray
    undecided: np.ndarray
    samples: int
    lower: np.ndarray
    upper: np.ndarray
    allowed: np.ndarray
    required: float
    confidence: float
    stated: tuple[Interval, Interval]
    nominal: tuple[float, float]


@dataclass(frozen=True, kw_only=True)
class Stop:
    """How the adaptive number of samples came to an end (JCGM 101:2008, clause 7.9).

    Parameters
    ----------
    digits : int
        Significant digits asked of the standard uncertainty.
    size, batches : int
        Samples of one batch, and how many were made.
    tolerances : (outcomes,) array, unit of each outcome
        The numerical tolerance delta of each.
    reached : bool
        Whether it was met before the greatest number of samples.
    sentence : str
    """

    digits: int
    size: int
    batches: int
    tolerances: np.ndarray
    reached: bool
    sentence: str


@dataclass(frozen=True, kw_only=True)
class Check:
    """One row of a qualification: what is measured on the instrument, and how it is judged.

    Parameters
    ----------
    what : str
        ``variance without the column of humulone``.
    how : str
        With what it is measured: peak standard, union in place of the column, column standard.
    often : str
        How often to look, and why.
    unit, kind : str
        SI unit of the limits; kind of quantity or empty.
    expected : float, ``unit``
        As the scenario stands.
    at_least, at_most : float, ``unit``
        Limits; NaN: none on that side.
    measurement : float, ``unit``
        Standard uncertainty of the measurement itself.
    guard : float, ``unit``
        Guard band: the acceptance limits lie this much inside (JCGM 106:2012, clause 8).
    accept_at_least, accept_at_most : float, ``unit``
        Acceptance limits, the limits less the guard band.
    rule : str
        The decision rule in one sentence.
    consumer_risk, producer_risk : float, 1
        Global risks (JCGM 106:2012, clause 9): a wrong instrument passed, a right one failed.
    consumer_risk_interval, producer_risk_interval : Interval, 1
        95 % confidence, from the finite number of samples.
    because : str
        Where the limit comes from.
    """

    what: str
    how: str
    often: str
    unit: str
    kind: str
    expected: float
    at_least: float
    at_most: float
    measurement: float
    guard: float
    accept_at_least: float
    accept_at_most: float
    rule: str
    consumer_risk: float
    producer_risk: float
    consumer_risk_interval: Interval
    producer_risk_interval: Interval
    because: str
