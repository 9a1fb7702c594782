"""What a tolerance study is asked, checked before anything is computed."""

from dataclasses import dataclass

from tailrace.errors import BudgetError
from tailrace.scenario.criteria import criteria_of
from tailrace.scenario.problems import unknown
from tailrace.scenario.target import StudyError
from tailrace.studies.samples import Samples, sampled
from tailrace.studies.tolerance.adaptive import BATCH, LEAST_BATCHES, MOST_SAMPLES
from tailrace.studies.tolerance.measuring import followed
from tailrace.studies.tolerance.statistics import least_samples

LEAST_SAMPLES, USUAL_SAMPLES = 10, 10_000
MOST_BASE = 1 << 14
MOST_TRIED = 10_000
"""Samples at one width, or at one place of a map."""


@dataclass(frozen=True, kw_only=True)
class Plan:
    """A tolerance study that has not been made yet. Made by ``plan``.

    Parameters
    ----------
    scenario : Scenario
    criteria : tuple of Criterion
        Those of ``[[accept]]``; without any, figures that are followed without limits.
    inputs : Samples
        Of the uncertain inputs; one sample, whose scores are not used.
    samples : int
        With ``digits`` the greatest number.
    digits : int or None
        Significant digits of the standard uncertainty at which drawing stops.
    seed : int
    generator : str
    indices : int
        Rows of each sample for Sobol' indices; 0: none.
    widen : tuple of int
        Positions of the inputs whose widest tolerance is looked for.
    shared : tuple of int
        Positions of the inputs that are widened all at once; empty: none.
    maps : tuple of (int, int)
        Pairs of inputs.
    """

    scenario: object
    criteria: tuple
    inputs: Samples
    samples: int
    digits: int | None
    seed: int
    generator: str
    indices: int
    widen: tuple[int, ...]
    shared: tuple[int, ...]
    maps: tuple[tuple[int, int], ...]

    @property
    def limited(self) -> tuple:
        """The criteria that have a limit."""
        return tuple(one for one in self.criteria if one.limited)

    @property
    def together(self) -> bool:
        """Whether several inputs are widened at once."""
        return bool(self.shared)

    @property
    def question(self) -> dict:
        """What must not change while the study waits, in the order in which it is looked at."""
        return {
            "scenario_sha256": self.scenario.sha256,
            "samples": self.samples,
            "digits": self.digits,
            "seed": self.seed,
            "generator": self.generator,
            "indices": self.indices,
            "widen": self._names(self.widen),
            "together": self.together,
            "maps": [self._names(pair) for pair in self.maps],
        }

    def _names(self, places):
        return [self.inputs.names[place] for place in places]


def plan(
    scenario,
    samples=USUAL_SAMPLES,
    digits=None,
    seed=1,
    generator="random",
    indices=0,
    widen=(),
    together=False,
    maps=(),
) -> Plan:
    """Plan a tolerance study.

    Parameters
    ----------
    scenario : Scenario
    samples, seed : int
    digits : int, optional
        1 or 2: draw until so many digits of all standard uncertainties stand (JCGM 101, 7.9), at
        most ``samples`` (100,000 where these are the usual 10,000).
    generator : str of ``tailrace.studies.points.GENERATORS``
    indices : int
        Rows of each sample for Sobol' indices, a power of 2; 0: none.
    widen : sequence of str
        Fields whose widest tolerance is looked for; ``("all",)`` for every one.
    together : bool
        Widen these all at once, too; all inputs where fewer than two are named.
    maps : sequence of two str

    Raises
    ------
    StudyError, BudgetError, ScenarioError
        For what cannot be asked, and for an input whose far ends are no sound scenario.
    """
    _check_numbers(samples, digits, seed, generator, indices)
    inputs = _inputs(scenario, samples, seed, generator)
    chosen = _chosen(inputs, widen)
    return Plan(
        scenario=scenario,
        criteria=_criteria(scenario, bool(chosen or together or maps)),
        inputs=inputs,
        samples=MOST_SAMPLES if digits is not None and samples == USUAL_SAMPLES else samples,
        digits=digits,
        seed=seed,
        generator=generator,
        indices=indices,
        widen=chosen,
        shared=_shared(inputs, chosen) if together else (),
        maps=tuple(_pair(inputs, names) for names in maps),
    )


def _inputs(scenario, samples, seed, generator):
    """One sample of the inputs, whose far ends are sound."""
    inputs = sampled(scenario, 1, seed)
    if generator != "random":
        sampled(scenario, samples if generator == "sobol" else 1, seed, generator)
    inputs.check(scenario)
    return inputs


def _criteria(scenario, needed):
    criteria = criteria_of(scenario)
    if needed and not criteria:
        raise StudyError(
            f"{scenario.path}: expected what must be kept, found no [[accept]]; add "
            'measure = "plates" and at_least = 10000 below [[accept]]'
        )
    for one in criteria if needed else ():
        tried = least_samples(one.probability, one.confidence, 2)
        if tried > MOST_TRIED:
            raise BudgetError(
                f"{scenario.path}: {one.name}: expected a probability and confidence that at most "
                f"{MOST_TRIED} samples can show, at every width or place that is looked at, found "
                f"{one.probability:.10g} with {one.confidence:.10g}, which take {tried}; ask for "
                "less, or leave out --widen, --together and --map"
            )
    return followed(scenario, criteria)


def _shared(inputs, chosen):
    return chosen if len(chosen) > 1 else tuple(range(len(inputs.inputs)))


def _chosen(inputs, widen):
    names = inputs.names if tuple(widen) == ("all",) else tuple(widen)
    return tuple(_position(inputs, name) for name in names)


def _check_numbers(samples, digits, seed, generator, indices):
    if samples < LEAST_SAMPLES:
        raise StudyError(f"expected at least {LEAST_SAMPLES} samples, found {samples}; take more")
    if samples > MOST_SAMPLES:
        raise BudgetError(f"expected at most {MOST_SAMPLES} samples, found {samples}; take fewer")
    if seed < 0:
        raise StudyError(f"expected a seed of 0 or more, found {seed}; take another")
    if digits is not None and digits not in (1, 2):
        raise StudyError(f"expected 1 or 2 digits, found {digits}; take one of these")
    if digits is not None and generator != "random":
        raise StudyError(
            f"expected the generator random where drawing stops by itself, found {generator}; "
            "batches of other generators do not tell how far they are off"
        )
    if digits is not None and samples < LEAST_BATCHES * BATCH:
        raise StudyError(
            f"expected at least {LEAST_BATCHES * BATCH} samples to be allowed where drawing stops "
            f"by itself, found {samples}; allow more"
        )
    if indices and (indices < 2 or indices & (indices - 1) or indices > MOST_BASE):
        raise StudyError(
            f"expected a power of 2 up to {MOST_BASE} rows for the indices, found {indices}; "
            "take 256 or 512"
        )


def _position(inputs, name):
    if name in inputs.names:
        return inputs.names.index(name)
    plain = [_unquoted(one) for one in inputs.names]
    if _unquoted(name) not in plain:
        raise StudyError(f"{unknown('uncertain field', name.strip(), inputs.names)}")
    return plain.index(_unquoted(name))


def _unquoted(name):
    return name.replace('"', "").replace("'", "").strip()


def _pair(inputs, names):
    pair = tuple(_position(inputs, name) for name in names)
    if len(pair) != 2 or pair[0] == pair[1]:
        raise StudyError(
            f"expected two uncertain fields that differ for a map, found {' and '.join(names)}; "
            "name two"
        )
    return pair
