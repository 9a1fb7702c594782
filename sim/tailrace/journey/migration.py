"""A path with columns through which every element of a band migrates by its own clock.

Such a column is linear but not the same at all times: it has no transfer function, and the band
goes through it as in a march. What lies before it is a product, without the frequencies that no
column of so many plates lets through; and so is what lies behind: the spectrum of the samples that
leave, times the transfer functions of the rest. The column alone makes the discretisation error,
which is that of a second passage half as fine. Lanes that are alike up to the last such column, as
instruments that differ behind it, pass it once.
"""

from collections.abc import Sequence
from dataclasses import replace
from functools import partial

import numpy as np
from scipy.fft import irfft, rfft
from scipy.special import erfc

from tailrace.errors import AccuracyError
from tailrace.journey.discretisation import of_product
from tailrace.journey.evaluation import column_alone, evaluate
from tailrace.journey.itinerary import Itinerary
from tailrace.journey.lanes import by_lane, picked
from tailrace.journey.product import (
    ROOM,
    WRAPPED,
    cumulants_of,
    curve,
    multiply,
    no_factor,
    not_multiplied,
    spectra,
    spectrum,
    stage_sums,
)
from tailrace.journey.propagation import Stage, passed, propagate, spread
from tailrace.journey.result import Result
from tailrace.journey.windows import Window, quick, reach_of
from tailrace.measures import Moments, moments
from tailrace.parts import KINDS
from tailrace.parts.base import Passage, Passages
from tailrace.quantities.arrays import FloatArray, IntArray
from tailrace.signals.band import Band
from tailrace.signals.cumulants import Cumulants
from tailrace.signals.resolution import Resolution
from tailrace.signals.window import trimmed

HALVED, SOFT, LAST, BLURRED, PER_WIDTH = 10.5, 0.9, 14.0, 10.0, 12
"""Frequencies, times the least standard deviation that a column adds: where they are kept by half,
within what they fall (a Gauss integral, which leaves no ripple far from an edge), the last one. A
Gaussian passes 2e-11 at 7, where all are kept yet. Such standard deviations over which an edge is
blurred, and samples to one."""
FINER = 2
"""Samples behind the column to one that leaves it: all that the spectrum of these holds."""


def not_by_products(passages: Passages, many: bool = False, bends: bool = False) -> str:
    """As ``not_multiplied``, where bands may migrate through columns between products; with
    ``bends`` through such, too, in which the way of neighbours bends."""
    columns = columns_of(passages)
    if not columns:
        return not_multiplied(passages, many)
    for at in columns:
        part, stream = passages[at]
        if part.bent_band and not bends:
            return part.no_transfer(stream)
    for part, _ in passages[: columns[0]]:
        if part.observes:
            return f"{part.name} stands before a column through which bands migrate"
    return no_factor([pair for pair in passages if not pair[0].focuses], many)


def by_products(itinerary: Itinerary) -> Result:
    """Make a journey by multiplying wherever the path is a product, as ``travel`` by marching.

    Raises AccuracyError: of paths of which ``not_by_products`` says something; and as ``travel`` of
    the columns between products.
    """
    passages = spread(itinerary)
    columns = columns_of(passages)
    if not columns:
        return multiply(itinerary)
    reason = not_by_products(passages, many=True)
    if reason:
        raise AccuracyError(f"this path is no product of transfer functions: {reason}; march it")
    fine, coarse = stages_between(passages, itinerary.resolution, itinerary.resolution.coarser())
    found = evaluate(itinerary, fine, coarse, partial(column_alone, behind=_once))
    known = sum(part.known(stream) for part, stream in passages)
    more = of_product(found.recorded, np.full(len(found.lanes), known), passages[0][1].flow_rate)
    errors = {name: error + more[name] for name, error in found.numerical_error.items()}
    return replace(found, numerical_error=errors)


def stages_between(passages: Passages, *resolutions: Resolution) -> list[list[Stage]]:
    """What stands behind each part of a path with such columns, at each resolution."""
    columns = columns_of(passages)
    end = columns[-1] + 1
    few, back = distinct(passages[:end])
    entering = _before(few[: columns[0] + 1])
    stages = list[list[Stage]]()
    for resolution in resolutions:
        found = [*entering, *_onward(few[columns[0] :], entering[-1], resolution)]
        found = [_laid_out(one, back) for one in found]
        band = found[-1].band
        assert band is not None
        if end < len(passages):
            found += _behind(passages[end:], band, found[-1].moments)
        stages.append(found)
    return stages


def distinct(passages: Passages) -> tuple[Passages, IntArray]:
    """The lanes of some passages that differ, and for each lane which of these it is."""
    lanes = passages[0][1].lanes
    rows = [value for pair in passages for one in pair for _, value in by_lane(one, lanes)]
    # byte by byte, for what is not given is NaN
    whole = np.ascontiguousarray(np.array(rows, dtype=float).T).view(
        np.dtype((np.void, 8 * len(rows)))
    )
    _, first, back = np.unique(whole.reshape(-1), return_index=True, return_inverse=True)
    return (picked(passages, first), back) if first.size < lanes else (passages, np.arange(lanes))


def _laid_out(stage: Stage, back: IntArray) -> Stage:
    """A stage of distinct lanes as one of all."""
    sums = Moments(*(one[back] for one in stage.moments.rows))
    band, seen = stage.band, stage.seen
    if band is not None:
        band = Band(band.values[back], band.start[back], band.step[back])
    seen = None if seen is None else seen[back]
    return Stage(moments=sums, lost=stage.lost[back], band=band, seen=seen)


def _once(passages: Passages, resolution: Resolution) -> tuple[Band, Moments | None]:
    """As ``behind_all``, lanes that are the same once."""
    few, back = distinct(passages)
    stage = _laid_out(propagate(few, resolution)[-1], back)
    assert stage.band is not None
    return stage.band, stage.moments


def columns_of(passages: Passages) -> list[int]:
    """Places of the columns through which bands migrate."""
    return [at for at, (part, _) in enumerate(passages) if part.focuses]


def _before(passages: Passages) -> list[Stage]:
    """What stands behind each part before a column, which is the last of the passages.

    The band that enters it is without what the column does not let through.
    """
    *path, column = passages
    cumulants = cumulants_of(path)
    for room in ROOM:
        window, omega, factors = entrance(cumulants, column, room)
        values = curve(spectrum(path, omega) * factors, omega, window.start, window)
        ends = np.abs(values[:, [0, 1, -2, -1]]).max(axis=1)
        if not np.any(ends > WRAPPED * values.max(axis=1)):
            break
    nothing = np.zeros(len(window.start))
    stages = [Stage(moments=one, lost=nothing, band=None) for one in stage_sums(cumulants)]
    stages[-1] = replace(stages[-1], band=Band(values, window.start, window.step))
    return stages


def entrance(
    cumulants: Sequence[Cumulants], passage: Passage, room: float
) -> tuple[Window, FloatArray, FloatArray]:
    """How a band is laid out in time before such a column; ``cumulants``: of what comes before it.

    The window, and of the band's (lanes, frequencies) spectrum the frequencies, rad/s, and what is
    kept of it: all that the column lets through.
    """
    mean, variance = (
        np.sum([np.zeros(passage[1].lanes), *rows], axis=0)
        for rows in ([one.mean for one in cumulants], [one.variance for one in cumulants])
    )
    width = blurred(mean, passage)
    reach = reach_of(cumulants, room) if np.all(variance > 0) else (np.zeros_like(width),) * 2
    before, after = (one + BLURRED * width for one in reach)
    samples = quick(PER_WIDTH * float(np.max((before + after) / width)))
    window = Window(mean - before, (before + after) / samples, samples)
    spacing = 2 * np.pi / (before + after)
    count = min(int(np.max(LAST / width / spacing)) + 1, samples // 2 + 1)
    omega = spacing[:, None] * np.arange(count)
    return window, omega, 0.5 * erfc((omega * width[:, None] - HALVED) / SOFT)


def blurred(mean: FloatArray, passage: Passage) -> FloatArray:
    """Least standard deviation that such a column adds, in time as a band enters about ``mean``, s.

    (lanes,) arrays, s.
    """
    column, stream = passage
    there = column.met_at(mean, stream)
    width = np.broadcast_to(there.shortest_time(stream), (stream.lanes,))
    return np.asarray(width / np.sqrt(np.maximum(there.variance_passed(stream), 1.0)))


def _onward(passages: Passages, stage: Stage, resolution: Resolution) -> list[Stage]:
    """What stands behind each of some parts, of which the first is such a column."""
    stages, begins = list[Stage](), columns_of(passages)
    for begin, end in zip(begins, [*begins[1:], len(passages)], strict=True):
        assert stage.band is not None
        band, _ = trimmed(stage.band, resolution.truncation)
        band, stage = passed(passages[begin], band, resolution)
        stages.append(stage)
        if end > begin + 1:
            stages += _behind(passages[begin + 1 : end], band, stage.moments)
            stage = stages[-1]
    return stages


def _behind(passages: Passages, band: Band, entered: Moments) -> list[Stage]:
    """What stands behind parts that are a product, of a band that enters as samples."""
    cumulants, last = cumulants_of(passages), len(passages) - 1
    looked = [at for at, (part, _) in enumerate(passages) if part.observes and not part.behind]
    places = [*(at for at in looked if at < last), last]
    for room in ROOM:
        bands = _multiplied(passages, places, (band, entered, cumulants), room)
        ends = np.abs(bands[-1].values[:, [0, 1, -2, -1]]).max(axis=1)
        if not np.any(ends > WRAPPED * bands[-1].values.max(axis=1)):
            break
    part, found = passages[last][0], list[Stage]()
    bands[-1] = KINDS[part.kind].recorded(part, bands[-1])
    rows = np.cumsum([(one.mean, one.variance, one.third) for one in cumulants], axis=0)
    nothing = np.zeros(band.lanes)
    for at, row in enumerate(rows):
        sums = (one + more for one, more in zip(entered.rows[1:], row, strict=True))
        one = Stage(moments=Moments(entered.rows[0], *sums), lost=nothing, band=None)
        if at in places:
            one = replace(one, band=bands[places.index(at)])
        found.append(one if at == last else one.slim(passages[at][0]))
    found[-1] = replace(found[-1], moments=moments(bands[-1]))
    return found


def _multiplied(
    passages: Passages,
    places: Sequence[int],
    entering: tuple[Band, Moments, Sequence[Cumulants]],
    room: float,
) -> list[Band]:
    """The bands behind some places, in one window: for the whole of what enters, and what the parts
    make of it."""
    band, entered, cumulants = entering
    of_band = Cumulants(
        mean=entered.mean,
        gaussian_variance=entered.variance,
        variance=entered.variance,
        third=entered.third,
    )
    before, after = reach_of([of_band, *cumulants], room)
    delay = np.sum([one.mean for one in cumulants], axis=0)
    middle, width = entered.mean + delay, band.values.shape[1] * band.step
    start = np.minimum(middle - before, band.start + delay)
    end: FloatArray = np.maximum(middle + after, band.start + delay + width)
    samples = quick(float(np.max((end - start) / band.step)))
    spacing = 2 * np.pi / (samples * band.step)
    omega = spacing[:, None] * np.arange(samples // 2 + 1)
    turned = rfft(band.values, samples, axis=1) * np.exp(1j * omega * (start - band.start)[:, None])
    return [
        Band(
            FINER * irfft(turned * factor, FINER * samples, axis=1),
            start,
            band.step / FINER,
        )
        for factor in spectra(passages, omega, places)
    ]
