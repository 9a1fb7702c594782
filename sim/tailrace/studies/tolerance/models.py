"""What turns samples into figures: journeys, or any function that takes many samples at once."""

import copy
from dataclasses import dataclass, field

import numpy as np

from tailrace.errors import AccuracyError
from tailrace.studies.batch import ALIKE_LANES, Batch
from tailrace.studies.tolerance.measuring import measured


@dataclass(frozen=True, kw_only=True)
class Answer:
    """Figures of samples.

    Parameters
    ----------
    values, errors : (outcomes, samples) array, SI units of the figures
        Each figure and its discretisation error; NaN where there is none.
    figures : dict of str to array
        All that journeys say; empty of a function.
    """

    values: np.ndarray
    errors: np.ndarray
    figures: dict = field(default_factory=dict)


class FunctionModel:
    """A function in place of journeys: for closed forms and for trying a method out.

    Parameters
    ----------
    function : callable
        ``function(values)``: (samples, inputs) array in, (samples, outcomes) array out.
    """

    def __init__(self, function):
        self._function = function

    def __call__(self, samples, name) -> Answer:
        """Figures of ``samples``; ``name`` is not read."""
        values = np.asarray(self._function(samples.values()), dtype=float).T
        return Answer(values=values, errors=np.zeros_like(values))


class JourneyModel:
    """Full simulated journeys, every sample one.

    Parameters
    ----------
    scenario : Scenario
    criteria : tuple of Criterion
        Whose figures are read.
    runner : Runner
    """

    def __init__(self, scenario, criteria, runner):
        self.scenario, self.criteria = scenario, criteria
        self._runner = runner
        self._alter = None

    def altered(self, criteria, alter) -> "JourneyModel":
        """The same study with other journeys, on the same count of progress.

        Parameters
        ----------
        criteria : tuple of Criterion
        alter : callable
            Itinerary in, Itinerary out.
        """
        other = copy.copy(self)
        other.criteria, other._alter = criteria, alter
        return other

    def __call__(self, samples, name) -> Answer:
        """Travel every sample.

        Parameters
        ----------
        samples : Samples
        name : str
            Of the batch; one of its own in the study.

        Returns
        -------
        Answer

        Raises
        ------
        AccuracyError
            Where no sample can be computed.
        """
        itineraries = samples.itineraries(self.scenario)
        if self._alter is not None:
            itineraries = tuple(map(self._alter, itineraries))
        batch = Batch(name, itineraries, lambda case: where(samples, case), ALIKE_LANES)
        figures = self._runner.run(batch)
        pairs = [measured(one, figures) for one in self.criteria]
        values, errors = (np.array(side) for side in zip(*pairs, strict=True))
        nothing = [
            one.name for one, row in zip(self.criteria, values, strict=True) if np.isnan(row).all()
        ]
        if nothing:
            raise AccuracyError(
                f"no sample has a figure for {', '.join(nothing)}; see with `tailrace run` what "
                "the scenario lacks for it, or ask for another measure"
            )
        return Answer(values=values, errors=errors, figures=figures)


def where(samples, case) -> str:
    """A sample in words: ``sample 17 (tube.bore = 0.121 mm, …)``."""
    values = samples.part(slice(case, case + 1)).values()[0]
    told = (
        f"{one.name} = {one.shown(value)}"
        for one, value in zip(samples.inputs, values, strict=True)
    )
    return f"sample {case + 1} ({', '.join(told)})"
