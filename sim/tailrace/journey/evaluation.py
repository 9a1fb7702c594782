"""From the bands of a journey, fine and coarse, to everything that it says."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np

from tailrace.journey import discretisation
from tailrace.journey.gradients import focused_shares, handed_on, setting_of
from tailrace.journey.hydraulics import limited, pressure
from tailrace.journey.itinerary import Itinerary
from tailrace.journey.propagation import Stage, cusped, propagate, spread
from tailrace.journey.result import PartResult, Result
from tailrace.journey.signal import signal_of, too_dark
from tailrace.journey.validity import warnings_of
from tailrace.measures import Moments, Peaks, Setting, measure, moments
from tailrace.measures.peak import measured
from tailrace.measures.registry import (
    APEX,
    CAPACITY,
    HEIGHT,
    PLATES,
    PLATES_OWN,
    TAILING,
    VARIANCE,
    WIDTH,
)
from tailrace.parts import KINDS
from tailrace.parts.base import Part, Passage, Passages, joined_to
from tailrace.quantities.arrays import FloatArray
from tailrace.signals.band import Band
from tailrace.signals.resolution import Resolution

OWN = (PLATES, PLATES_OWN, TAILING, APEX, VARIANCE, WIDTH, HEIGHT, CAPACITY)
"""Metrics of the columns' own peak."""
UNSEEN = 1e-6
"""Of the variance of all parts: what a part takes off it by less is rounding."""
OwnPeak: TypeAlias = tuple[dict[str, FloatArray] | None, Band | None]


def behind_all(passages: Passages, resolution: Resolution) -> tuple[Band, Moments | None]:
    """The band behind the last of some passages, and its moments, by marching."""
    last = propagate(passages, resolution)[-1]
    assert last.band is not None
    return last.band, last.moments


def evaluate(
    itinerary: Itinerary,
    fine: Sequence[Stage],
    coarse: Sequence[Stage],
    own: Callable[[Passages, Sequence[FloatArray], Resolution], OwnPeak] | None = None,
) -> Result:
    """Read everything off the bands of one journey.

    Parameters
    ----------
    fine, coarse : sequence of Stage
        Behind each part, as of ``propagate``, the second half as fine. Only the last one needs its
        band; of others the result then has none.
    own : callable, optional
        Gives the columns' own peak in place of ``column_alone``, for journeys that share it.
    """
    passages = spread(itinerary)
    last, rough = fine[-1].band, coarse[-1].band
    if last is None or rough is None:
        raise ValueError("expected the last band of a journey, found none")
    parts = part_results(passages, fine)
    means = [part.mean_closed_form for part in parts]
    peak = (own or column_alone)(passages, means, itinerary.resolution)
    peaks = Peaks(last, setting_behind(passages, fine, peak))
    recorded = measured(peaks)
    roughly = measure(rough, setting_behind(passages, coarse, peak))
    apart, largest = discretisation.distances(last, rough)
    errors = discretisation.of_metrics(
        recorded,
        roughly,
        apart,
        any(part.smooths for part, _ in passages)
        and not any(part.bent_band or part.nearly_as_fine for part, _ in passages),
        passages[0][1].flow_rate,
        cusped(last, itinerary.resolution),
    )
    errors = discretisation.with_apices(errors, recorded, peaks, largest)
    errors = discretisation.with_points(errors, recorded, of_curve(passages, fine, peak))
    return result_of(itinerary, fine, parts, peak, (recorded, errors))


def of_curve(
    passages: Passages, stages: Sequence[Stage], peak: OwnPeak, known: Moments | None = None
) -> dict[str, FloatArray] | None:
    """Metrics of the curve that recorded points are taken of; None where none matter.

    ``known``: its moments, if they need no summing.
    """
    band = stages[-1].band
    if band is None or band.curve is None:
        return None
    known = known or moments(band.curve)
    whole = [*stages[:-1], replace(stages[-1], moments=known)]
    return measure(band.curve, setting_behind(passages, whole, peak), known)


def result_of(
    itinerary: Itinerary,
    stages: Sequence[Stage],
    parts: tuple[PartResult, ...],
    peak: OwnPeak,
    read: tuple[dict[str, FloatArray], dict[str, FloatArray]],
) -> Result:
    """All that a journey says whose recorded metrics and their errors have been ``read``.

    ``parts`` as of ``part_results``, ``peak`` as of ``column_alone``.
    """
    recorded, errors = read
    passages = spread(itinerary)
    alone, alone_band = peak
    last = stages[-1].band
    assert last is not None
    pressures = limited(pressure(passages), itinerary.pressure_limit)
    lost = np.sum([one.lost for one in stages], axis=0)
    signal = signal_of(passages, stages, recorded, alone)
    cautions = warnings_of(passages, itinerary, lost, last, pressures)
    return Result(
        lanes=itinerary.lanes,
        parts=parts,
        recorded=recorded,
        column_alone=alone,
        column_band=alone_band,
        numerical_error=errors,
        pressure=pressures,
        warnings=(*cautions, *too_dark(signal, itinerary.lanes)),
        signal=signal,
    )


def column_alone(
    passages: Passages,
    means: Sequence[FloatArray],
    resolution: Resolution,
    behind: Callable[[Passages, Resolution], tuple[Band, Moments | None]] = behind_all,
) -> OwnPeak:
    """The columns' own peak for an ideal injection, measured and drawn where it would stand.

    Several columns are passed one behind the other, with nothing between them.

    Parameters
    ----------
    passages : sequence of (part, Stream)
    means : sequence of (lanes,) array, s
        Time that each part adds, in closed form.
    behind : callable
        Gives the band behind the last of some passages, for a unit pulse; its moments if known.

    Returns
    -------
    dict of str to (lanes,) array, SI, or None
        Its metrics; None where there is no column.
    """
    columns = columns_met(passages, means)
    if not columns:
        return None, None
    band, known = behind([pair for pair, _ in columns], resolution)
    found = measure(band, setting_of([pair for pair, _ in columns]), known, only=OWN)
    # its retention is its own
    found[PLATES_OWN] = found[PLATES]
    outside = [mean for (part, _), mean in zip(passages, means, strict=True) if not part.separates]
    return (
        found,
        replace(band, start=band.start + np.sum([np.zeros(band.lanes), *outside], axis=0)),
    )


def column_alone_errors(
    passages: Passages, means: Sequence[FloatArray], resolution: Resolution, peak: OwnPeak
) -> dict[str, FloatArray]:
    """How far metrics of the columns' own peak are from the converged ones.

    From one half as fine, as for what is recorded; where a column is overloaded, a unit pulse stays
    an edge, and the order is one. Empty where there is no column. Parameters and units as of
    ``column_alone``, whose answer ``peak`` is.
    """
    found, band = peak
    roughly, rough = column_alone(passages, means, resolution.coarser())
    if found is None or band is None or roughly is None or rough is None:
        return {}
    apart, _ = discretisation.distances(band, rough)
    smooth = not any(part.no_transfer(stream) for part, stream in passages if part.separates)
    return discretisation.of_metrics(found, roughly, apart, smooth, passages[0][1].flow_rate)


def columns_met(
    passages: Passages, means: Sequence[FloatArray]
) -> list[tuple[Passage, FloatArray]]:
    """Each column as a band meets it for which the time in all other parts is none.

    With that time before it, (lanes,) array, s; parameters as of ``column_alone``.
    """
    found, elsewhere = [], np.zeros(passages[0][1].lanes)
    for (part, stream), mean in zip(passages, means, strict=True):
        if part.separates:
            found.append(((part.met_at(elsewhere, stream), stream), elsewhere))
        else:
            elsewhere = elsewhere + mean
    return found


@dataclass(frozen=True)
class _Added:
    """What a part, as it was met, added to the simulated band; (lanes,) arrays."""

    part: Part
    mean: FloatArray
    variance: FloatArray
    third: FloatArray
    focused: FloatArray

    @property
    def variance_recorded(self) -> FloatArray:
        left = np.where(np.isnan(self.focused), 1.0, 1 - self.focused)
        return np.asarray(self.variance * left)


def _added(passages: Passages, stages: Sequence[Stage]) -> Iterator[_Added]:
    nothing = np.zeros(passages[0][1].lanes)
    mean, variance, third = nothing, nothing, nothing
    entered = [Moments(nothing, nothing, nothing, nothing), *(one.moments for one in stages)]
    focused = focused_shares(passages, entered)
    for (part, stream), stage, taken_back in zip(passages, stages, focused, strict=True):
        part = part.met_at(mean, stream)
        variance, third = handed_on(part, stream, variance, third)
        after = stage.moments
        yield _Added(
            part, after.mean - mean, after.variance - variance, after.third - third, taken_back
        )
        mean, variance, third = after.mean, after.variance, after.third


def setting_behind(passages: Passages, stages: Sequence[Stage], peak: OwnPeak) -> Setting:
    """What metrics need beside the peak."""
    added = list(_added(passages, stages))
    outside = [one.variance_recorded for one in added if not one.part.separates]
    passing = [
        np.asarray(one.part.residence(stream)) - one.part.retained(stream)
        if one.part.separates
        else one.mean
        for one, (_, stream) in zip(added, passages, strict=True)
    ]
    return setting_of(
        passages,
        amount_recovered=1 - np.sum([one.lost for one in stages], axis=0),
        extra_column=np.sum([np.zeros_like(stages[0].lost), *outside], axis=0),
        own_time=None if peak[0] is None else peak[0][APEX],
        hold_up=None if peak[0] is None else np.sum(passing, axis=0),
    )


def part_results(passages: Passages, stages: Sequence[Stage]) -> tuple[PartResult, ...]:
    """Set what each part added beside what closed form says that it adds."""
    results = []
    every = list(_added(passages, stages))
    whole = np.nansum([np.abs(one.variance) for one in every], axis=0)
    rows = zip(passages, stages, every, strict=True)
    for place, ((_, stream), stage, added) in enumerate(rows):
        part, lanes = added.part, (stream.lanes,)
        if not part.focuses:
            # points too far apart to show the peak: what they add to it cannot be said
            seen = np.where(added.variance < -UNSEEN * whole, np.nan, added.variance)
            added = replace(added, variance=seen)
        cumulants = KINDS[part.kind].theory(part, stream, joined_to(passages, place))
        spread_out = np.where(added.variance > 0, added.variance, np.nan)
        results.append(
            PartResult(
                name=part.name,
                kind=part.kind,
                behind=part.behind,
                volume=np.broadcast_to(part.volume, lanes),
                residence=np.broadcast_to(part.residence(stream), lanes),
                fourier_number=part.fourier_number(stream),
                mean_closed_form=cumulants.mean,
                mean_simulated=added.mean,
                variance_gaussian_theory=cumulants.gaussian_variance,
                variance_exact=cumulants.variance,
                variance_simulated=added.variance,
                variance_volume=added.variance * np.square(passages[0][1].flow_rate),
                skewness_exact=cumulants.skewness,
                skewness_simulated=added.third / spread_out**1.5,
                amount_lost=stage.lost,
                gradient_focusing=added.focused,
                band=stage.band and replace(stage.band, upstream=None, jumps=None, curve=None),
            )
        )
    return tuple(results)
