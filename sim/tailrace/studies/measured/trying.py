"""One hypothesis fitted to all measurements, and the evidence for it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from tailrace.quantities.arrays import FloatArray
from tailrace.scenario.scenario import Scenario
from tailrace.signals.cubic import sample
from tailrace.studies.measured.fitting import rest_of
from tailrace.studies.measured.optimising import Optimum
from tailrace.studies.measured.problem import Free, Problem, Side, carried
from tailrace.studies.measured.suspects import Suspect

EXPECTED = 0.5
"""Standard deviation of what a fault is expected to change the variance by, relative, whichever
part it is in (our own choice)."""
CLOSE = 1e-6
"""Relative change of the sum of squares at which a hypothesis counts as fitted."""
FEW_BLANKS = 30
"""Points that the noise counts as known from where there are no blank stretches."""


@dataclass(frozen=True, kw_only=True)
class Tried:
    """A hypothesis that was fitted.

    Parameters
    ----------
    suspects : tuple of Suspect
        None: nothing is at fault.
    evidence : float, 1
        Logarithm, up to a constant that all hypotheses share.
    squares : tuple of float, 1
        What is left of each measurement.
    """

    suspects: tuple[Suspect, ...]
    problem: Problem
    optimum: Optimum
    evidence: float
    squares: tuple[float, ...]

    @property
    def values(self) -> FloatArray:
        """(suspects,) array, SI units of their fields."""
        count = len(self.suspects)
        return np.asarray(self.optimum.values[:count] * self.problem.sizes[:count])

    @property
    def deviations(self) -> FloatArray:
        """Standard uncertainties of the values; NaN of one at an end of what was tried, about
        which the squares do not rise either way."""
        count = len(self.suspects)
        scatter = rest_of(self.problem, self.optimum).scatter
        spread = np.sqrt(scatter * np.diag(self.optimum.covariance)[:count])
        inside = np.all([self.optimum.values != end for end in self.problem.bounds], axis=0)
        return np.asarray(np.where(inside[:count], spread, np.nan) * self.problem.sizes[:count])

    @property
    def delays(self) -> FloatArray:
        """Of each measurement, s."""
        count = len(self.problem.parameters)
        return np.asarray(self.optimum.values[count:] * self.problem.steps)


def tried(
    scenario: Scenario,
    sides: Sequence[Side],
    suspects: Sequence[Suspect],
    begin: FloatArray,
    delays: FloatArray,
) -> Tried:
    """Fit a hypothesis.

    Parameters
    ----------
    begin : (suspects,) array, SI units of their fields
    delays : (measurements,) array, s
    """
    free = [
        Free(
            target=one.fault.target,
            where=one.fault.where,
            start=float(value),
            prior=None,
            asked=True,
            between=(float(one.reach.values[0]), float(one.reach.values[-1])),
        )
        for one, value in zip(suspects, begin, strict=True)
    ]
    problem = Problem(sides, [*free, *carried(scenario, [one.target.place for one in free])])
    start = np.concatenate([np.ones(len(problem.parameters)), delays / problem.steps])
    optimum = problem.solved(start, close=CLOSE)
    squares = rest_of(problem, optimum).squares
    return Tried(
        suspects=tuple(suspects),
        problem=problem,
        optimum=optimum,
        evidence=_evidence(problem, optimum, squares, suspects),
        squares=squares,
    )


def likelihood(side: Side, squares: float) -> tuple[float, float]:
    """Logarithm for noise of which blank stretches say how large it is, and its weight beside that
    of noise that is known (Student's distribution)."""
    points = side.size - side.level.shape[0] - 2
    known = side.bench.noise.points or FEW_BLANKS
    return (
        -(points + known) / 2 * float(np.log1p(squares / known)),
        (points + known) / (squares + known),
    )


def _evidence(
    problem: Problem, optimum: Optimum, squares: Sequence[float], suspects: Sequence[Suspect]
) -> float:
    """Laplace: the likelihood at the optimum, and by how much it narrows what was known before.

    A fault is expected to change the variance by ``EXPECTED``, and not its number by some factor:
    so a bore and a volume compete on one footing.
    """
    count, logarithm = len(problem.parameters), 0.0
    rows, at = list[FloatArray](), 0
    for side, one in zip(problem.sides, squares, strict=True):
        value, weight = likelihood(side, one)
        logarithm += value
        rows.append(np.sqrt(weight) * optimum.jacobian[at : at + side.size])
        at += side.size
    known = optimum.jacobian[at:]
    logarithm -= 0.5 * float(np.sum(np.square(optimum.left[at:])))
    scale = np.ones(optimum.values.size)
    for k, free in enumerate(problem.parameters[:count]):
        if free.prior is not None:
            scale[k] = free.prior[1] / problem.sizes[k]
    before = np.zeros(optimum.values.size)
    for k, suspect in enumerate(suspects):
        at_fault = float(optimum.values[k] * problem.sizes[k])
        slope = abs(suspect.reach.slope(at_fault)) * problem.sizes[k]
        scale[k] = EXPECTED / max(slope, 1e-12)
        before[k] = 1.0
        logarithm -= 0.5 * (suspect.reach.at(at_fault) / EXPECTED) ** 2
    whole = np.concatenate([*rows, known]) * scale
    _, size = np.linalg.slogdet(whole.T @ whole + np.diag(before))
    return logarithm + float(np.log(np.diag(problem.apart)).sum()) - 0.5 * float(size)


def elsewhere(first: Tried) -> float:
    """Logarithm of the evidence for something else: that of the first hypothesis, with a variance,
    a third and a fourth cumulant of its own added to each measurement, to first order."""
    count, logarithm = len(first.problem.parameters), first.evidence
    where = first.problem.where
    values = (first.optimum.values[:count] * first.problem.sizes).tolist()
    for side, delay, squares in zip(first.problem.sides, first.delays, first.squares, strict=True):
        band = side.bench.signals(where, [values])
        rows, step = [band.values[0]], float(band.step[0])
        for _ in range(4):
            rows.append(np.gradient(rows[-1], step))
        weights = rows[0] / rows[0].sum()
        places = step * np.arange(weights.size)
        width = np.sqrt(weights @ np.square(places - weights @ places))
        bent = np.stack(
            [width**k / size * rows[k] for k, size in ((1, 1), (2, 2), (3, 6), (4, 24))]
        )
        lanes = replace(band, values=bent, start=band.start.repeat(4), step=band.step.repeat(4))
        shapes = side.white(sample(lanes, (side.times - delay)[None].repeat(4, axis=0)))
        fixed = np.linalg.qr(
            np.stack(
                [side.white(sample(band, (side.times - delay)[None]))[0], shapes[0], *side.level]
            ).T
        )[0]
        open_ = EXPECTED * side.area(band, float(delay)) * shapes[1:]
        open_ = open_ - (open_ @ fixed) @ fixed.T
        whole, along = np.eye(3) + open_ @ open_.T, open_ @ side.left(band, float(delay))
        gained = float(along @ np.linalg.solve(whole, along))
        logarithm += likelihood(side, squares - gained)[0] - likelihood(side, squares)[0]
        logarithm -= 0.5 * float(np.linalg.slogdet(whole)[1])
    return logarithm
