"""Inputs and samples without a scenario, to try methods on functions whose answer is known."""

import numpy as np

from tailrace.scenario.criteria import Criterion
from tailrace.scenario.distribution import Distribution
from tailrace.scenario.inputs import Input
from tailrace.scenario.target import Target
from tailrace.studies.samples import Samples, scores_of, uniform_points


def plain_input(name, nominal, distribution, kind="tolerance"):
    """An uncertain plain number."""
    target = Target(name=name, place=("method", name), kind="number")
    return Input(target=target, nominal=nominal, distribution=distribution, kind=kind)


def normal(name, nominal, deviation, kind="tolerance"):
    """A normal input."""
    return plain_input(name, nominal, Distribution(word="normal", deviation=deviation), kind)


def uniform(name, nominal, half_width, kind="tolerance"):
    """A rectangular input."""
    shape = Distribution(word="uniform", low=-half_width, high=half_width)
    return plain_input(name, nominal, shape, kind)


def samples_of(inputs, count, seed, generator="random", correlation=None):
    """Samples of inputs that belong to no scenario."""
    correlation = np.eye(len(inputs)) if correlation is None else np.asarray(correlation)
    points = uniform_points(count, len(inputs), seed, generator)
    return Samples(
        inputs=tuple(inputs),
        where=tuple(("method", "", one.name) for one in inputs),
        scores=scores_of(points, correlation),
        scales=np.ones(len(inputs)),
        correlation=correlation,
        seed=seed,
        generator=generator,
    )


def limit(at_least=float("nan"), at_most=float("nan"), **asked):
    """A criterion on a figure of the run."""
    return Criterion(measure="pressure", at_least=at_least, at_most=at_most, **asked)
