"""What would come back if one part alone were ideal: the journey once more without its broadening.

An ideal part delays the band as it did, and broadens nothing: a tube, a joint or a chamber as plug
flow, a cell read at one point of such a flow, an injection all at once at its mean time, a detector
without filter and with points as fine as the signal. The column is not asked: it separates.

What comes back is found coarsely; finely, too, where no tube lies behind the part, for there a
coarse journey errs most and a fine one takes no time. The two then say how well it is known.
"""

from collections.abc import Callable, Sequence

import numpy as np

from tailrace.errors import TailraceError
from tailrace.journey.gradients import setting_of
from tailrace.journey.plan import first_pulse
from tailrace.journey.propagation import Stage, passed
from tailrace.journey.result import Regained
from tailrace.measures import measure
from tailrace.measures.chromatogram import half_height_resolution
from tailrace.measures.peaks import Setting
from tailrace.measures.registry import APEX, CAPACITY, PLATES, PLATES_OWN, WIDTH
from tailrace.parts.base import Passages
from tailrace.quantities.arrays import FloatArray, IntArray
from tailrace.signals.band import Band
from tailrace.signals.resolution import Resolution

SAFETY = 2.0
"""A peak that one part less has smoothed is met less well than the recorded one; seen: 1.7."""


def askable(passages: Passages) -> list[int]:
    """The parts of which it is asked: all that the recorded band passed, but the column."""
    return [at for at, (part, _) in enumerate(passages) if not (part.separates or part.behind)]


def quick(passages: Passages, at: int) -> bool:
    """Whether all parts behind one answer by known responses alone."""
    return not any(part.laminar or part.separates for part, _ in passages[at + 1 :])


def steps(passages: Passages) -> int:
    """How many parts are passed for all of them."""
    return sum((len(passages) - 1 - at) * (1 + quick(passages, at)) for at in askable(passages))


def regained(
    passages: Passages,
    recorded: dict[str, FloatArray],
    journeys: Sequence[tuple[Sequence[Stage], Resolution]],
    own_time: FloatArray | None,
    count: Callable[[], None] | None = None,
) -> Regained:
    """Make the journey once more for each part, from there on.

    Parameters
    ----------
    passages : sequence of (part, Stream)
    recorded : dict of str to (lanes,) array, SI
        Metrics of the journey, finely.
    journeys : (coarse, fine)
        Stages of the journey and the resolution at which it was made: what comes back is the ratio
        of two peaks computed alike, times the fine one.
    own_time : (lanes,) array, s, or None
        Retention that the column alone gives, at which plates are told; None without a column.
    count : callable, optional
        Called after each part.
    """
    setting = setting_of(passages, own_time=own_time)
    bases = [_last(stages, setting) for stages, _ in journeys]
    nowhere = np.full(passages[0][1].lanes, np.nan)
    order = np.argsort(recorded[APEX], kind="stable")
    plates = PLATES if own_time is None else PLATES_OWN
    found: dict[str, dict[str, FloatArray]] = {plates: {}, CAPACITY: {}}
    apart: dict[str, float] = {}
    errors: dict[str, FloatArray] = {}
    for at in askable(passages):
        name = passages[at][0].name
        peaks = [
            _peak(at, passages, journey, setting, count)
            for journey in journeys[: 1 + quick(passages, at)]
        ]
        for metric, rows in found.items():
            fine = recorded.get(metric, nowhere)
            now, before = ([one.get(metric, nowhere) for one in read] for read in (peaks, bases))
            rows[name], error = _back(fine, now, before)
            if np.isfinite(fine).any():
                errors[name] = error
        base = bases[len(peaks) - 1]
        apart[name] = _closest(recorded, base, peaks[-1], order) if peaks[-1] else float("nan")
    return Regained(
        plates=found[plates],
        peak_capacity=found[CAPACITY],
        resolution=apart,
        numerical_error={name: errors.get(name, nowhere) for name in apart},
    )


def _back(
    fine: FloatArray, now: Sequence[FloatArray], before: Sequence[FloatArray]
) -> tuple[FloatArray, FloatArray]:
    """What comes back of a metric, and its error; (lanes,) arrays.

    ``fine``: as recorded; ``now``, ``before``: without the part and with it, coarsely first; what
    comes back may be known coarsely alone.
    """
    backs = [fine * (one / other - 1) for one, other in zip(now, before, strict=False)]
    wrong = SAFETY * np.abs(before[0] / fine - 1)
    differ = wrong * fine if len(backs) == 1 else np.abs(backs[1] - backs[0])
    return backs[-1], differ + wrong * np.abs(backs[-1])


def _last(stages: Sequence[Stage], setting: Setting) -> dict[str, FloatArray]:
    band = stages[-1].band
    assert band is not None
    return measure(band, setting)


def _peak(
    at: int,
    passages: Passages,
    journey: tuple[Sequence[Stage], Resolution],
    setting: Setting,
    count: Callable[[], None] | None,
) -> dict[str, FloatArray]:
    """Metrics of what is recorded without a part's broadening; none where it cannot be computed."""
    try:
        return measure(_without(at, passages, *journey, count), setting)
    except TailraceError:
        return {}


def _without(
    at: int,
    passages: Passages,
    stages: Sequence[Stage],
    resolution: Resolution,
    count: Callable[[], None] | None,
) -> Band:
    """What is recorded if a part hands on the band that it met, later by its own mean time."""
    if at == 0:
        band, before = first_pulse(passages, resolution), np.zeros_like(stages[0].moments.mean)
    else:
        entering = stages[at - 1].band
        assert entering is not None
        band, before = entering, stages[at - 1].moments.mean
    band = band.delayed(stages[at].moments.mean - before)
    seen = band
    for passage in passages[at + 1 :]:
        band, stage = passed(passage, band, resolution)
        assert stage.band is not None
        seen = stage.band
        if count is not None:
            count()
    return seen


def _closest(
    recorded: dict[str, FloatArray],
    base: dict[str, FloatArray],
    peak: dict[str, FloatArray],
    order: IntArray,
) -> float:
    """Resolution of the critical pair that comes back."""
    if len(order) < 2:
        return float("nan")
    fine, rough, now = (
        half_height_resolution(one[APEX][order], one[WIDTH][order])
        for one in (recorded, base, peak)
    )
    if not np.isfinite(fine).any():
        return float("nan")
    critical = int(np.nanargmin(fine))
    return float(fine[critical] * (now[critical] / rough[critical] - 1))
