"""What a tolerance study says in sentences, made of the numbers that it leaves."""

import math

import numpy as np

from tailrace.quantities.kinds import kind_named, plain, show
from tailrace.records.trade import in_words, trade
from tailrace.report.numbers import percent, significant, with_error
from tailrace.report.sentences import computed
from tailrace.report.tolerance import readings
from tailrace.scenario.distribution import MANY
from tailrace.studies.tolerance.result import (
    Acceptance,
    Check,
    FirstOrder,
    Indices,
    Interval,
    Outcome,
    Population,
    RegionMap,
    Stop,
    Tolerance,
    UncertainInput,
    Widening,
)
from tailrace.studies.tolerance.statistics import LEAST_BATCHES, least_samples
from tailrace.studies.tolerance.widening import MOST_WEIGHT

ENOUGH = 0.8
"""Share of the variance that the named inputs explain, if three of them can."""
LEAST_NOISE = 0.005
"""An index alone above that with all else by less is not spoken of."""
LEAST_CUT = 1e-6
"""A cut of less probability than this is not reported."""
MOST_WRITTEN = 10
"""Digits of a limit that somebody wrote down."""


def conclusion(study: Tolerance) -> str:
    """Whether the criteria are satisfied as required."""
    judged = [(one, one.acceptance) for one in study.outcomes if one.acceptance is not None]
    if not judged:
        return "No criteria are stated: see [[accept]]. The table says how far each metric spreads."
    missed = [(f"{one.name}, {limits(one)}", how) for one, how in judged if not how.satisfied]
    whole = study.acceptance
    if not missed and whole is not None and not whole.satisfied:
        missed = [("all criteria together", whole)]
    lines = []
    for state in ("not kept", "not shown"):
        of = [f"{name} ({_found(how)})" for name, how in missed if how.state == state]
        lines += [f"{state.capitalize()}: {'; '.join(of)}."] if of else []
    if lines:
        return " ".join(lines)
    one, how = judged[0]
    how = whole or how
    what = f"{one.name}, {limits(one)}, is" if len(judged) == 1 else "All criteria are"
    least = f"at least {percent(how.lower_bound)} %"
    sure = f"{percent(how.confidence)} % confidence, where {percent(how.required)} % are required"
    found = f"{what} satisfied by {percent(how.probability)} % of the samples"
    if any(one.injections for one in study.outcomes):
        found += ", each with one series of injections"
    if kinds(study) == {"tolerance"}:
        return f"{found}: by {least} of instruments with {sure}."
    whose = "the one instrument that is known so far"
    if "tolerance" in kinds(study):
        whose = "an instrument taken at random, as far as all is known"
    return f"{found}: with a probability of {least} for {whose}, with {sure}."


def kinds(study: Tolerance) -> set[str]:
    """Kinds of uncertainty that the samples hold: of inputs, and how far the model lies off."""
    return {one.kind for one in study.inputs} | ({"knowledge"} if study.discrepancy else set())


def population(one: Population) -> str:
    """The share of instruments apart from what is not known."""
    return (
        f"Of instruments that differ within their tolerances, at least "
        f"{percent(one.acceptance.lower_bound)} % ({percent(one.acceptance.confidence)} % "
        "confidence, full journeys) satisfy all criteria even where what is not known is less "
        f"favourable than {percent(one.confidence)} % of what it may be; in the middle of it "
        f"{percent(one.median)} % (emulated)."
    )


def discrepancy(study: Tolerance) -> str:
    """How well the model is taken to describe instruments, and what follows where it does not."""
    if not study.discrepancies:
        return ""
    stated = (
        f"The model is taken to give plates with a standard uncertainty of its own of "
        f"{100 * study.discrepancy:g} %, which is in every share of samples above"
        if study.discrepancy
        else "The model is taken as exact, since no [discrepancy] is stated"
    )
    rows = [
        (f"{100 * one.size:g}", percent(one.acceptance.probability)) for one in study.discrepancies
    ]
    others = ", ".join(f"{share} % at {size} %" for size, share in rows)
    return (
        f"{stated}. Samples that satisfy all criteria, if its own uncertainty of plates were other "
        f"(widths and resolution half of it; tailing, times, pressure none): {others}. "
        "What is known of it: `tailrace qualify`."
    )


def _found(one: Acceptance) -> str:
    if one.state == "not kept":
        found = f"by at most {percent(one.interval.high)} %"
    else:
        found = f"by at least {percent(one.lower_bound)} %"
    return (
        f"satisfied {found} with {percent(one.confidence)} % confidence, {percent(one.required)} % "
        "required"
    )


def sampling(study: Tolerance) -> str:
    """How many samples were made, and how."""
    failed = f"{study.failed} could not" if study.failed else "all could"
    return (
        f"{study.samples} samples, each a simulated journey of every solute; generator "
        f"{study.question.generator}, seed {study.question.seed}; {failed} be computed."
    )


def stopped(stop: Stop) -> str:
    """Whether the number of samples was enough."""
    digits = "one significant digit" if stop.digits == 1 else "two significant digits"
    begin = f"{stop.batches * stop.size} samples in {stop.batches} batches: {digits} of "
    if stop.reached:
        return (
            f"{begin}every standard uncertainty stand (JCGM 101:2008, 7.9, but for batches of "
            f"{stop.size} in place of 10,000, of which at least {LEAST_BATCHES} in place of two)."
        )
    return f"{begin}the standard uncertainties do not all stand yet; allow more samples."


def remarks(study: Tolerance) -> list[str]:
    """Sentences under the tables: samples, what matters, where closed form misleads, cautions."""
    misled = [
        line
        for one in study.outcomes
        for line, order in zip(first_order(one), (one.linearised, one.first_order), strict=True)
        if order.misleads
    ]
    return [
        sampling(study),
        *([stopped(study.stop)] if study.stop else []),
        *filter(None, [computed(study.engine)]),
        *([population(study.population)] if study.population else []),
        *filter(None, [readings.series(study), discrepancy(study)]),
        *what_matters(study),
        *dict.fromkeys(misled),
        *no_limits(study),
        *(widening(study, one) for one in study.widenings),
        *(f"Caution: {line}" for line in cautions(study)),
    ]


def cautions(study: Tolerance) -> list[str]:
    """What was cut off, what did not compute, which samples carry warnings."""
    lines = [cut(one) for one in study.inputs]
    lines += [
        f"{in_words(one.name)}: retention of {one.unfollowed} is kept, for want of "
        "retention_change; what temperature does to it is not in these numbers."
        for one in study.inputs
        if one.unfollowed
    ]
    if study.question.generator != "random":
        lines.append(
            f"samples by {study.question.generator} are not independent: standard errors and "
            "intervals are given as if they were, which is as a rule too wide."
        )
    failed, count = ~study.computed, study.samples
    if failed.any():
        first = str(study.warnings[failed][0]).removeprefix("not computed: ")
        lines.append(
            f"{study.failed} of {count} samples could not be computed and count as undecided; the "
            f"first: {full_stop(first)}"
        )
    warned = study.warnings[study.computed & (study.warnings.astype(str) != "")]
    if len(warned):
        first = str(warned[0]).splitlines()[0]
        lines.append(
            f"{len(warned)} of {count} samples carry warnings; the first: {full_stop(first)}"
        )
    return [line for line in lines if line]


def distribution(one: UncertainInput, scale: float = 1.0) -> str:
    """A distribution in words: ``normal, standard deviation 2 um, about 0.12 mm``."""
    if scale == 0:
        return f"exactly {_value(one, one.nominal)}"
    if one.distribution in ("data", "bootstrap"):
        wide = "" if scale == 1 else f", deviations {scale:.4g} times as wide"
        shape = "each as likely" if one.distribution == "bootstrap" else "joined by straight lines"
        if one.distribution == "data" and one.data_values < MANY:
            of = "the next part" if one.kind == "tolerance" else "the mean of readings"
            shape = (
                f"t distribution of {of} with {one.data_values - 1} degrees of freedom (JCGM "
                "101:2008, 6.4.9.4)"
            )
        return (
            f"from data, {one.data_values} values, {shape}, SHA-256 of the file begins with "
            f"{one.data_sha256[:12]}{wide}"
        )
    if one.distribution == "lognormal":
        return (
            f"lognormal, standard deviation of the logarithm {scale * one.deviation:.4g}, "
            f"median {_value(one, one.nominal)}"
        )
    if one.distribution == "normal":
        shape = f"standard deviation {_width(one, scale * one.deviation)}"
    elif one.low == -one.high:
        shape = f"half width {_width(one, scale * one.high)}"
    else:
        ends = (_value(one, one.nominal + scale * end) for end in (one.low, one.high))
        shape = "from " + " to ".join(ends)
    if one.distribution == "trapezoidal":
        shape += f", flat over half a width of {_width(one, scale * one.top)}"
    return f"{one.distribution}, {shape}, about {_value(one, one.nominal)}"


def cut(one: UncertainInput) -> str:
    """What of a distribution is cut off; empty where nothing is that could matter."""
    if one.cut < LEAST_CUT:
        return ""
    return (
        f"{in_words(one.name)}: {100 * one.cut:.2g} % of its distribution lies outside of what it "
        f"can be ({_value(one, one.lowest)} to {_value(one, one.greatest)}) and is cut off; the "
        "rest shares that probability."
    )


def _value(one: UncertainInput, value: float) -> str:
    return show(value, one.quantity) if one.quantity else plain(value)


def _width(one: UncertainInput, value: float) -> str:
    """A deviation as people write it."""
    if one.relative:
        return f"{100 * value:.4g} %"
    if one.quantity and kind_named(one.quantity).offset:
        return f"{value:.4g} {one.unit}"
    return _value(one, value)


def limits(outcome: Outcome | Check) -> str:
    """Limits in words: ``at least 11000``, ``0.9 to 1.2 s``; empty without any."""
    return between(outcome, outcome.at_least, outcome.at_most)


def between(outcome: Outcome | Check, at_least: float, at_most: float, inward: bool = False) -> str:
    """Two limits in words, in the unit of the trade; NaN: none. ``inward``: rounded to be kept."""
    unit = trade(outcome.kind, outcome.unit)
    ends = (at_least, inward), (at_most, -inward)
    low, high = (_as_written(float(unit.of(end)), toward) for end, toward in ends)
    behind = f" {unit.unit}" if unit.unit else ""
    if math.isnan(at_least):
        return "" if math.isnan(at_most) else f"at most {high}{behind}"
    return f"at least {low}{behind}" if math.isnan(at_most) else f"{low} to {high}{behind}"


def _as_written(value: float, toward: int = 0) -> str:
    """A limit with all the digits that it was given; one that was computed with four, rounded up
    (``toward`` 1) or down (-1)."""
    for digits in range(4, MOST_WRITTEN + 1):
        if math.isclose(float(f"{value:.{digits - 1}e}"), value, rel_tol=1e-12):
            return significant(value, digits)
    last = 10.0 ** (math.floor(math.log10(abs(value))) - 3) if math.isfinite(value) else 0.0
    return significant(value + 0.5 * toward * last, 4)


def no_limits(study: Tolerance) -> list[str]:
    """Why there are no tolerance limits, where there are none."""
    return list(dict.fromkeys(filter(None, map(refused, study.outcomes))))


def refused(outcome: Outcome) -> str:
    """Why an outcome has no tolerance limits; empty where it has."""
    one, all_samples = outcome.limits, len(outcome.values)
    asked = f"{100 * one.content:g} % with {100 * one.confidence:g} % confidence"
    reasons = {
        "": "",
        "dependent samples": "distribution-free tolerance limits hold for independent samples "
        "only, and these are not: take the generator random",
        "missing values": f"{all_samples - one.samples} samples without a value",
    }
    if one.refused not in reasons:
        sides = [least_samples(one.content, one.confidence, side) for side in (1, 2)]
        reasons[one.refused] = (
            f"too few samples for {asked}: {one.samples} of {sides[0]} for one limit, of "
            f"{sides[1]} for two"
        )
    return f"No tolerance limits: {reasons[one.refused]}." if one.refused else ""


def first_order(outcome: Outcome) -> list[str]:
    """Where the simulation is far from linear, and where the textbook's sum lies elsewhere."""
    if outcome.injections:
        return [f"{outcome.name}: no sum of variances, and nothing to first order, says it."] * 2
    return [
        _compared(
            outcome, outcome.linearised, "simulation to first order", "it is not linear here"
        ),
        _compared(outcome, outcome.first_order, "sum of variances", "the sum misleads"),
    ]


def _compared(outcome: Outcome, one: FirstOrder, what: str, verdict: str) -> str:
    spread = outcome.spread
    if math.isnan(one.value):
        return f"{outcome.name}: the {what} says nothing of it."
    if math.isnan(one.allowed):
        return f"{outcome.name}: does not spread; nothing to compare the {what} with."
    begin = (
        f"{outcome.name}: {what} {_range(outcome, one.interval)}, samples "
        f"{_range(outcome, _known(spread.symmetric, spread.symmetric_error))} (95 %)"
    )
    if not one.misleads:
        return f"{begin}; they agree to a digit of the standard uncertainty."
    why = ", ".join(_differences(outcome, one)) or "its ends lie elsewhere"
    if outcome.acceptance is not None:
        why += (
            f"; probability of acceptance {100 * one.probability:.3g} % against "
            f"{100 * outcome.acceptance.probability:.3g} %"
        )
    return f"{begin}: {verdict}, for {why}."


def _differences(outcome: Outcome, one: FirstOrder) -> list[str]:
    spread = outcome.spread
    found = []
    shift = one.value - spread.mean
    if abs(shift) > one.allowed:
        word = "above" if shift > 0 else "below"
        found.append(f"its middle lies {_metric(outcome, abs(shift), 3)} {word} the simulated mean")
    wide = max(spread.symmetric.high - spread.symmetric.low, float(np.finfo(float).tiny))
    ratio = (one.interval.high - one.interval.low) / wide
    if abs(ratio - 1) > 0.1:
        found.append(f"its width is {ratio:.2g} times the simulated one")
    lean = spread.symmetric.high + spread.symmetric.low - 2 * spread.mean
    if abs(lean) > one.allowed:
        found.append(f"the simulated distribution leans {'up' if lean > 0 else 'down'}")
    return found


def _range(outcome: Outcome, interval: Interval) -> str:
    return f"{_metric(outcome, interval.low)} to {_metric(outcome, interval.high)}"


def _known(interval: Interval, error: Interval) -> Interval:
    """An interval without the digits that its errors reach."""

    def end(value: float, off: float) -> float:
        if not (off > 0 and math.isfinite(value)):
            return value
        step = 10.0 ** math.floor(math.log10(off))
        return round(value / step) * step

    return Interval(
        low=end(interval.low, error.low), high=end(interval.high, error.high), unit=interval.unit
    )


def _metric(outcome: Outcome, value: float, digits: int = 4) -> str:
    return show(value, outcome.kind, digits) if outcome.kind else plain(value, digits)


def _index(found: Indices, row: int, column: int) -> str:
    """A total index in per cent, as far as its interval leaves it."""
    half = np.nan_to_num(found.total_high[row, column] - found.total_low[row, column]) / 2
    return with_error(100 * found.total[row, column], 100 * half, digits=3).partition(" ± ")[0]


def what_matters(study: Tolerance) -> list[str]:
    """For each metric, the inputs that make most of its variance; which go together."""
    found = study.indices
    if found is None:
        return []
    lines = []
    for row, name in enumerate(found.outcomes):
        order = np.argsort(-np.nan_to_num(found.total[row]))
        named: list[str] = []
        explained = 0.0
        for column in order[:3]:
            if explained >= ENOUGH or not found.total[row, column] > 0:
                break
            named.append(f"{in_words(found.inputs[column])} ({_index(found, row, column)} %)")
            explained += found.total[row, column]
        if named:
            lines.append(
                f"What makes {name} vary most: {', '.join(named)}, with all they act with."
            )
    noisy = [
        f"{in_words(found.inputs[column])} on {found.outcomes[row]}"
        for row, column in zip(*np.nonzero(found.first > found.total), strict=True)
        if found.first[row, column] > found.total[row, column] + LEAST_NOISE
    ]
    if noisy:
        lines.append(
            f"Noise: an input alone cannot matter more than with all it acts with; of "
            f"{', '.join(noisy)} the index alone is the greater by chance; take more --rows."
        )
    return [*lines, *filter(None, [together(study)])]


def together(study: Tolerance) -> str:
    """Which inputs the indices take as one; empty without any."""
    alone = {one.name for one in study.inputs}
    names = () if study.indices is None else study.indices.inputs
    joined = "; ".join(in_words(one).replace(" + ", " and ") for one in names if one not in alone)
    if not joined:
        return ""
    return (
        f"{joined}: correlated, and taken as one input, since the variance that they share belongs "
        "to neither alone."
    )


def title(one: Widening) -> str:
    """What is widened: ``needle seat: bore alone``, ``all together, alike``."""
    return (
        f"{in_words(one.inputs[0].name)} alone"
        if one.rule == "alone"
        else f"all together, {one.rule}"
    )


def rule(one: Widening) -> str:
    """How several inputs share what there is to give; empty for one input."""
    if one.rule == "alone":
        return ""
    if one.rule == "alike":
        return "every spread is widened by the same factor"
    return (
        "every input is given the spread with which it adds as much as any other to the standard "
        f"uncertainty of {one.governing}, the criterion that is satisfied least, to first order "
        f"about the stated samples, and at most {MOST_WEIGHT:g} times the factor; then all are "
        "widened by the same factor"
    )


def widening(study: Tolerance, one: Widening) -> str:
    """The answer to one question of ``--widen``, and the rule by which several inputs share."""
    share = f"; {rule(one)}." if rule(one) else "."
    tried = one.tried[0].acceptance if one.tried else study.acceptance
    asked = "acceptance"
    if tried is not None:
        asked += f" of {100 * tried.required:g} % with {100 * tried.confidence:g} % confidence"
    still = ", ".join(one.unmoved)
    if one.inert:
        return (
            f"{title(one)}: nothing can be said, since in this model no criterion depends on it "
            f"({still}); what it does to them on an instrument has to be measured."
        )
    if one.unmoved:
        share = f"; in this model it does not move {still}, which has to be measured{share}"
    if one.scale == 0 or one.fresh is None:
        return (
            f"{title(one)}: no tolerance, however narrow, gives {asked}; the scenario as it stands "
            f"and its other inputs already stand against it{share}"
        )
    inputs = {given.name: given for given in study.inputs}
    wide = "; ".join(
        f"{in_words(row.name)} {_value(inputs[row.name], row.limits.low)} to "
        f"{_value(inputs[row.name], row.limits.high)}"
        for row in one.inputs
    )
    end = "no end was found up to it"
    if math.isfinite(one.scale_refused):
        end = f"refused at {one.scale_refused:.3g} times"
    fresh = one.fresh
    verdict = {"shown": "confirm it", "not shown": "do not contradict it"}.get(
        fresh.state, "CONTRADICT it"
    )
    return (
        f"{title(one)}: {one.scale:.3g} times as wide as stated ({wide}) gives {asked}; {end}; "
        f"{fresh.samples} fresh samples {verdict}: {100 * fresh.probability:.4g} % "
        f"({100 * fresh.interval.low:.4g} to {100 * fresh.interval.high:.4g} %){share}"
    )


def region(one: RegionMap) -> str:
    """What a map says."""
    counts = [int(np.count_nonzero(one.allowed == word)) for word in (1, 0, -1)]
    names = " and ".join(map(in_words, one.names))
    return (
        f"{names}: of {one.allowed.size} places, {counts[0]} satisfy the criteria "
        f"with {percent(one.required)} % probability at {percent(one.confidence)} % "
        f"confidence, each by itself, {counts[1]} miss them, {counts[2]} are not decided by "
        f"{one.samples} samples each."
    )


def full_stop(text: str) -> str:
    """A text with one full stop behind it."""
    return f"{text.rstrip('.')}."
