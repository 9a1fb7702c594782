"""A function in place of journeys: for closed forms, and for trying a method out."""

import numpy as np

from tailrace.studies.tolerance.models import Answer


class FunctionModel:
    """``function(values)``: (samples, inputs) array in, (samples, outcomes) array out."""

    def __init__(self, function):
        self._function = function

    def __call__(self, samples, name):
        values = np.asarray(self._function(samples.values()), dtype=float).T
        return Answer(values=values, errors=np.zeros_like(values))

    def check(self, samples):
        """Nothing: a function has no parts."""
