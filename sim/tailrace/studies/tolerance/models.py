"""What turns samples into figures: journeys, or any function that takes many samples at once."""

import copy
from dataclasses import dataclass, field

import numpy as np

from tailrace.errors import AccuracyError
from tailrace.studies.journeys import ALIKE_LANES, Journeys, figures_of_all
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


@dataclass(frozen=True, kw_only=True)
class Batch:
    """Journeys that are made and kept together.

    Parameters
    ----------
    name : str
        Will do for the name of a file.
    journeys : Journeys
    question : dict
        What must not change while the batch waits.
    """

    name: str
    journeys: Journeys
    question: dict


class JourneyModel:
    """Full simulated journeys, every sample one.

    Parameters
    ----------
    scenario : Scenario
    criteria : tuple of Criterion
        Whose figures are read.
    question : dict
        Of the whole study.
    kept : callable, optional
        ``kept(batch)`` gives an object that keeps blocks; see
        ``tailrace.studies.journeys.figures_of_all``.
    progress : callable, optional
        Called as ``progress(done, total)`` with numbers of cases over all batches so far.
    carry : callable, optional
        See ``tailrace.studies.journeys.figures_of_all``.
    """

    def __init__(self, scenario, criteria, question, kept=None, progress=None, carry=None):
        self.scenario, self.criteria = scenario, criteria
        self._question, self._kept = question, kept
        self._progress, self._carry = progress, carry
        self._alter = None
        self._done = [0]

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
        journeys = Journeys(itineraries, ALIKE_LANES)
        question = {**self._question, "batch": name, "fingerprint": journeys.fingerprint}
        batch = Batch(name=name, journeys=journeys, question=question)
        kept = None if self._kept is None else self._kept(batch)
        figures = figures_of_all(
            journeys, lambda case: where(samples, case), kept, self._told, self._carry
        )
        self._done[0] += len(itineraries)
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

    def _told(self, done, total):
        if self._progress is not None:
            self._progress(self._done[0] + done, self._done[0] + total)


def where(samples, case) -> str:
    """A sample in words: ``sample 17 (tube.bore = 0.121 mm, …)``."""
    values = samples.part(slice(case, case + 1)).values()[0]
    told = (
        f"{one.name} = {one.shown(value)}"
        for one, value in zip(samples.inputs, values, strict=True)
    )
    return f"sample {case + 1} ({', '.join(told)})"
