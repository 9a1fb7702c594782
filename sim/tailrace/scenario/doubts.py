"""To which assumptions the answer is most sensitive: each in turn otherwise, and all else the same.

Where the path is a product of transfer functions the peak is computed for each; else (a gradient,
overload, bent tubes) its width follows from exact variances as that of a Gaussian.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from tailrace.eluent.diffusion import TYPICAL_ERROR, TYPICAL_ERROR_WORDS
from tailrace.eluent.stream import Stream
from tailrace.errors import TailraceError
from tailrace.journey.gradients import handed_on
from tailrace.journey.itinerary import Itinerary
from tailrace.journey.product import multiply, not_multiplied
from tailrace.journey.propagation import spread
from tailrace.journey.result import Assumption, Result
from tailrace.measures.registry import CAPACITY, EXTRA_COLUMN
from tailrace.parts import KINDS
from tailrace.parts.base import Passage, Passages
from tailrace.parts.column.part import Column
from tailrace.quantities.arrays import BoolArray, FloatArray
from tailrace.quantities.kinds import show
from tailrace.scenario.assumptions import BENCH, LIES
from tailrace.scenario.build import OF_ALL_PARTS, itinerary
from tailrace.scenario.contents import Contents
from tailrace.scenario.read import tables_of
from tailrace.signals.cumulants import Cumulants

NAMED = 3
LEAST = 0.001
"""Share by which an answer may move and nobody need know: a range whose ends read alike."""


@dataclass(frozen=True)
class _Open:
    """Subject, what is taken, what settles it; the journeys that could be instead.

    ``bent``: what tubes would add more if they were bent, by their place among the passages;
    (lanes,) arrays, s^2.
    """

    subject: str
    taken: str
    settled: str
    others: tuple[tuple[Passage, ...], ...] = ()
    bent: Mapping[int, FloatArray] = field(default_factory=dict)


def assumptions_of(scenario: Contents, result: Result | None = None) -> tuple[Assumption, ...]:
    """The NAMED assumptions to which the answer is most sensitive, most first; none of a gradient.

    The answer is the leading metric, without a column the extra-column variance: as recorded in
    ``result``; as computed here without one.
    """
    journey = itinerary(scenario)
    passages = tuple(spread(journey))
    # A column behind the cell that records has no say in what is recorded.
    column = any(part.separates and not part.behind for part, _ in passages)
    metric = scenario.leading.name if column else EXTRA_COLUMN
    if scenario.document.gradient is not None:
        # the width that a gradient leaves does not follow from variances added so
        return ()
    try:
        base = _answer(journey, passages, metric)
    except TailraceError:
        return ()
    recorded = base.value if result is None else result.recorded[metric]
    found = []
    for one in _open(scenario, passages):
        ratios = [np.ones_like(base.value), *_ratios(one, journey, passages, metric, base)]
        # of a peak capacity 1 + gradient time / 4 sigma it is the second that changes
        alone = 1.0 if metric == CAPACITY else 0.0
        values = alone + (np.asarray(recorded, dtype=float) - alone) * np.array(ratios)
        low, high = np.min(values, axis=0), np.max(values, axis=0)
        if np.all(np.isfinite(low) & np.isfinite(high)) and np.any(high > (1 + LEAST) * low):
            found.append(
                Assumption(
                    subject=one.subject,
                    taken=one.taken,
                    settled=one.settled,
                    metric=metric,
                    low=low,
                    high=high,
                )
            )
    found.sort(key=lambda one: -float(np.max(one.high / np.where(one.low > 0, one.low, np.nan))))
    return tuple(found[:NAMED])


@dataclass(frozen=True)
class _Answer:
    """The metric, (lanes,) array, SI; and whether it is from variances alone."""

    value: FloatArray
    summed: bool


def _answer(journey: Itinerary, passages: Passages, metric: str, summed: bool = False) -> _Answer:
    if not (summed or not_multiplied(passages)):
        found = multiply(replace(journey, passages=tuple(passages))).recorded[metric]
        return _Answer(np.asarray(found), summed=False)
    return _Answer(_of_variances(passages, metric), summed=True)


def _of_variances(passages: Passages, metric: str) -> FloatArray:
    """The metric but for a factor, if the peak were a Gaussian of the exact variance."""
    lanes = passages[0][1].lanes
    mean, variance, own, stayed = (np.zeros(lanes) for _ in range(4))
    for part, stream in passages:
        if part.behind:
            continue
        part = part.met_at(mean, stream)
        said = KINDS[part.kind].theory(part, stream)
        variance, _ = handed_on(part, stream, variance, np.zeros(lanes))
        added = _variance(said)
        mean, variance = mean + said.mean, variance + added
        if part.separates:
            own, stayed = own + added, stayed + said.mean
    if metric == EXTRA_COLUMN:
        return np.asarray((variance - own) * np.square(passages[-1][1].flow_rate))
    if metric == CAPACITY:
        return np.asarray(1 / np.sqrt(variance))
    return np.asarray(np.square(stayed) / variance)


def _variance(said: Cumulants) -> FloatArray:
    """The exact one, or the textbook's where none is known."""
    exact = np.asarray(said.variance, dtype=float)
    return np.where(np.isnan(exact), said.gaussian_variance, exact)


def _ratios(
    one: _Open, journey: Itinerary, passages: Passages, metric: str, base: _Answer
) -> Iterator[FloatArray]:
    """The metric of each alternative over that of the scenario."""
    summed = None
    for other in one.others:
        try:
            found = _answer(journey, other, metric, base.summed)
            if found.summed == base.summed:
                yield found.value / base.value
                continue
            summed = _of_variances(passages, metric) if summed is None else summed
            yield found.value / summed
        except TailraceError:
            continue
    if one.bent:
        yield _bent(one.bent, passages, metric)


def _bent(added: Mapping[int, FloatArray], passages: Passages, metric: str) -> FloatArray:
    """The same with tubes on a bench's bends: by the change of their exact variance."""
    lanes = passages[0][1].lanes
    mean, variance, outside = np.zeros(lanes), np.zeros(lanes), np.zeros(lanes)
    change = np.zeros(lanes)
    for at, (part, stream) in enumerate(passages):
        if part.behind:
            continue
        part = part.met_at(mean, stream)
        said = KINDS[part.kind].theory(part, stream)
        before = variance
        variance, _ = handed_on(part, stream, variance, np.zeros(lanes))
        change, outside = (
            value * np.where(before > 0, variance / np.where(before > 0, before, 1.0), 1.0)
            for value in (change, outside)
        )
        mean, variance = mean + said.mean, variance + _variance(said)
        outside = outside + (0.0 if part.separates else _variance(said))
        change = change + added.get(at, 0.0)
    if metric == EXTRA_COLUMN:
        return np.asarray(1 + change / outside)
    whole = variance / (variance + change)
    return np.asarray(np.sqrt(whole) if metric == CAPACITY else whole)


def _open(scenario: Contents, passages: tuple[Passage, ...]) -> Iterator[_Open]:
    """All that the scenario leaves open."""
    document = scenario.document
    written = tables_of(scenario.path, scenario.text).get("solutes", [])
    timed = np.array(["retention_time" in one for one in written])
    for at, (part, stream) in enumerate(passages):
        if part.behind:
            continue
        for doubt in part.doubts(_given(scenario, part.name), stream):
            others = tuple(
                _as_timed(passages, (*passages[:at], (other, stream), *passages[at + 1 :]), timed)
                for other in doubt.others
            )
            yield _Open(part.name, doubt.taken, doubt.settled, others)
    if any(one.diffusivity is None for one in document.solutes):
        guessed = np.array([one.diffusivity is None for one in document.solutes])
        yield _Open(
            "diffusivity",
            f"an estimate, good to {TYPICAL_ERROR_WORDS}",
            "the spread of a peak in a long straight tube at a low flow, or a published value",
            tuple(
                tuple(
                    (part, replace(stream, diffusivity=stream.diffusivity * factor))
                    for part, stream in passages
                )
                for factor in (np.where(guessed, 1 + sign * TYPICAL_ERROR, 1.0) for sign in (-1, 1))
            ),
        )
    bent = _bends(scenario, passages)
    if bent:
        yield _Open(
            ", ".join(passages[at][0].name for at in bent),
            f"straight, and not on a radius of {show(BENCH, 'bend radius')}",
            LIES,
            bent=bent,
        )


def _as_timed(
    passages: tuple[Passage, ...], others: tuple[Passage, ...], timed: BoolArray
) -> tuple[Passage, ...]:
    """The other journey with those retention factors that keep the times that the file gives.

    ``timed``: of which solutes it gives times, (lanes,) array.
    """
    if not timed.any():
        return others
    dead, other = (
        sum(part.dead_time(stream) for part, stream in found if isinstance(part, Column))
        for found in (passages, others)
    )

    def kept(stream: Stream) -> Stream:
        factor = (1 + stream.retention_factor) * dead / other - 1
        factor = np.where(timed, np.maximum(factor, 0.0), stream.retention_factor)
        return replace(stream, retention_factor=factor)

    return tuple((part, kept(stream)) for part, stream in others)


def _bends(scenario: Contents, passages: Passages) -> dict[int, FloatArray]:
    """What tubes that say nothing of how they lie would add more on a bench's bends."""
    if scenario.document.method.bend_radius is not None:
        return {}
    found = {}
    for at, (part, stream) in enumerate(passages):
        if part.behind or {"bend_radius", "bends"} & _given(scenario, part.name):
            continue
        change = part.variance_if_bent(BENCH, stream)
        if change is not None:
            found[at] = change
    return found


def _given(scenario: Contents, name: str) -> set[str]:
    """Keys that the file gives of a part."""
    document = scenario.document
    for one in document.path:
        if one.name == name:
            return one.model_fields_set | (document.method.model_fields_set & OF_ALL_PARTS)
    return set() if document.detector is None else set(document.detector.model_fields_set)


def with_assumptions(scenario: Contents, result: Result) -> Result:
    """A result that names what it is most sensitive to."""
    return replace(result, assumptions=assumptions_of(scenario, result))
