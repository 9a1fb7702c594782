"""Samples of the uncertain inputs: random numbers as scores, and the journeys that follow.

A sample is kept as standard normal scores, one an input, and not as values: so the same one can be
laid upon a scenario that has been changed, or at a wider tolerance, and differences between the two
are not drowned in chance (common random numbers).
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from tailrace.journey.itinerary import Itinerary
from tailrace.quantities.arrays import FloatArray, IntArray
from tailrace.scenario.inputs import Input, correlation_of, inputs_of
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.target import StudyError, Where, number_at, place_of, where_is, with_numbers
from tailrace.studies.axes import Axis, cases_of
from tailrace.studies.cases import Build, Known, followed

GENERATORS = ("random", "sobol", "halton", "latin hypercube")
"""Only the first makes independent samples; the others (scipy.stats.qmc) fill space more evenly."""
MANY = 64
"""Samples, from which on their journeys are followed from few."""
FAR = 5.0
"""Scores at which every input is checked beforehand; one in two million samples lies outside."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Samples:
    """Samples of the uncertain inputs of a scenario. Made by ``sampled``.

    Parameters
    ----------
    inputs : tuple of Input
    where : tuple of Where
        Of each input its table, the name of its part or solute (empty for neither), and its key.
    scores : (samples, inputs) array, 1
        Standard normal, correlated as the scenario says.
    scales : (inputs,) array, 1
        How many times as wide as stated each input is spread; 0 leaves it at its value.
    correlation : (inputs, inputs) array, 1
        Of the scores.
    generator : str
        One of ``GENERATORS``.
    fixed : tuple of (int, array)
        Positions of inputs that are set and not drawn, and their values, (samples,) array each, in
        SI units of the fields.
    """

    inputs: tuple[Input, ...]
    where: tuple[Where, ...]
    scores: FloatArray
    scales: FloatArray
    correlation: FloatArray
    seed: int
    generator: str = "random"
    fixed: tuple[tuple[int, FloatArray], ...] = ()

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
    def kinds(self) -> tuple[str, ...]:
        """``tolerance`` or ``knowledge``, of each input."""
        return tuple(one.kind for one in self.inputs)

    @cached_property
    def groups(self) -> tuple[tuple[int, ...], ...]:
        """Positions of the inputs that hang together by correlation; alone where by none."""
        beside = (self.correlation != 0) | np.eye(len(self.inputs), dtype=bool)
        together = np.linalg.matrix_power(beside, len(self.inputs))
        return tuple(dict.fromkeys(tuple(np.flatnonzero(row).tolist()) for row in together))

    def scaled(self, scales: FloatArray) -> "Samples":
        """The same samples of inputs these times as wide as stated, (inputs,) array, 1."""
        return replace(self, scales=np.asarray(scales, dtype=float))

    def again(self, count: int, stream: int, seed: int | None = None) -> "Samples":
        """Other samples of the same inputs: independent, and independent of these.

        Each purpose has a stream of its own; 0 is that of the study's own samples.
        """
        seed = self.seed if seed is None else seed
        points = uniform_points(count, len(self.inputs), seed, stream=stream)
        scores = scores_of(points, self.correlation)
        return replace(self, scores=scores, seed=seed, generator="random")

    def with_scores(self, scores: FloatArray, generator: str) -> "Samples":
        """Samples of the same inputs with scores, (samples, inputs) array, 1, made elsewhere."""
        return replace(self, scores=scores, generator=generator)

    def further(self, one: Input, where: Where, by: FloatArray) -> "Samples":
        """The samples with one field further by so much, (samples,) array, SI unit of the field.

        ``one``, ``where``: the field, which need not be among the inputs; its distribution does not
        count. Values end at its bounds.
        """
        samples, places = self, [row.target.place for row in self.inputs]
        if one.target.place not in places:
            count, at = len(self), len(places)
            correlation = np.eye(at + 1)
            correlation[:at, :at] = self.correlation
            samples = replace(
                self,
                inputs=(*self.inputs, one),
                where=(*self.where, where),
                scores=np.hstack([self.scores, np.zeros((count, 1))]),
                scales=np.append(self.scales, 0.0),
                correlation=correlation,
            )
            places.append(one.target.place)
        at = places.index(one.target.place)
        values = np.clip(samples.values()[:, at] + by, *one.target.bounds)
        return replace(samples, fixed=(*samples.fixed, (at, values)))

    def part(self, rows: slice | IntArray) -> "Samples":
        """Some of the samples."""
        fixed = tuple((at, np.asarray(values)[rows]) for at, values in self.fixed)
        return replace(self, scores=self.scores[rows], fixed=fixed)

    def values(self, scenario: Scenario | None = None) -> FloatArray:
        """Values of the inputs.

        ``scenario``: another one: its values, with the same deviations about them.

        Returns
        -------
        (samples, inputs) array, SI units of the fields
            NaN where the other scenario has no such field.
        """
        columns, fixed = [], dict(self.fixed)
        for index, one in enumerate(self.inputs):
            nominal: float | None = one.nominal
            if scenario is not None:
                nominal = number_at(scenario.document, self.where[index])
            if index in fixed:
                columns.append(np.asarray(fixed[index], dtype=float))
            elif nominal is None:
                columns.append(np.full(len(self), np.nan))
            else:
                columns.append(one.values(self.scores[:, index], nominal, self.scales[index]))
        return np.array(columns).reshape(len(self.inputs), len(self)).T

    def itineraries(self, scenario: Scenario, known: Known | None = None) -> Sequence[Itinerary]:
        """The journey of every sample.

        ``scenario``: the one that the samples are of, or a changed one: fields that it lacks are
        passed over. The numbers that checking each sample as a file of its own would give; checked
        are only the ends of each input, by ``check``. Where there are many they are followed from
        few (``cases.py``); ``known`` is what was found of these inputs and this scenario before.
        """
        values = self.values(scenario)
        present = np.flatnonzero(~np.isnan(values).all(axis=0) & (len(self) > 0))
        built = self.build(scenario, present)
        now = [number_at(scenario.document, self.where[index]) for index in present]
        if len(self) >= MANY and None not in now:
            many = followed(built, np.array(now, dtype=float), values[:, present], known)
            if many is not None:
                return many
        return tuple(built(row) for row in values[:, present])

    def build(self, scenario: Scenario, inputs: Sequence[int] | IntArray) -> Build:
        """What makes the journey of a scenario with other values of some inputs, by position."""
        found = [place_of(scenario.document, self.where[index]) for index in inputs]
        places = [place for place in found if place is not None]

        def built(row: FloatArray) -> Itinerary:
            document = with_numbers(scenario.document, places, row.tolist())
            return replace(scenario, document=document).itinerary()

        return built

    def check(self, scenario: Scenario) -> None:
        """Check the far ends of every input as strictly as a file.

        Raises ScenarioError with the value, and what is wrong with the scenario there.
        """
        for one, scale in zip(self.inputs, self.scales, strict=True):
            if scale > 0:
                ends = one.values(np.array([-FAR, FAR]), scale=scale)
                for _ in cases_of(scenario, (as_axis(one, np.unique(ends)),)):
                    pass


def sampled(
    scenario: Scenario, count: int, seed: int, generator: str = "random", stream: int = 0
) -> Samples:
    """Draw samples of the uncertain inputs of a scenario.

    Raises StudyError without ``[[uncertain]]``; an unknown generator; a number of Sobol' points
    that is not a power of 2.

    Parameters
    ----------
    count : int
        The first of more samples are the same, but for the Latin hypercube.
    generator : str
        One of ``GENERATORS``. ``random`` is PCG64.
    stream : int
        Samples of another stream of the same seed are independent of these.
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


def as_axis(one: Input, values: FloatArray) -> Axis:
    """An input as the axis of a sweep over (points,) values, SI unit of the field."""
    # The shortest digits that give this very float are read back as the same float.
    written: Sequence[object] = [
        f"{value!r} {one.unit}" if one.quantity else value for value in values.tolist()
    ]
    return Axis(target=one.target, values=values, unit=one.unit, written=tuple(written))


def uniform_points(
    count: int, dimensions: int, seed: int, generator: str = "random", stream: int = 0
) -> FloatArray:
    """Random or quasi-random points in the unit cube, (count, dimensions) array, 1."""
    random = np.random.Generator(
        np.random.PCG64(np.random.SeedSequence(entropy=seed, spawn_key=(stream,)))
    )
    if generator == "random":
        return random.random((count, dimensions))
    if generator not in GENERATORS:
        raise StudyError(f"expected a generator of {', '.join(GENERATORS)}, found {generator}")
    from scipy.stats import qmc

    if generator == "sobol" and count & (count - 1):
        below = 1 << (count.bit_length() - 1)
        raise StudyError(
            f"expected a power of 2 with Sobol' points, found {count} samples; take {below} or "
            f"{2 * below}"
        )
    if generator == "sobol":
        return qmc.Sobol(dimensions, seed=random).random(count)
    if generator == "halton":
        return qmc.Halton(dimensions, seed=random).random(count)
    return qmc.LatinHypercube(dimensions, seed=random).random(count)


def scores_of(points: FloatArray, correlation: FloatArray) -> FloatArray:
    """Correlated standard normal scores of points in the unit cube.

    Parameters
    ----------
    points : (samples, inputs) array, 1
    correlation : (inputs, inputs) array, 1

    Returns
    -------
    (samples, inputs) array, 1
        Of a Gaussian copula with this correlation.
    """
    from scipy.special import ndtri

    alone = ndtri(np.clip(points, 2.0**-54, 1 - 2.0**-53))
    return np.asarray(alone @ np.linalg.cholesky(correlation).T)
