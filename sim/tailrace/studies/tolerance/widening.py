"""How wide tolerances may be: an emulator proposes, full journeys decide.

Samples are kept as scores, so each one moves outward along a ray as its spread is scaled. Where the
allowed region is crossed once on the way, the set of accepted samples only shrinks as the scale
grows, and the greatest scale that passes Clopper and Pearson's bound on one set of samples keeps
the stated confidence though many scales are looked at: it is an order statistic of the scales at
which the samples leave the region (Wilks 1941). Samples of another seed check that.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from tailrace.errors import TailraceError
from tailrace.quantities.arrays import FloatArray
from tailrace.studies.samples import Samples
from tailrace.studies.tolerance.judging import Demand
from tailrace.studies.tolerance.models import Answer, Model
from tailrace.studies.tolerance.planning import Plan
from tailrace.studies.tolerance.result import Interval, Tried, Widened, Widening

MOST_WITH_PRODUCTS = 40
"""Inputs; with more, products of two are left out."""
RIDGE = 1e-8
SLAB = 1 << 16
"""Samples whose terms are in memory at a time."""


class Emulator:
    """Least squares with a polynomial of second degree in the inputs.

    Parameters
    ----------
    inputs : (samples, inputs) array, any units
    values : (outcomes, samples) array, any units
        NaN: the sample is left out of this outcome.
    """

    def __init__(self, inputs: FloatArray, values: FloatArray) -> None:
        self._middle = inputs.mean(axis=0)
        size = inputs.std(axis=0)
        self._size = np.where(size > 0, size, 1.0)
        square, right = np.array(0.0), np.array(0.0)
        for begin in range(0, len(inputs), SLAB):
            terms, some = self._terms(inputs[begin : begin + SLAB]), values[:, begin : begin + SLAB]
            there = np.isfinite(some)
            square = square + [terms[:, rows] @ terms[:, rows].T for rows in there]
            right = right + [
                terms[:, rows] @ one[rows] for one, rows in zip(some, there, strict=True)
            ]
        self._weights = np.array([_fit(*one) for one in zip(square, right, strict=True)])

    def __call__(self, inputs: FloatArray) -> FloatArray:
        """(outcomes, samples) array at other (samples, inputs) values of the inputs, any units."""
        return np.asarray(self._weights @ self._terms(inputs))

    def pulls(self) -> FloatArray:
        """What one standard deviation of each input does to each metric, near the middle.

        (outcomes, inputs) array, any units
        """
        return self._weights[:, 1 : 1 + len(self._middle)]

    def _terms(self, inputs: FloatArray) -> FloatArray:
        scaled = np.ascontiguousarray(((inputs - self._middle) / self._size).T)
        rows = [np.ones((1, scaled.shape[1])), scaled, scaled**2]
        if len(scaled) <= MOST_WITH_PRODUCTS:
            one, other = np.triu_indices(len(scaled), k=1)
            rows.append(scaled[one] * scaled[other])
        return np.concatenate(rows)


def _fit(square: FloatArray, right: FloatArray) -> FloatArray:
    """What solves the normal equations; NaN where no sample has a value."""
    if not square.any():
        return np.full(len(right), np.nan)
    square = square + RIDGE * np.trace(square) / len(square) * np.eye(len(square))
    return np.asarray(np.linalg.solve(square, right))


GREATEST = 8.0
"""Times the stated spread; beyond, the question is another one."""
RESOLUTION = 0.04
"""Relative distance of a scale that passes and one that is refused at which the search ends."""
LEAST = 0.02
"""A scale below this counts as none."""
MOST_STEPS = 14
COARSE = 10
"""Scales, in equal ratios, at which the emulator is asked first."""
STRIDE = 2.5
"""The emulator is trusted no further than this many times the greatest scale that it has seen."""
STREAM, FRESH_STREAM = 2, 3
FRESH_TIMES = 2
"""So many times as many fresh samples as the search has."""
MOST_WEIGHT = 10.0
"""An input that hardly matters would be given any width; no more than this times the rule's."""

END = 2.0
"""Normal scores at which it is looked whether an input moves anything."""
ROUNDING = 1e-11
"""Of a value: less is no difference."""

Seen = tuple[FloatArray, FloatArray]
"""What is known already: (samples, inputs) array of inputs, (outcomes, samples) array of values."""


@dataclass(frozen=True, kw_only=True)
class Question:
    """One way of widening.

    Parameters
    ----------
    rule : str
        ``alone``; of several inputs ``alike`` or ``equal influence``.
    weights : (inputs,) array, 1
        An input with weight w is spread w times as wide as the scale says; 0: as stated.
    governing : str
        The outcome that governs equal influence.
    """

    rule: str
    weights: FloatArray
    governing: str = ""

    def scales(self, scale: float) -> FloatArray:
        """Scales of all inputs, (inputs,) array, 1, at the rule's ``scale``."""
        return np.where(self.weights > 0, self.weights * scale, 1.0)


def questions(plan: Plan, samples: Samples, seen: Seen, demand: Demand) -> list[Question]:
    """Every way of widening that a plan asks for; ``seen`` is what is known already.

    One question for each input alone; then all together, alike and by equal influence.
    """
    count = len(samples.inputs)
    asked = [Question(rule="alone", weights=_only([place], count)) for place in plan.widen]
    if plan.shared:
        asked.append(Question(rule="alike", weights=_only(plan.shared, count)))
        place = _least_held(seen[1], demand)
        weights = _equal_influence(seen, place, list(plan.shared))
        name = demand.criteria[place].name
        asked.append(Question(rule="equal influence", weights=weights, governing=name))
    return asked


def _only(places: Sequence[int], inputs: int) -> FloatArray:
    weights = np.zeros(inputs)
    weights[list(places)] = 1.0
    return weights


def _least_held(values: FloatArray, demand: Demand) -> int:
    """The criterion that holds for the fewest samples; of equals the one nearest to its limit."""
    ranks = []
    for place, (one, row) in enumerate(zip(demand.criteria, values, strict=True)):
        margin = np.fmin(row - one.at_least, one.at_most - row)
        deviation = max(float(np.nanstd(row)), float(np.finfo(float).tiny))
        ranks.append((float(np.mean(margin >= 0)), float(np.nanmean(margin)) / deviation, place))
    return min(ranks)[2]


def _equal_influence(seen: Seen, place: int, shared: list[int]) -> FloatArray:
    """(inputs,) array, 1: what each spread is multiplied by before all are widened alike.

    Then every input adds as much as any other to the standard uncertainty of one outcome, to first
    order about the samples seen.
    """
    pulls = np.abs(Emulator(*seen).pulls()[place])[shared]
    level = np.sqrt(np.mean(pulls**2))
    weights = np.zeros(seen[0].shape[1])
    share = np.divide(level, pulls, out=np.full_like(pulls, MOST_WEIGHT), where=pulls > 0)
    weights[shared] = np.clip(share, 1 / MOST_WEIGHT, MOST_WEIGHT)
    return weights


def widened(
    model: Model,
    samples: Samples,
    seen: Seen,
    demand: Demand,
    question: Question,
    count: int,
    name: str,
) -> Widening:
    """Find the widest tolerance.

    Parameters
    ----------
    seen : tuple of two arrays
        As of ``Seen``.
    count : int
        Samples of the search.
    name : str
        Begins the names of the batches.
    """
    search = _Search(model, samples.again(count, STREAM), seen, demand, question, name)
    unmoved = _unmoved(model, samples, demand, question, name)
    inert = len(unmoved) == len(demand.criteria)
    passed, refused = (0.0, float("inf")) if inert else search.run()
    fresh = None
    if passed > 0:
        again = samples.again(FRESH_TIMES * count, FRESH_STREAM, seed=samples.seed + 1)
        answer = model(again.scaled(question.scales(passed)), f"{name}-fresh")
        fresh = demand.acceptance(answer.values, answer.errors)
    return Widening(
        rule=question.rule,
        governing=question.governing,
        inputs=_rows(samples, question, passed),
        scale=passed,
        scale_refused=refused,
        tried=tuple(sorted(search.tried, key=lambda one: one.scale)),
        fresh=fresh,
        unmoved=unmoved,
        inert=inert,
    )


def _unmoved(
    model: Model, samples: Samples, demand: Demand, question: Question, name: str
) -> tuple[str, ...]:
    """Criteria that stay the same while the inputs go over what is stated, one at a time."""
    places = np.flatnonzero(question.weights)
    scores = np.zeros((1 + 2 * len(places), len(samples.inputs)))
    scores[1::2, places], scores[2::2, places] = -np.eye(len(places)), np.eye(len(places))
    answer = model(replace(samples, scores=END * scores, fixed=()), f"{name}-moved")
    apart = np.abs(answer.values - answer.values[:, :1])
    still = np.all(apart <= ROUNDING * np.abs(answer.values[:, :1]), axis=1)
    return tuple(one.name for one, same in zip(demand.criteria, still, strict=True) if same)


def _rows(samples: Samples, question: Question, scale: float) -> tuple[Widened, ...]:
    rows = []
    for one, weight in zip(samples.inputs, question.weights, strict=True):
        if weight > 0:
            own = float(weight * scale)
            low, high = one.limits(own)
            limits = Interval(low=low, high=high, unit=one.unit)
            rows.append(
                Widened(name=one.name, unit=one.unit, kind=one.quantity, scale=own, limits=limits)
            )
    return tuple(rows)


class _Search:
    """Proposals by the emulator, each tried with full simulation."""

    def __init__(
        self,
        model: Model,
        samples: Samples,
        seen: Seen,
        demand: Demand,
        question: Question,
        name: str,
    ) -> None:
        self._model, self._samples, self._demand = model, samples, demand
        self._question, self._name = question, name
        self._inputs, self._values = [seen[0]], [seen[1]]
        self._greatest = 1.0
        self._shift: FloatArray | float = 0.0
        self._error = np.zeros((len(seen[1]), 1))
        self.tried: list[Tried] = []

    def run(self) -> tuple[float, float]:
        """Greatest scale that passed (0 for none), least that was refused (infinite for none)."""
        passed, refused = 0.0, float("inf")
        for _ in range(MOST_STEPS):
            scale = self._proposal(passed, refused)
            if scale is None:
                break
            if self._passes(scale):
                passed = max(passed, scale)
            else:
                refused = min(refused, scale)
        if passed == 0 and refused > LEAST and self._passes(LEAST):
            passed = LEAST
        return passed, refused

    def _proposal(self, passed: float, refused: float) -> float | None:
        """The next scale to simulate; None where the two are near enough."""
        if passed >= GREATEST or refused <= LEAST or refused <= passed * (1 + RESOLUTION):
            return None
        low, high = max(passed, LEAST), min(refused, GREATEST, STRIDE * self._greatest)
        emulate = Emulator(np.concatenate(self._inputs), np.concatenate(self._values, axis=1))
        best = self._emulated_end(emulate, low, high)
        # Half a step to the safe side: a pass above is what the answer is read from.
        scale = best * (1 - RESOLUTION / 4)
        if passed > 0:
            scale = max(scale, passed * (1 + 0.9 * RESOLUTION))
        if np.isfinite(refused):
            scale = min(scale, refused * (1 - 0.4 * RESOLUTION))
        if best >= high * (1 - RESOLUTION / 8) and high < refused:
            scale = high
        if len(self.tried) > 6 and np.isfinite(refused):
            scale = float(np.sqrt(max(passed, LEAST) * refused))
        return float(scale)

    def _emulated_end(self, emulate: Emulator, low: float, high: float) -> float:
        """The greatest scale up to which the criteria hold for the emulator."""
        # A coarse look first: the emulated share need not fall everywhere.
        for step in np.geomspace(low, high, COARSE).tolist():
            if not self._emulated(emulate, step):
                high = step
                break
            low = step
        while high > low * (1 + RESOLUTION / 8):
            middle = float(np.sqrt(low * high))
            low, high = (middle, high) if self._emulated(emulate, middle) else (low, middle)
        return low

    def _emulated(self, emulate: Emulator, scale: float) -> bool:
        inputs = self._samples.scaled(self._question.scales(scale)).values()
        values = emulate(inputs) + self._shift
        errors = np.broadcast_to(self._error, values.shape)
        return self._demand.acceptance(values, errors).satisfied

    def _passes(self, scale: float) -> bool:
        samples = self._samples.scaled(self._question.scales(scale))
        try:
            self._model.check(samples)
        except TailraceError:
            # Physics or the parts end here: what cannot be built is not allowed.
            nothing = np.full((len(self._demand.criteria), len(samples)), np.nan)
            acceptance = self._demand.acceptance(nothing, nothing)
            self.tried.append(Tried(scale=scale, acceptance=acceptance))
            return False
        answer = self._model(samples, f"{self._name}-{len(self.tried):02d}")
        acceptance = self._demand.acceptance(answer.values, answer.errors)
        self.tried.append(Tried(scale=scale, acceptance=acceptance))
        self._greatest = max(self._greatest, scale)
        self._learn(samples.values(), answer)
        return acceptance.satisfied

    def _learn(self, inputs: FloatArray, answer: Answer) -> None:
        """Take a simulation into the emulator, and correct it sample by sample."""
        self._inputs.append(inputs)
        self._values.append(answer.values)
        emulate = Emulator(np.concatenate(self._inputs), np.concatenate(self._values, axis=1))
        self._shift = np.nan_to_num(answer.values - emulate(inputs))
        self._error = np.nan_to_num(np.nanmedian(answer.errors, axis=1))[:, None]
