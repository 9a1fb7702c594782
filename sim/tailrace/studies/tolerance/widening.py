"""The inverse question: how wide may a tolerance be?

Samples are kept as scores, so each one moves outward along a ray as its spread is scaled. Where the
allowed region is crossed once on the way, the set of accepted samples only shrinks as the scale
grows, and the greatest scale that passes Clopper and Pearson's bound on one set of samples keeps
the stated confidence though many scales are looked at: it is an order statistic of the scales at
which the samples leave the region (Wilks 1941). Samples of another seed check that.
"""

from dataclasses import dataclass

import numpy as np

from tailrace.errors import TailraceError
from tailrace.studies.tolerance.emulator import Emulator
from tailrace.studies.tolerance.judging import acceptance_of, states_of, together
from tailrace.studies.tolerance.result import Interval, Widened, Widening

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


@dataclass(frozen=True, kw_only=True)
class Demand:
    """What every sample is held against.

    Parameters
    ----------
    criteria : tuple of Criterion
        With limits.
    required, confidence : float, 1
        Of all together.
    """

    criteria: tuple
    required: float
    confidence: float

    def judged(self, values, errors):
        """States of the samples, (samples,) array of int, 1; values and errors as of ``Answer``."""
        return together(
            [
                states_of(value, error, one.at_least, one.at_most)
                for one, value, error in zip(self.criteria, values, errors, strict=True)
            ]
        )

    def acceptance(self, values, errors):
        """``Acceptance`` of all criteria together; values and errors as of an ``Answer``."""
        return acceptance_of(self.judged(values, errors), self.required, self.confidence)


@dataclass(frozen=True, kw_only=True)
class Question:
    """One way of widening.

    Parameters
    ----------
    title, rule : str
    weights : (inputs,) array, 1
        An input with weight w is spread w times as wide as the scale says; 0: as stated.
    """

    title: str
    rule: str
    weights: np.ndarray

    def scales(self, scale):
        """Scales of all inputs, (inputs,) array, 1, at the rule's ``scale``."""
        return np.where(self.weights > 0, self.weights * scale, 1.0)


def widened(model, samples, seen, demand, question, count, name) -> Widening:
    """Find the widest tolerance.

    Parameters
    ----------
    model : callable
        ``model(samples, name)`` gives an ``Answer`` with a row for each criterion.
    samples : Samples
    seen : tuple of (inputs, values)
        ``(samples, inputs)`` and ``(outcomes, samples)`` arrays of what is known already.
    demand : Demand
    question : Question
    count : int
        Samples of the search.
    name : str
        Begins the names of the batches.

    Returns
    -------
    Widening
    """
    search = _Search(model, samples.again(count, STREAM), seen, demand, question, name)
    passed, refused = search.run()
    fresh = None
    if passed > 0:
        again = samples.again(FRESH_TIMES * count, FRESH_STREAM, seed=samples.seed + 1)
        answer = model(again.scaled(question.scales(passed)), f"{name}-fresh")
        fresh = demand.acceptance(answer.values, answer.errors)
    return Widening(
        title=question.title,
        rule=question.rule,
        inputs=tuple(_rows(samples, question, passed)),
        scale=passed,
        scale_refused=refused,
        tried=tuple(sorted(search.tried, key=lambda pair: pair[0])),
        fresh=fresh,
        sentence=_sentence(question, samples, passed, refused, fresh, demand),
    )


class _Search:
    """Proposals by the emulator, each tried with full simulation."""

    def __init__(self, model, samples, seen, demand, question, name):
        self._model, self._samples, self._demand = model, samples, demand
        self._question, self._name = question, name
        self._inputs, self._figures = [seen[0]], [seen[1]]
        self._greatest, self._shift = 1.0, 0.0
        self._error = np.zeros((len(seen[1]), 1))
        self.tried = []

    def run(self):
        """Greatest scale that passed (0 for none), least that was refused (infinite for none)."""
        passed, refused = 0.0, np.inf
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

    def _proposal(self, passed, refused):
        """The next scale to simulate; None where the two are near enough."""
        if passed >= GREATEST or refused <= LEAST or refused <= passed * (1 + RESOLUTION):
            return None
        low, high = max(passed, LEAST), min(refused, GREATEST, STRIDE * self._greatest)
        emulate = Emulator(np.concatenate(self._inputs), np.concatenate(self._figures, axis=1))
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
            scale = np.sqrt(max(passed, LEAST) * refused)
        return float(scale)

    def _emulated_end(self, emulate, low, high):
        """The greatest scale up to which the emulator sees the criteria kept."""
        # A coarse look first: the emulated share need not fall everywhere.
        steps = np.geomspace(low, high, COARSE)
        for step in steps:
            if not self._emulated(emulate, step):
                high = step
                break
            low = step
        while high > low * (1 + RESOLUTION / 8):
            middle = np.sqrt(low * high)
            low, high = (middle, high) if self._emulated(emulate, middle) else (low, middle)
        return low

    def _emulated(self, emulate, scale):
        inputs = self._samples.scaled(self._question.scales(scale)).values()
        values = emulate(inputs) + self._shift
        errors = np.broadcast_to(self._error, values.shape)
        return self._demand.acceptance(values, errors).met

    def _passes(self, scale):
        samples = self._samples.scaled(self._question.scales(scale))
        try:
            self._check(samples)
        except TailraceError:
            # Physics or the parts end here: what cannot be built is not allowed.
            self.tried.append((scale, self._demand.acceptance(*self._nothing())))
            return False
        answer = self._model(samples, f"{self._name}-{len(self.tried):02d}")
        acceptance = self._demand.acceptance(answer.values, answer.errors)
        self.tried.append((scale, acceptance))
        self._greatest = max(self._greatest, scale)
        self._learn(samples.values(), answer)
        return acceptance.met

    def _check(self, samples):
        scenario = getattr(self._model, "scenario", None)
        if scenario is not None:
            samples.check(scenario)

    def _nothing(self):
        nothing = np.full((len(self._demand.criteria), len(self._samples)), np.nan)
        return nothing, nothing

    def _learn(self, inputs, answer):
        """Take a simulation into the emulator, and correct it sample by sample."""
        self._inputs.append(inputs)
        self._figures.append(answer.values)
        emulate = Emulator(np.concatenate(self._inputs), np.concatenate(self._figures, axis=1))
        self._shift = np.nan_to_num(answer.values - emulate(inputs))
        self._error = np.nan_to_num(np.nanmedian(answer.errors, axis=1))[:, None]


def _rows(samples, question, scale):
    for one, weight in zip(samples.inputs, question.weights, strict=True):
        if weight > 0:
            own = float(weight * scale)
            low, high = one.limits(own)
            yield Widened(
                name=one.name,
                unit=one.unit,
                kind=one.quantity,
                scale=own,
                stated=one.sentence(),
                widest=one.sentence(own) if own > 0 else f"exactly {one.shown(one.nominal)}",
                limits=Interval(low=low, high=high),
            )


def _sentence(question, samples, passed, refused, fresh, demand):
    asked = (
        f"acceptance of {100 * demand.required:g} % with {100 * demand.confidence:g} % confidence"
    )
    if passed == 0:
        return (
            f"{question.title}: no tolerance, however narrow, gives {asked}; the scenario as it "
            "stands and its other inputs already stand against it"
        )
    rows = list(_rows(samples, question, passed))
    told = "; ".join(
        f"{row.name} {one.shown(row.limits.low)} to {one.shown(row.limits.high)}"
        for row in rows
        for one in samples.inputs
        if one.name == row.name
    )
    end = f"refused at {refused:.3g} times" if np.isfinite(refused) else "no end was met up to it"
    verdict = "confirm it" if fresh.interval.high >= demand.required else "do NOT confirm it"
    return (
        f"{question.title}: {passed:.3g} times as wide as stated ({told}) keeps {asked}; {end}; "
        f"{fresh.samples} fresh samples {verdict}: {100 * fresh.probability:.4g} % "
        f"({100 * fresh.interval.low:.4g} to {100 * fresh.interval.high:.4g} %)"
    )
