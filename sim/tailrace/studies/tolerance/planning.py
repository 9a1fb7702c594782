"""What a tolerance study is asked, checked before anything is computed."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from tailrace.errors import BudgetError
from tailrace.measures.registry import METRICS, TAILING, WIDTH
from tailrace.scenario.assumptions import unfollowed
from tailrace.scenario.criteria import Criterion, criteria_of
from tailrace.scenario.drift import drifts_of
from tailrace.scenario.problems import unknown
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.target import StudyError
from tailrace.studies.samples import Samples, sampled
from tailrace.studies.tolerance.drifting import check_drifts
from tailrace.studies.tolerance.judging import Demand
from tailrace.studies.tolerance.result import Question
from tailrace.studies.tolerance.series import moved, varying
from tailrace.studies.tolerance.statistics import (
    BATCH,
    LEAST_BATCHES,
    MOST_SAMPLES,
    MOST_WHERE_DIGITS_STOP,
    least_samples,
)

LEAST_SAMPLES, USUAL_SAMPLES = 10, 10_000
MOST_BASE = 1 << 14
MOST_TRIED = 10_000
"""Samples at one width, or at one place of a map."""


@dataclass(frozen=True, kw_only=True)
class Plan:
    """A tolerance study that has not been made yet. Made by ``plan``.

    Parameters
    ----------
    criteria : tuple of Criterion
        Those of ``[[accept]]``; without any, metrics that are followed without limits.
    inputs : Samples
        Of the uncertain inputs; one sample, whose scores are not used.
    widen, shared : tuple of int
        Positions of the inputs that are widened alone, and of those that are all at once.
    maps : tuple of (int, int)
        Pairs of inputs.
    """

    scenario: Scenario
    criteria: tuple[Criterion, ...]
    inputs: Samples
    asked: Question
    widen: tuple[int, ...]
    shared: tuple[int, ...]
    maps: tuple[tuple[int, int], ...]

    @property
    def limited(self) -> tuple[Criterion, ...]:
        """The criteria that have a limit."""
        return tuple(one for one in self.criteria if one.limited)

    @property
    def demand(self) -> Demand | None:
        """What every sample is held against: the greatest probability and confidence of all."""
        if not self.limited:
            return None
        return Demand(
            criteria=self.limited,
            required=max(one.probability for one in self.limited),
            confidence=max(one.confidence for one in self.limited),
            discrepancy=self.scenario.document.discrepancy.relative,
            seed=self.asked.seed,
        )

    @property
    def question(self) -> dict[str, Any]:
        """What must not change while the study waits, in the order in which it is looked at."""
        return asdict(self.asked)


def plan(
    scenario: Scenario,
    samples: int = USUAL_SAMPLES,
    digits: int | None = None,
    seed: int = 1,
    generator: str = "random",
    indices: int = 0,
    widen: Sequence[str] = (),
    together: bool = False,
    maps: Sequence[Sequence[str]] = (),
) -> Plan:
    """Plan a tolerance study; what the parameters mean stands in the fields of ``Question``.

    With ``digits`` at most ``samples`` are made (100,000 where these are the usual 10,000).
    ``widen`` may be ``("all",)``; ``together`` means all inputs where fewer than two are named.
    Raises StudyError, BudgetError or ScenarioError for what cannot be asked, and for an input whose
    far ends are no sound scenario.
    """
    _check_numbers(samples, digits, seed, generator, indices)
    inputs = _inputs(scenario, samples, seed, generator)
    fields = inputs.names if tuple(widen) == ("all",) else tuple(widen)
    chosen = tuple(_position(inputs, name) for name in fields)
    pairs = tuple(_pair(inputs, names) for names in maps)
    many = chosen if len(chosen) > 1 else tuple(range(len(inputs.inputs)))
    spread = {*chosen, *(many if together else ()), *(one for pair in pairs for one in pair)}
    criteria = _criteria(scenario, bool(chosen or together or maps))
    _check_followed(scenario, [inputs.names[one] for one in sorted(spread)])
    _check_more(scenario, inputs, criteria)
    asked = Question(
        scenario_sha256=scenario.sha256,
        samples=MOST_WHERE_DIGITS_STOP
        if digits is not None and samples == USUAL_SAMPLES
        else samples,
        digits=digits,
        seed=seed,
        generator=generator,
        indices=indices,
        widen=tuple(inputs.names[place] for place in chosen),
        together=together,
        maps=tuple((inputs.names[one], inputs.names[other]) for one, other in pairs),
    )
    return Plan(
        scenario=scenario,
        criteria=criteria,
        inputs=inputs,
        asked=asked,
        widen=chosen,
        shared=many if together else (),
        maps=pairs,
    )


def _check_more(scenario: Scenario, inputs: Samples, criteria: tuple[Criterion, ...]) -> None:
    """Check the far ends of drifts, and of what varies from one injection to the next."""
    check_drifts(scenario, drifts_of(scenario), scenario.document.retest)
    each = varying(scenario, criteria)
    for one in each:
        moved(inputs, scenario, one).check(scenario)
    _check_followed(scenario, [one.name for one in each])


def _inputs(scenario: Scenario, samples: int, seed: int, generator: str) -> Samples:
    """One sample of the inputs, whose far ends are sound."""
    inputs = sampled(scenario, 1, seed)
    if generator != "random":
        sampled(scenario, samples if generator == "sobol" else 1, seed, generator)
    inputs.check(scenario)
    return inputs


def _check_followed(scenario: Scenario, fields: Sequence[str]) -> None:
    """Refuse to say how far what the model does not follow may lie off."""
    for name in fields:
        lacking = unfollowed(scenario, name)
        if lacking:
            raise StudyError(
                f"{name}: expected retention that goes with temperature, found "
                f'{", ".join(lacking)} without; add retention_change = "-1.5 %/K" or '
                'retention_enthalpy = "-12 kJ/mol" as you know it, or do not ask how far this '
                "input may lie off"
            )


def _criteria(scenario: Scenario, needed: bool) -> tuple[Criterion, ...]:
    """The criteria; without any, metrics of every solute without limits."""
    criteria = criteria_of(scenario)
    if needed and not criteria:
        raise StudyError(
            f"{scenario.path}: expected what must hold, found no [[accept]]; add "
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
    if criteria:
        return criteria
    first = scenario.leading
    return tuple(
        Criterion(measure=metric.label, of=(lane,), label=one.name)
        for metric in (first, METRICS[TAILING], METRICS[WIDTH])
        for lane, one in enumerate(scenario.document.solutes)
    )


def _check_numbers(
    samples: int, digits: int | None, seed: int, generator: str, indices: int
) -> None:
    if samples < LEAST_SAMPLES:
        raise StudyError(f"expected at least {LEAST_SAMPLES} samples, found {samples}; take more")
    if samples > MOST_SAMPLES:
        raise BudgetError(
            f"expected at most {MOST_SAMPLES:.0f} samples, found {samples}; take fewer"
        )
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


def _position(inputs: Samples, name: str) -> int:
    if name in inputs.names:
        return inputs.names.index(name)
    plain = [_unquoted(one) for one in inputs.names]
    if _unquoted(name) not in plain:
        raise StudyError(f"{unknown('uncertain field', name.strip(), inputs.names)}")
    return plain.index(_unquoted(name))


def _unquoted(name: str) -> str:
    return name.replace('"', "").replace("'", "").strip()


def _pair(inputs: Samples, names: Sequence[str]) -> tuple[int, int]:
    pair = tuple(_position(inputs, name) for name in names)
    if len(pair) != 2 or pair[0] == pair[1]:
        raise StudyError(
            f"expected two uncertain fields that differ for a map, found {' and '.join(names)}; "
            "name two"
        )
    return pair[0], pair[1]
