"""Making a tolerance study: samples, what they say, and the questions that go on from there."""

from dataclasses import replace

import numpy as np

from tailrace.studies.runner import Runner
from tailrace.studies.samples import sampled
from tailrace.studies.tolerance.adaptive import BATCH, LEAST_BATCHES, settled
from tailrace.studies.tolerance.closed_form import closed_form
from tailrace.studies.tolerance.first_order import STEP, first_order
from tailrace.studies.tolerance.inspection import checks_of
from tailrace.studies.tolerance.judging import acceptance_of, states_of
from tailrace.studies.tolerance.models import Answer, JourneyModel
from tailrace.studies.tolerance.region import region
from tailrace.studies.tolerance.result import Outcome, Stop, Tolerance
from tailrace.studies.tolerance.sensitivity import sobol_indices
from tailrace.studies.tolerance.sharing import questions
from tailrace.studies.tolerance.statistics import least_samples, spread_of, tolerance_limits
from tailrace.studies.tolerance.widening import Demand, widened

BY_KIND = 1_000
"""Samples, at most, with the inputs of one kind alone, and of instruments that are inspected."""
WIDENING_SAMPLES = 500
"""Samples of the search for the widest tolerance; more where so few cannot show the demand."""


def answer(plan, runner=None) -> Tolerance:
    """Make a planned study.

    Parameters
    ----------
    plan : Plan
    runner : Runner, optional
        One on the threads of this machine if it is left out.

    Returns
    -------
    Tolerance

    Raises
    ------
    AccuracyError
        Where no sample can be computed, or has a figure that is asked for.
    """
    model = JourneyModel(plan.scenario, plan.criteria, runner or Runner())
    nominal = model(_as_it_stands(plan.inputs), "nominal")
    samples, answer, stop = _sampled(plan, model)
    few = samples.part(slice(0, BY_KIND))
    kinds = _by_kind(few, model)
    demand = _demand(plan)
    indices = None
    if plan.indices:
        names = [one.name for one in plan.criteria]
        indices = sobol_indices(model, samples, plan.indices, names)
    whole = None
    if demand is not None:
        whole = demand.acceptance(answer.values, answer.errors)
    return Tolerance(
        plan=plan,
        samples=samples,
        figures=answer.figures,
        outcomes=_outcomes(plan, samples, answer, nominal, kinds),
        acceptance=whole,
        stop=stop,
        indices=indices,
        widenings=_widenings(plan, model, samples, answer, demand),
        maps=_maps(plan, model, samples, demand),
        checks=checks_of(model, few, answer, nominal, kinds, demand),
        cautions=tuple(_cautions(samples, answer)),
    )


def _widenings(plan, model, samples, answer, demand):
    if demand is None:
        return ()
    seen = (samples.values(), answer.values)
    count = max(WIDENING_SAMPLES, least_samples(demand.required, demand.confidence, 2))
    return tuple(
        widened(model, samples, seen, demand, question, count, f"widen-{number:02d}")
        for number, question in enumerate(questions(plan, samples, seen, demand))
    )


def _maps(plan, model, samples, demand):
    return tuple(
        region(model, samples, pair, demand, f"map-{number:02d}")
        for number, pair in enumerate(plan.maps)
    )


def _as_it_stands(inputs):
    """One sample with every input at its value."""
    return inputs.part(slice(0, 1)).scaled(np.zeros(len(inputs.inputs)))


def _sampled(plan, model):
    """The samples and their figures; in batches where the study stops by itself."""
    samples = sampled(plan.scenario, plan.samples, plan.seed, plan.generator)
    if plan.digits is None:
        return samples, model(samples, "samples-000"), None
    answers, done, tolerances = [], False, np.array([])
    most = max(plan.samples // BATCH, 1)
    while len(answers) < most and not done:
        rows = slice(len(answers) * BATCH, (len(answers) + 1) * BATCH)
        answers.append(model(samples.part(rows), f"samples-{len(answers):03d}"))
        values = np.concatenate([one.values for one in answers], axis=1)
        done, tolerances = settled(values, BATCH, plan.digits)
        done = done and len(answers) >= LEAST_BATCHES
    stop = Stop(
        digits=plan.digits,
        size=BATCH,
        batches=len(answers),
        tolerances=tolerances,
        reached=done,
        sentence=_stopped(plan, len(answers), done),
    )
    return samples.part(slice(0, len(answers) * BATCH)), _joined(answers), stop


def _stopped(plan, batches, done):
    told = f"{batches * BATCH} samples in {batches} batches: "
    digits = "one significant digit" if plan.digits == 1 else "two significant digits"
    if done:
        return told + f"{digits} of every standard uncertainty stand (JCGM 101:2008, 7.9)"
    return told + f"{digits} of the standard uncertainties do not all stand yet; allow more samples"


def _joined(answers):
    figures = {
        name: np.concatenate([one.figures[name] for one in answers])
        for name in answers[0].figures
        if all(name in one.figures for one in answers)
    }
    return Answer(
        values=np.concatenate([one.values for one in answers], axis=1),
        errors=np.concatenate([one.errors for one in answers], axis=1),
        figures=figures,
    )


def _by_kind(few, model):
    """Figures of some samples with the inputs of one kind alone; empty where all are of one."""
    kinds = dict.fromkeys(few.kinds)
    if len(kinds) < 2:
        return {}
    return {
        kind: model(few.scaled(np.array([float(one == kind) for one in few.kinds])), f"only-{kind}")
        for kind in kinds
    }


def _demand(plan):
    """What all samples are held against: the greatest probability and confidence of all."""
    if not plan.limited:
        return None
    return Demand(
        criteria=plan.limited,
        required=max(one.probability for one in plan.limited),
        confidence=max(one.confidence for one in plan.limited),
    )


def _outcomes(plan, samples, answer, nominal, kinds):
    ends, deviations = _ends(samples)
    itineraries = ends.itineraries(plan.scenario)
    outcomes = []
    for row, one in enumerate(plan.criteria):
        values, errors = answer.values[row], answer.errors[row]
        spread, acceptance = spread_of(values, errors), None
        if one.limited:
            states = states_of(values, errors, one.at_least, one.at_most)
            acceptance = acceptance_of(states, one.probability, one.confidence)
        closed = closed_form(one, itineraries)
        compared = first_order(
            closed[0],
            closed[1:].reshape(-1, 2),
            deviations,
            samples.correlation,
            one,
            (spread, acceptance),
        )
        outcomes.append(
            Outcome(
                name=one.name,
                measure=one.measure,
                of=one.label,
                unit=one.unit,
                kind=one.asked.kind,
                at_least=one.at_least,
                at_most=one.at_most,
                nominal=float(nominal.values[row, 0]),
                nominal_error=float(nominal.errors[row, 0]),
                values=values,
                errors=errors,
                spread=spread,
                by_kind={
                    kind: spread_of(made.values[row], made.errors[row])
                    for kind, made in kinds.items()
                },
                limits=tolerance_limits(
                    values, one.probability, one.confidence, samples.independent
                ),
                first_order=compared,
                acceptance=acceptance,
            )
        )
    return tuple(outcomes)


def _ends(samples):
    """Samples that stand at the mean of every input, then a step below and above for each."""
    known = [
        one.distribution.mean_and_deviation(one.nominal, one.target.bounds)
        for one in samples.inputs
    ]
    means, deviations = (np.array(side) for side in zip(*known, strict=True))
    steps = np.zeros((1 + 2 * len(means), len(means)))
    for place in range(len(means)):
        steps[1 + 2 * place, place], steps[2 + 2 * place, place] = -STEP, STEP
    values = means + steps * deviations
    return replace(samples, scores=steps, fixed=tuple(enumerate(values.T))), deviations


def _cautions(samples, answer):
    yield from samples.cuts
    count = len(samples)
    if not samples.independent:
        yield (
            f"samples by {samples.generator} are not independent: standard errors and intervals "
            "are told as if they were, which is as a rule too wide"
        )
    failed = int(np.sum(~answer.figures["computed"]))
    if failed:
        first = str(answer.figures["warnings"][np.argmin(answer.figures["computed"])])
        yield (
            f"{failed} of {count} samples could not be computed and count as undecided; the first: "
            f"{first.removeprefix('not computed: ')}"
        )
    warned = np.flatnonzero((answer.figures["warnings"] != "") & answer.figures["computed"])
    if len(warned):
        first = str(answer.figures["warnings"][warned[0]]).splitlines()[0]
        yield f"{len(warned)} of {count} samples carry warnings; the first: {first}"
