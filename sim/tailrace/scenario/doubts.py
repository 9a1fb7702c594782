"""To which assumptions the answer is most sensitive: each in turn otherwise, and all else the same.

How much each moves it is found as of ``tailrace.journey.otherwise``.
"""

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from tailrace.eluent.diffusion import TYPICAL_ERROR, TYPICAL_ERROR_WORDS
from tailrace.eluent.stream import Stream
from tailrace.errors import TailraceError
from tailrace.journey.otherwise import Otherwise
from tailrace.journey.result import Assumption, Result
from tailrace.measures.registry import EXTRA_COLUMN
from tailrace.parts.base import Passage, Passages
from tailrace.parts.column.part import Column
from tailrace.quantities.arrays import BoolArray, FloatArray
from tailrace.quantities.kinds import show
from tailrace.scenario.assumptions import BENCH, LIES
from tailrace.scenario.build import OF_ALL_PARTS, itinerary
from tailrace.scenario.contents import Contents
from tailrace.scenario.read import tables_of

NAMED = 3
LEAST = 0.001
"""Share by which an answer may move and nobody need know: a range whose ends read alike."""


@dataclass(frozen=True)
class _Open:
    """Subject, what is taken, what settles it; the journeys that could be instead.

    ``bent``: what tubes would add more if they were bent, by their place among the passages;
    (lanes,) arrays, s^2. Where journeys are marched, they are one of the others instead.
    """

    subject: str
    taken: str
    settled: str
    others: tuple[tuple[Passage, ...], ...] = ()
    bent: Mapping[int, FloatArray] = field(default_factory=dict)


def assumptions_of(scenario: Contents, result: Result | None = None) -> tuple[Assumption, ...]:
    """The NAMED assumptions to which the answer is most sensitive, most first.

    The answer is the leading metric, without a column the extra-column variance: as recorded in
    ``result``; as computed here without one.
    """
    journey = itinerary(scenario)
    # A column behind the cell that records has no say in what is recorded.
    column = any(part.separates and not part.behind for part, _ in journey.passages)
    metric = scenario.leading.name if column else EXTRA_COLUMN
    try:
        beside = Otherwise(journey, metric)
    except TailraceError:
        return ()
    opens = list(_open(scenario, beside))
    tried = beside.ratios([other for one in opens for other in one.others])
    recorded = beside.base if result is None else beside.read(result)
    same = recorded.each(np.ones_like)
    left, found = iter(tried), []
    for one in opens:
        ratios = [same, *filter(None, [next(left) for _ in one.others])]
        if one.bent:
            ratios.append(beside.bent(one.bent))
        low, high = (
            recorded.each(lambda value, *by, of=of: value * of(by, axis=0), *ratios)
            for of in (np.min, np.max)
        )
        if np.all(np.isfinite(low.metric + high.metric)) and np.any(
            high.metric > (1 + LEAST) * low.metric
        ):
            found.append(
                Assumption(
                    subject=one.subject,
                    taken=one.taken,
                    settled=one.settled,
                    metric=metric,
                    low=low.metric,
                    high=high.metric,
                    width_low=low.width,
                    width_high=high.width,
                    resolution_low=float(low.resolution[0]),
                    resolution_high=float(high.resolution[0]),
                )
            )
    found.sort(key=lambda one: -float(np.max(one.high / np.where(one.low > 0, one.low, np.nan))))
    return tuple(found[:NAMED])


def _open(scenario: Contents, beside: Otherwise) -> Iterator[_Open]:
    """All that the scenario leaves open."""
    document, passages = scenario.document, beside.passages
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
    if bent and np.isfinite(np.sum(list(bent.values()))):
        yield _Open(
            ", ".join(passages[at][0].name for at in bent),
            f"straight, and not bent on a radius of {show(BENCH, 'bend radius')}, as on a bench",
            LIES,
            others=(_lying(passages, bent),) if beside.marched else (),
            bent={} if beside.marched else bent,
        )


def _lying(passages: tuple[Passage, ...], places: Collection[int]) -> tuple[Passage, ...]:
    """The same with some tubes on a bench's bends."""
    return tuple(
        (part.bent_on(BENCH) if at in places else part, stream)
        for at, (part, stream) in enumerate(passages)
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

    def cached(stream: Stream) -> Stream:
        factor = (1 + stream.retention_factor) * dead / other - 1
        factor = np.where(timed, np.maximum(factor, 0.0), stream.retention_factor)
        return replace(stream, retention_factor=factor)

    return tuple((part, cached(stream)) for part, stream in others)


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
