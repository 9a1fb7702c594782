"""A path of linear parts as a product of their transfer functions, instead of a march.

Window and frequencies follow from the cumulants, which ``theory.py`` of each part gives: each part
counts as a gamma density with its variance and third cumulant, and Chernoff's bound of the sum says
where less than TAIL of the amount is left. The spectrum is followed until what is left of it is
below REST of the height. What both leave out is looked at afterwards and reported (``bound``).
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Any, TypeVar

import numpy as np
from scipy.fft import irfft

from tailrace.errors import AccuracyError
from tailrace.journey.discretisation import of_product
from tailrace.journey.evaluation import column_alone, part_results, setting_behind, told
from tailrace.journey.itinerary import Itinerary
from tailrace.journey.propagation import Stage, spread
from tailrace.journey.result import Result
from tailrace.measures import Moments, measure, moments
from tailrace.parts import KINDS
from tailrace.parts.base import ALIKE, Part, Passages
from tailrace.quantities.arrays import ComplexArray, FloatArray
from tailrace.signals.band import Band
from tailrace.signals.cumulants import Cumulants

Record = TypeVar("Record", bound=Any)

TAIL = 1e-9
"""Of the amount, that may lie outside the window at each end."""
REST = 2e-8
"""Of the peak's height, that may be left in the frequencies beyond the last."""
WRAPPED = 1e-7
"""Of the height, at the window's ends; above, the window is made longer."""
ROOM = (1.15, 2.0, 4.0)
"""By which the tails of single parts are stretched, until a window holds the band."""
POINTS = 16
"""Samples to a frequency: of a Gaussian 30 to a standard deviation."""
MOST_FREQUENCIES, MOST_SAMPLES = 1 << 13, 1 << 21
"""The second over all lanes that are computed at once."""
FIRST, STEP, PROBES = 4.0, 1.3, 10
"""Frequencies, over 1 / standard deviation, at which the spectrum is looked at first."""
FARTHEST = 1e5
LANES = 256
"""Of one block, as a rule: its arrays stay in the processor's cache."""


def not_multiplied(passages: Passages, journeys: float = 1) -> str:
    """Why so many journeys on a path are marched: a clause; empty if they are products."""
    for part, stream in passages:
        if part.behind:
            continue
        if reason := part.no_transfer(stream):
            return reason
        if journeys < part.pays_from:
            return f"{part.name} is bent, which is read from tables from {part.pays_from} cases on"
    return "" if _smoothed(passages) else "nothing smooths it"


def _smoothed(passages: Passages) -> bool:
    return any(part.smooths for part, _ in passages if not part.behind)


def cumulants_of(passages: Passages) -> list[Cumulants]:
    """What closed form says of each part, every number a (lanes,) array."""
    lanes = (passages[0][1].lanes,)
    said = [KINDS[part.kind].theory(part, stream) for part, stream in passages]
    return [
        Cumulants(
            mean=np.broadcast_to(one.mean, lanes),
            gaussian_variance=np.broadcast_to(one.gaussian_variance, lanes),
            variance=np.broadcast_to(one.variance, lanes),
            third=np.broadcast_to(one.third, lanes),
        )
        for one in said
    ]


def spectrum(passages: Passages, omega: FloatArray) -> ComplexArray:
    """Product of all transfer functions at (lanes, frequencies) omega, rad/s."""
    whole = np.ones(omega.shape, dtype=complex)
    for part, stream in passages:
        if not part.behind and not (part.records and part.idle):
            whole *= KINDS[part.kind].transfer(part, stream, omega)
    return whole


def multiplied(
    passages: Passages, said: Sequence[Cumulants] | None = None
) -> tuple[Band, FloatArray]:
    """The band behind a path whose first part injects.

    ``passages``: every number of the streams a (lanes,) array; nothing said by ``not_multiplied``;
    ``said``: of each part, where they are known already.

    Returns
    -------
    Band
        Behind a detector that takes points, the points.
    bound : (lanes,) array, 1
        What window and frequencies leave out, and how well the factors are known, over the height.
    """
    said = cumulants_of(passages) if said is None else said
    mean = np.sum([one.mean for one in said], axis=0)
    deviation = np.sqrt(np.sum([one.variance for one in said], axis=0))
    highest = _highest(passages, deviation)
    for room in ROOM:
        before, after = _reach(said, room)
        window = _window(mean - before, before + after, highest, passages[-1][0])
        if window.samples * mean.size > MOST_SAMPLES and mean.size > 1:
            return _halved(passages)
        band, bound, wrapped = _inverted(passages, window, highest, deviation)
        if not np.any(wrapped > WRAPPED):
            break
    return band, bound


def _halved(passages: Passages) -> tuple[Band, FloatArray]:
    """As ``multiplied``, in two parts, where the arrays of all lanes would be too large."""
    lanes = passages[0][1].lanes

    def some(record: Record, rows: slice) -> Record:
        values = {one.name: getattr(record, one.name) for one in fields(record)}
        return replace(
            record,
            **{
                name: value[rows]
                for name, value in values.items()
                if name not in ALIKE and np.shape(value) == (lanes,)
            },
        )

    halves = [
        multiplied([(some(part, rows), some(stream, rows)) for part, stream in passages])
        for rows in (slice(0, lanes // 2), slice(lanes // 2, lanes))
    ]
    bands, bounds = zip(*halves, strict=True)
    return Band.joined(bands), np.concatenate(bounds)


def stages_of(passages: Passages, last: Band, said: Sequence[Cumulants]) -> list[Stage]:
    """What stands behind each part, in closed form; the last with its band."""
    nothing = np.zeros(last.lanes)
    found: list[Stage] = []
    rows = np.zeros((3, last.lanes))
    for (part, _), one in zip(passages, said, strict=True):
        rows = rows + np.array([one.mean, one.variance, one.third])
        sums = Moments(np.ones(last.lanes), *rows)
        seen = None
        if part.observes and not part.behind and len(found) < len(passages) - 1:
            so_far = multiplied(passages[: len(found) + 1], said[: len(found) + 1])[0]
            seen = Stage(moments=sums, lost=nothing, band=so_far).crest
        found.append(Stage(moments=sums, lost=nothing, band=None, seen=seen))
    found[-1] = replace(found[-1], band=last, seen=None)
    return found


def _highest(passages: Passages, deviation: FloatArray) -> FloatArray:
    """Frequency from which on what is left is below REST of the height. (lanes,) array, rad/s."""
    reduced = np.asarray(FIRST * STEP ** np.arange(PROBES), dtype=float)
    while True:
        above = _left(passages, reduced, deviation) > REST
        if reduced[-1] > FARTHEST or not above[:, -2:].any():
            last = reduced.size - 1 - np.argmax(above[:, ::-1], axis=1)
            beyond = np.where(above.any(axis=1), np.minimum(last + 1, reduced.size - 1), 0)
            return np.asarray(reduced[beyond] / deviation)
        reduced = np.append(reduced, reduced[-1] * STEP ** np.arange(1, PROBES + 1))


def _left(passages: Passages, reduced: FloatArray, deviation: FloatArray) -> FloatArray:
    """About what the frequencies beyond each leave out, over the height of the peak."""
    omega = reduced / deviation[:, None]
    return np.asarray(np.abs(spectrum(passages, omega)) * reduced)


@dataclass(frozen=True)
class _Window:
    """One a lane: its begin s, step s; samples and every how many of them count, of all lanes."""

    start: FloatArray
    step: FloatArray
    samples: int
    every: int = 1


def _inverted(
    passages: Passages, window: _Window, highest: FloatArray, deviation: FloatArray
) -> tuple[Band, FloatArray, FloatArray]:
    """The band in its window, what may be wrong with it, and what stands at the window's ends."""
    spacing = 2 * np.pi / (window.samples * window.step)
    needed = int(np.ceil(np.max(highest / spacing))) + 1
    omega = spacing[:, None] * np.arange(min(needed, window.samples // 2 + 1, MOST_FREQUENCIES))
    whole = spectrum(passages, omega)
    cut = np.abs(whole[:, -1]) * omega[:, -1] * deviation
    whole *= np.exp(1j * omega * window.start[:, None])
    values = irfft(whole, window.samples, axis=1) / window.step[:, None]
    ends = np.abs(values[:, [0, 1, -2, -1]]).max(axis=1) / values.max(axis=1)
    band = Band(
        np.ascontiguousarray(values[:, :: window.every]), window.start, window.step * window.every
    )
    known = max(part.known for part, _ in passages)
    return band, known + cut + ends, ends


def _window(start: FloatArray, length: FloatArray, highest: FloatArray, recorder: Part) -> _Window:
    most = np.minimum(highest, 2 * np.pi * MOST_FREQUENCIES / length)
    if not (recorder.records and recorder.by_points):
        samples = _power(POINTS * float(np.max(most * length)) / (2 * np.pi))
        return _Window(start, length / samples, samples)
    interval = np.broadcast_to(np.asarray(recorder.interval, dtype=float), start.shape)
    phase = np.broadcast_to(np.asarray(recorder.sampling_phase, dtype=float), start.shape)
    first = np.ceil(start / interval - phase) + phase
    # between the points as many more as the highest frequency asks for
    every = max(int(np.ceil(np.max(interval * most) / np.pi)), 1)
    samples = every * _power(max(float(np.max(length / interval)) + 1, 8.0))
    return _Window(first * interval, interval / every, samples, every)


def _power(least: float) -> int:
    """The least power of two that is not smaller."""
    return 1 << int(np.ceil(np.log2(least)))


def _reach(said: Sequence[Cumulants], room: float) -> tuple[FloatArray, FloatArray]:
    """How far the window reaches before and behind the mean. Two (lanes,) arrays, s."""
    variances = np.array([one.variance for one in said])
    # the time constant of a gamma density with these two cumulants
    scales = np.array([one.third for one in said]) / (
        2 * np.where(variances > 0, variances, np.inf)
    )
    scales = np.maximum(scales, 0.0)
    limit = -np.log(TAIL)
    gaussian = np.sqrt(variances.sum(axis=0) / (2 * limit))
    before = np.full(gaussian.shape, np.inf)
    after = before.copy()
    for share in (0.25, 0.5, 1.0, 2.0):
        slow = 1 / (share * gaussian)
        before = np.minimum(before, (_growth(variances, scales, -slow) + limit) / slow)
        slow = 1 / (share * gaussian + 1.02 * room * scales.max(axis=0))
        after = np.minimum(after, (_growth(variances, room * scales, slow) + limit) / slow)
    deviation = np.sqrt(variances.sum(axis=0))
    before = np.minimum(room * before + deviation, np.sqrt(2 * limit) * deviation)
    return before, after


def _growth(variances: FloatArray, scales: FloatArray, rate: FloatArray) -> FloatArray:
    """Logarithm of the mean of exp(rate t), t from the mean, of a sum of gamma densities."""
    x = scales * rate
    small = np.abs(x) < 1e-3
    safe = np.where(small, 0.5, x)
    shape = np.where(small, 0.5 + x / 3, (-np.log1p(-safe) - safe) / safe**2)
    return np.asarray((variances * rate**2 * shape).sum(axis=0))


def _coarse(passages: Passages) -> bool:
    """Whether sums over the recorded points of any lane are not the moments of the curve.

    They are but for what passes at one turn an interval (Poisson's sum).
    """
    recorder, stream = passages[-1]
    if not (recorder.records and recorder.by_points):
        return False
    turn = np.broadcast_to(2 * np.pi / np.asarray(recorder.interval, float), (stream.lanes,))
    return bool(np.any(np.abs(spectrum(passages, turn[:, None])) > REST))


def multiply(itinerary: Itinerary) -> Result:
    """Make a journey by multiplying, as ``travel`` does by marching.

    What each part adds is said in closed form; discretisation errors are what window, frequencies
    and tables leave open. Raises AccuracyError: of paths of which ``not_multiplied`` says
    something.
    """
    passages = spread(itinerary)
    reason = not_multiplied(passages, np.inf)
    if reason:
        raise AccuracyError(f"this path is no product of transfer functions: {reason}; march it")
    said = cumulants_of(passages)
    last, bound = multiplied(passages, said)
    stages = stages_of(passages, last, said)
    if _coarse(passages):
        stages[-1] = replace(stages[-1], moments=moments(last))
    parts = part_results(passages, stages)
    peak = column_alone(
        passages,
        [part.mean_closed_form for part in parts],
        itinerary.resolution,
        lambda columns, _: multiplied(columns)[0],
    )
    recorded = measure(last, setting_behind(passages, stages, peak), stages[-1].moments)
    errors = of_product(recorded, bound, passages[0][1].flow_rate)
    return told(itinerary, stages, parts, peak, (recorded, errors))
