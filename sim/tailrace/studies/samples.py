"""Samples of the uncertain inputs: random numbers as scores, and the journeys that follow.

A sample is kept as standard normal scores, one an input, and not as values: so the same one can be
laid upon a scenario that has been changed, or at a wider tolerance, and differences between the two
are not drowned in chance (common random numbers).
"""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from tailrace.scenario.inputs import correlation_of, inputs_of
from tailrace.scenario.target import StudyError
from tailrace.studies.axes import Axis, cases_of
from tailrace.studies.overlay import number_at, place_of, where_is, with_numbers
from tailrace.studies.points import scores_of, uniform_points

FAR = 5.0
"""Scores at which every input is checked beforehand; one in two million samples lies outside."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Samples:
    """Samples of the uncertain inputs of a scenario. Made by ``sampled``.

    Parameters
    ----------
    inputs : tuple of Input
    where : tuple of tuple
        Of each input its table, the name of its part or solute (empty for neither), and its key.
    scores : (samples, inputs) array, 1
        Standard normal, correlated as the scenario says.
    scales : (inputs,) array, 1
        How many times as wide as stated each input is spread; 0 leaves it at its value.
    correlation : (inputs, inputs) array, 1
        Of the scores.
    seed : int
    generator : str
        One of ``tailrace.studies.points.GENERATORS``.
    fixed : tuple of (int, array)
        Positions of inputs that are set and not drawn, and their values, (samples,) array each, in
        SI units of the fields.
    """

    inputs: tuple
    where: tuple
    scores: np.ndarray
    scales: np.ndarray
    correlation: np.ndarray
    seed: int
    generator: str = "random"
    fixed: tuple = ()

    def __len__(self) -> int:
        """Number of samples."""
        return len(self.scores)

    @property
    def independent(self) -> bool:
        """Whether the samples know nothing of each other."""
        return self.generator == "random"

    @property
    def names(self) -> tuple[str, ...]:
        """Of the inputs: ``inlet tube.bore``."""
        return tuple(one.name for one in self.inputs)

    @property
    def units(self) -> tuple[str, ...]:
        """SI units of the inputs; "1" of plain numbers."""
        return tuple(one.unit for one in self.inputs)

    @property
    def quantities(self) -> tuple[str, ...]:
        """Kinds of quantity of the inputs; empty for plain numbers."""
        return tuple(one.quantity for one in self.inputs)

    @property
    def kinds(self) -> tuple[str, ...]:
        """``tolerance`` or ``measurement``, of each input."""
        return tuple(one.kind for one in self.inputs)

    @property
    def because(self) -> tuple[str, ...]:
        """Where the spread of each input is from."""
        return tuple(one.because for one in self.inputs)

    @property
    def sentences(self) -> tuple[str, ...]:
        """Each input's distribution in words, at its scale."""
        return tuple(
            one.sentence(scale) for one, scale in zip(self.inputs, self.scales, strict=True)
        )

    @property
    def cuts(self) -> tuple[str, ...]:
        """One sentence for each input of which physics cuts something off, at its scale."""
        told = (one.told_cut(scale) for one, scale in zip(self.inputs, self.scales, strict=True))
        return tuple(sentence for sentence in told if sentence)

    @cached_property
    def groups(self) -> tuple[tuple[int, ...], ...]:
        """Positions of the inputs that hang together by correlation; alone where by none."""
        from scipy.sparse.csgraph import connected_components

        _, label = connected_components(self.correlation != 0, directed=False)
        return tuple(
            tuple(np.flatnonzero(label == one).tolist()) for one in dict.fromkeys(label.tolist())
        )

    def scaled(self, scales) -> "Samples":
        """The same samples of inputs that are spread more or less than stated.

        Parameters
        ----------
        scales : (inputs,) array, 1
            Over the stated spread.
        """
        return replace(self, scales=np.asarray(scales, dtype=float))

    def again(self, count, stream, seed=None) -> "Samples":
        """Other samples of the same inputs: independent, and independent of these.

        Parameters
        ----------
        count, stream : int
            A stream of its own for each purpose; 0 is that of the study's own samples.
        seed : int, optional
            The same if it is left out.
        """
        seed = self.seed if seed is None else seed
        points = uniform_points(count, len(self.inputs), seed, stream=stream)
        scores = scores_of(points, self.correlation)
        return replace(self, scores=scores, seed=seed, generator="random")

    def with_scores(self, scores, generator) -> "Samples":
        """Samples of the same inputs with scores that were made elsewhere.

        Parameters
        ----------
        scores : (samples, inputs) array, 1
        generator : str
        """
        return replace(self, scores=scores, generator=generator)

    def part(self, rows) -> "Samples":
        """Some of the samples.

        Parameters
        ----------
        rows : slice or (rows,) array of int, 1
        """
        return replace(self, scores=self.scores[rows])

    def values(self, scenario=None) -> np.ndarray:
        """Values of the inputs.

        Parameters
        ----------
        scenario : Scenario, optional
            Another one: its values, with the same deviations about them.

        Returns
        -------
        (samples, inputs) array, SI units of the fields
            NaN where the other scenario has no such field.
        """
        columns, fixed = [], dict(self.fixed)
        for index, one in enumerate(self.inputs):
            nominal = one.nominal
            if scenario is not None:
                nominal = number_at(scenario.document, self.where[index])
            if index in fixed:
                columns.append(np.asarray(fixed[index], dtype=float))
            elif nominal is None:
                columns.append(np.full(len(self), np.nan))
            else:
                columns.append(one.values(self.scores[:, index], nominal, self.scales[index]))
        return np.array(columns).reshape(len(self.inputs), len(self)).T

    def itineraries(self, scenario) -> tuple:
        """The journey of every sample.

        Parameters
        ----------
        scenario : Scenario
            The one that the samples are of, or a changed one: fields that it lacks are passed over.

        Returns
        -------
        tuple of Itinerary
            The very numbers that checking each sample as a file of its own would give; checked are
            only the ends of each input, by ``check``.
        """
        values = self.values(scenario)
        present = np.flatnonzero(~np.isnan(values).all(axis=0)) if len(self) else []
        places = [place_of(scenario.document, self.where[index]) for index in present]
        return tuple(
            replace(
                scenario, document=with_numbers(scenario.document, places, row[present].tolist())
            ).itinerary()
            for row in values
        )

    def check(self, scenario) -> None:
        """Check the far ends of every input as strictly as a file.

        Parameters
        ----------
        scenario : Scenario
            The one that the samples are of.

        Raises
        ------
        ScenarioError
            With the value, and what is wrong with the scenario there.
        """
        for one, scale in zip(self.inputs, self.scales, strict=True):
            if scale > 0:
                ends = one.values(np.array([-FAR, FAR]), scale=scale)
                axis = as_axis(one, np.unique(ends))
                for _ in cases_of(scenario, (axis,)):
                    pass


def sampled(scenario, count, seed, generator="random", stream=0) -> Samples:
    """Draw the uncertain inputs of a scenario.

    Parameters
    ----------
    scenario : Scenario
    count : int
        The first of more samples are the same, but for the Latin hypercube.
    seed : int
    generator : str
        One of ``tailrace.studies.points.GENERATORS``. ``random`` is PCG64.
    stream : int
        Samples of another stream of the same seed are independent of these.

    Returns
    -------
    Samples

    Raises
    ------
    StudyError
        Without ``[[uncertain]]``; an unknown generator; a number of Sobol' points that is not a
        power of 2.
    """
    inputs = inputs_of(scenario)
    if not inputs:
        raise StudyError(
            f"{scenario.path}: expected what is uncertain, found no [[uncertain]]; add "
            'field = "method.flow", distribution = "normal" and relative = 0.01 below [[uncertain]]'
        )
    correlation = correlation_of(scenario, inputs)
    points = uniform_points(count, len(inputs), seed, generator, stream)
    return Samples(
        inputs=inputs,
        where=tuple(where_is(scenario.document, one.target.place) for one in inputs),
        scores=scores_of(points, correlation),
        scales=np.ones(len(inputs)),
        correlation=correlation,
        seed=seed,
        generator=generator,
    )


def as_axis(one, values) -> Axis:
    """An input as the axis of a sweep.

    Parameters
    ----------
    one : Input
    values : (points,) array, SI unit of the field

    Returns
    -------
    Axis
    """
    # The shortest digits that give this very float are read back as the same float.
    written = tuple(f"{value!r} {one.unit}" if one.quantity else value for value in values.tolist())
    return Axis(target=one.target, values=values, unit=one.unit, written=written)
