"""Making a tolerance study: samples, what they say, and the questions that go on from there."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from tailrace.quantities.arrays import FloatArray
from tailrace.scenario.assumptions import unfollowed
from tailrace.scenario.criteria import Criterion
from tailrace.scenario.drift import drifts_of
from tailrace.scenario.scenario import Scenario
from tailrace.studies.runner import Runner
from tailrace.studies.samples import Samples, sampled
from tailrace.studies.tolerance.discrepancy import SIZES
from tailrace.studies.tolerance.drifting import MOMENTS, drifting
from tailrace.studies.tolerance.first_order import (
    STEP,
    WIDE_STEP,
    closed_forms,
    first_order,
    linear_of,
    steps_of,
)
from tailrace.studies.tolerance.judging import Demand, acceptance_of
from tailrace.studies.tolerance.models import Answer, JourneyModel
from tailrace.studies.tolerance.planning import Plan
from tailrace.studies.tolerance.population import population_of
from tailrace.studies.tolerance.qualification import checks_of
from tailrace.studies.tolerance.region import POINTS, region
from tailrace.studies.tolerance.result import (
    AtDiscrepancy,
    Drifting,
    Outcome,
    Stop,
    Tolerance,
    ToleranceLimits,
    UncertainInput,
    Varied,
    Widening,
)
from tailrace.studies.tolerance.sensitivity import sobol_indices
from tailrace.studies.tolerance.series import NO_BAND, varying
from tailrace.studies.tolerance.statistics import (
    BATCH,
    LEAST_BATCHES,
    least_samples,
    settled,
    spread_of,
    tolerance_limits,
)
from tailrace.studies.tolerance.widening import FRESH_TIMES, MOST_STEPS, questions, widened

BY_KIND = 1_000
"""Samples, at most, with the inputs of one kind alone, and of instruments that are inspected."""
WIDENING_SAMPLES = 500
"""Samples of the search for the widest tolerance; more where so few cannot show the demand."""


def answer(plan: Plan, runner: Runner | None = None) -> Tolerance:
    """Make a planned study.

    ``runner``: one on the threads of this machine if it is left out. Raises AccuracyError where no
    sample can be computed, or has a metric that is asked for.
    """
    runner = runner or Runner()
    model = JourneyModel(plan.scenario, plan.criteria, runner)
    readings = model.readings if plan.demand else ()
    nominal = model(_as_it_stands(plan.inputs), "nominal")
    samples, answered, stop = _sampled(plan, model)
    few = samples.part(slice(0, BY_KIND))
    kinds = _by_kind(few, model)
    demand = plan.demand
    linear = linear_of(model, samples)
    names, metrics = [one.name for one in plan.criteria], dict(answered.metrics)
    found = Tolerance(
        title=plan.scenario.title,
        question=plan.asked,
        solutes=tuple(one.name for one in plan.scenario.document.solutes),
        parts=tuple(part.name for part, _ in plan.scenario.itinerary().passages),
        part_kinds=tuple(part.kind for part, _ in plan.scenario.itinerary().passages),
        inputs=uncertain_inputs(samples, plan.scenario),
        varied=varied_inputs(model),
        computed=metrics.pop("computed"),
        warnings=metrics.pop("warnings"),
        metrics=metrics,
        outcomes=_outcomes(plan, samples, answered, nominal, kinds, linear),
        acceptance=None if demand is None else demand.acceptance(answered.values, answered.errors),
        stop=stop,
        indices=sobol_indices(model, samples, plan.asked.indices, names)
        if plan.asked.indices
        else None,
        widenings=_widenings(plan, model, samples, answered, demand),
        maps=tuple(
            region(model, samples, pair, demand, f"map-{number:02d}")
            for number, pair in enumerate(plan.maps if demand else ())
            if demand
        ),
        population=None
        if demand is None
        else population_of(model, samples, answered, demand, len(few)),
        discrepancy=plan.scenario.document.discrepancy.relative,
        discrepancies=_discrepancies(answered, demand),
        drifting=_drifting(plan, model, few, answered),
        checks=checks_of(model, few, answered, nominal, demand),
        readings=readings,
        source=plan.scenario,
    )
    return replace(found, engine=runner.computed)


def varied_inputs(model: JourneyModel) -> tuple[Varied, ...]:
    """What varies from one injection to the next, where a criterion asks."""
    return tuple(
        Varied(
            name=one.name,
            unit=one.unit,
            quantity=one.quantity,
            nominal=one.nominal,
            deviation=one.mean_and_deviation()[1],
            because=one.because,
        )
        for one in model.varying
    )


def _drifting(plan: Plan, model: JourneyModel, few: Samples, answered: Answer) -> Drifting | None:
    demand, drifts = plan.demand, drifts_of(plan.scenario)
    if demand is None or not drifts:
        return None
    return drifting(model, few, answered, demand, drifts, plan.scenario.document.retest)


def journeys(plan: Plan) -> dict[str, int]:
    """How many journeys a study makes at most, by what they are for; the same as ``answer`` goes.

    Sampling that stops by itself, and searches for the widest tolerance, may end sooner.
    """
    asked, demand, inputs = plan.asked, plan.demand, plan.inputs
    few = min(asked.samples, BY_KIND)
    kinds = len(set(inputs.kinds))
    answered = {
        "the samples": asked.samples,
        "kinds of input": few * kinds if kinds > 1 else 0,
        "linearisation": 2 + 2 * len(inputs.inputs),
        "indices": asked.indices * (2 + len(inputs.groups)),
    }
    if demand is not None:
        least = least_samples(demand.required, demand.confidence, 2)
        count = max(WIDENING_SAMPLES, least)
        questions = len(plan.widen) + 2 * bool(plan.shared)
        answered |= {
            "knowledge": few if kinds > 1 else 0,
            "qualification": few + 1,
            "drift": few * MOMENTS if plan.scenario.document.drift else 0,
            "widening": questions * count * (MOST_STEPS + FRESH_TIMES),
            "maps": len(plan.maps) * least * POINTS**2,
        }
    every = 1 + len(varying(plan.scenario, plan.criteria))
    loud = all(one.input.target.place in NO_BAND for one in drifts_of(plan.scenario))
    once = ("linearisation", "qualification", *["drift"] * loud)
    return {
        name: number * (1 if name in once else every) for name, number in answered.items() if number
    }


def _widenings(
    plan: Plan, model: JourneyModel, samples: Samples, answered: Answer, demand: Demand | None
) -> tuple[Widening, ...]:
    if demand is None:
        return ()
    seen = (samples.values(), answered.values)
    count = max(WIDENING_SAMPLES, least_samples(demand.required, demand.confidence, 2))
    asked = questions(plan, samples, seen, demand)
    return tuple(
        widened(model, samples, seen, demand, question, count, f"widen-{number:02d}")
        for number, question in enumerate(asked)
    )


def _discrepancies(answered: Answer, demand: Demand | None) -> tuple[AtDiscrepancy, ...]:
    """The answer at some sizes, and at the one stated."""
    return tuple(
        AtDiscrepancy(
            size=size,
            acceptance=replace(demand, discrepancy=size).acceptance(
                answered.values, answered.errors
            ),
        )
        for size in (sorted({*SIZES, demand.discrepancy}) if demand else ())
        if demand
    )


def _as_it_stands(inputs: Samples) -> Samples:
    """One sample with every input at its value."""
    return inputs.part(slice(0, 1)).scaled(np.zeros(len(inputs.inputs)))


def _sampled(plan: Plan, model: JourneyModel) -> tuple[Samples, Answer, Stop | None]:
    """The samples and their metrics; in batches where the study stops by itself."""
    asked = plan.asked
    samples = sampled(plan.scenario, asked.samples, asked.seed, asked.generator)
    if asked.digits is None:
        return samples, model(samples, "samples-000"), None
    answers: list[Answer] = []
    done, tolerances = False, np.array([])
    most = max(asked.samples // BATCH, 1)
    while len(answers) < most and not done:
        rows = slice(len(answers) * BATCH, (len(answers) + 1) * BATCH)
        answers.append(model(samples.part(rows), f"samples-{len(answers):03d}"))
        values = np.concatenate([one.values for one in answers], axis=1)
        done, tolerances = settled(values, BATCH, asked.digits)
        done = done and len(answers) >= LEAST_BATCHES
    stop = Stop(
        digits=asked.digits,
        size=BATCH,
        batches=len(answers),
        tolerances=tolerances,
        reached=done,
    )
    return samples.part(slice(0, len(answers) * BATCH)), _joined(answers), stop


def _joined(answers: list[Answer]) -> Answer:
    metrics = {
        name: np.concatenate([one.metrics[name] for one in answers])
        for name in answers[0].metrics
        if all(name in one.metrics for one in answers)
    }
    return Answer(
        values=np.concatenate([one.values for one in answers], axis=1),
        errors=np.concatenate([one.errors for one in answers], axis=1),
        metrics=metrics,
    )


def _by_kind(few: Samples, model: JourneyModel) -> dict[str, Answer]:
    """Metrics of some samples with the inputs of one kind alone; empty where all are of one."""
    kinds = dict.fromkeys(few.kinds)
    if len(kinds) < 2:
        return {}
    return {
        kind: model(few.scaled(np.array([float(one == kind) for one in few.kinds])), f"only-{kind}")
        for kind in kinds
    }


def uncertain_inputs(samples: Samples, scenario: Scenario) -> tuple[UncertainInput, ...]:
    """What is said of each input, with its values."""
    rows = []
    for one, values in zip(samples.inputs, samples.values().T, strict=True):
        shape = one.distribution
        rows.append(
            UncertainInput(
                name=one.name,
                unit=one.unit,
                quantity=one.quantity,
                kind=one.kind,
                because=one.because,
                nominal=one.nominal,
                distribution=shape.word,
                relative=shape.relative,
                deviation=shape.deviation,
                low=shape.low,
                high=shape.high,
                top=shape.top,
                data_values=len(shape.values),
                data_sha256=shape.sha256,
                lowest=one.target.bounds[0],
                greatest=one.target.bounds[1],
                cut=one.cut(),
                unfollowed=", ".join(unfollowed(scenario, one.name)),
                values=values,
            )
        )
    return tuple(rows)


def _outcomes(
    plan: Plan,
    samples: Samples,
    answered: Answer,
    nominal: Answer,
    kinds: Mapping[str, Answer],
    linear: FloatArray,
) -> tuple[Outcome, ...]:
    ends, deviations = steps_of(samples, STEP)
    itineraries = ends.itineraries(plan.scenario)
    outcomes, demand = [], plan.demand
    summed = closed_forms(plan.criteria, itineraries)
    for row, one in enumerate(plan.criteria):
        values, errors = answered.values[row], answered.errors[row]
        spread, acceptance = spread_of(values, errors, one.unit), None
        if one.limited and demand is not None:
            only = replace(demand, criteria=(one,))
            (states,) = only.states(values[None], errors[None])
            acceptance = acceptance_of(states, one.probability, one.confidence)
        about = (deviations, samples.correlation, one, (spread, acceptance))
        outcomes.append(
            Outcome(
                name=one.name,
                measure=one.measure,
                of=one.label,
                unit=one.unit,
                kind=one.kind,
                at_least=one.at_least,
                at_most=one.at_most,
                injections=one.injections if one.repeated else 0,
                nominal=float(nominal.values[row, 0]),
                nominal_error=float(nominal.errors[row, 0]),
                values=values,
                errors=errors,
                spread=spread,
                by_kind={
                    kind: spread_of(found.values[row], found.errors[row], one.unit)
                    for kind, found in kinds.items()
                },
                limits=_limits(one, values, samples),
                first_order=first_order(summed[row], STEP, *about),
                linearised=first_order(linear[row], WIDE_STEP, *about),
                acceptance=acceptance,
            )
        )
    return tuple(outcomes)


def _limits(one: Criterion, values: FloatArray, samples: Samples) -> ToleranceLimits:
    return tolerance_limits(values, one.probability, one.confidence, samples.independent, one.unit)
