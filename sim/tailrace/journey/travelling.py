"""Making a journey: the band is handed from part to part, and what each did is written down."""

from dataclasses import replace

import numpy as np

from tailrace.errors import BudgetError
from tailrace.journey.gradients import (
    as_met,
    focused_shares,
    handed_on,
    setting_of,
)
from tailrace.journey.hydraulics import pressure
from tailrace.journey.plan import DECIMATION, first_pulse
from tailrace.journey.result import PartResult, Result
from tailrace.journey.signal import signal_of, too_dark
from tailrace.journey.validity import warnings_of
from tailrace.measures import METRICS, measure, moments
from tailrace.measures.registry import APEX, CAPACITY, HEIGHT, PLATES, TAILING, VARIANCE, WIDTH
from tailrace.parts import KINDS
from tailrace.signals.cubic import sample
from tailrace.signals.window import decimated, trimmed

ORDER_GAIN, EDGE_GAIN = 4.0, 1.0
"""How many errors a run half as fine is away, at least: 15 for smooth bands of fourth order; one
where the signals are further apart than ``EDGE``, because an edge brings the order down to one."""
EDGE = 1e-3
SIGNAL_SHARE = 0.15
"""How much of the distance of two signals is counted as the error of one metric."""


def travel(itinerary, progress=None) -> Result:
    """Send every lane through the whole path, twice, and say how far the figures can be trusted.

    Parameters
    ----------
    itinerary : Itinerary
    progress : callable, optional
        Called as ``progress(done, total)`` after each part.

    Returns
    -------
    Result

    Raises
    ------
    BudgetError
        If the journey would take more memory or time than the parts allow themselves.
    AccuracyError
        If a part could not be computed to the end.
    """
    lanes = len(itinerary.lanes)
    passages = [(part, stream.over(lanes)) for part, stream in itinerary.passages]
    fine, coarse = itinerary.resolution, itinerary.resolution.coarser()
    bands, lost = pass_through(passages, fine, _counter(progress, 0, 2 * len(passages)))
    rough, lost_roughly = pass_through(
        passages, coarse, _counter(progress, len(passages), 2 * len(passages))
    )
    parts = _part_results(passages, bands, lost)
    setting = _setting(passages, parts)
    recorded = measure(bands[-1], setting)
    roughly = measure(rough[-1], _setting(passages, _part_results(passages, rough, lost_roughly)))
    smooth = any(part.smooths for part, _ in passages)
    error = numerical_error(recorded, roughly, bands[-1], rough[-1], smooth, setting.flow_rate)
    column_alone, column_band = _column_alone(passages, parts, fine)
    pressures = pressure(passages)
    signal = signal_of(passages, parts, recorded, column_alone)
    said = warnings_of(passages, itinerary, parts, pressures)
    return Result(
        lanes=itinerary.lanes,
        parts=parts,
        recorded=recorded,
        column_alone=column_alone,
        column_band=column_band,
        numerical_error=error,
        pressure=pressures,
        warnings=(*said, *too_dark(signal, itinerary.lanes)),
        signal=signal,
    )


def pass_through(passages, resolution, count=None):
    """Hand a band from part to part.

    Parameters
    ----------
    passages : list of (part, Stream)
        Every number of the streams a (lanes,) array.
    resolution : Resolution
    count : callable, optional
        Called after each part.

    Returns
    -------
    bands : list of Band
        Behind each part; behind a detector the points that it records.
    lost : list of (lanes,) array, 1
        What each part's time window cut off.
    """
    band = first_pulse(passages, resolution)
    bands, lost = [], []
    for part, stream in passages:
        band, gone = handed_through(part, stream, band, resolution)
        bands.append(KINDS[part.kind].recorded(part, band))
        lost.append(gone)
        if count is not None:
            count()
    return bands, lost


def handed_through(part, stream, band, resolution):
    """Send a band through one part, and cut and thin what leaves.

    Parameters
    ----------
    part : a part of ``tailrace.parts``
    stream : Stream
    band : Band
    resolution : Resolution

    Returns
    -------
    band : Band
        Behind the part; of a detector the filtered signal, from which its points are taken.
    lost : (lanes,) array, 1
        What the part's time window cut off.
    """
    entered = band.area
    try:
        band = KINDS[part.kind].march(part, stream, band, resolution)
    except BudgetError as error:
        # What several parts share does not know in which of them it is.
        told = str(error)
        raise BudgetError(told if told.startswith(part.name) else f"{part.name}: {told}") from None
    held = entered - band.area
    band, cut_off = trimmed(band, resolution.truncation)
    return decimated(band, DECIMATION / resolution.refinement**4), held + cut_off


def numerical_error(recorded, coarse, band, rough, smooth, flow_rate=np.nan):
    """Estimate how far every figure is from the converged one.

    A figure may cross its converged value between the two runs and seem exact, so part of the
    distance of the two signals is added, as a share of the figure (of the width for a time).

    Parameters
    ----------
    recorded, coarse : dict of str to (lanes,) array, SI
        Figures of the run and of one half as fine.
    band, rough : Band
        Their last signals.
    smooth : bool
        Whether a tube or column smooths the band; else a plug keeps a corner: first order.
    flow_rate : float or (lanes,) array, m^3/s, optional
        For variances in volume.

    Returns
    -------
    dict of str to (lanes,) array, SI
    """
    apart = np.linalg.norm(sample(rough, band.times) - band.values, axis=1)
    apart /= np.linalg.norm(band.values, axis=1)
    gain = np.where((apart > EDGE) | (not smooth), EDGE_GAIN, ORDER_GAIN)
    variance = np.maximum(recorded[VARIANCE], 0.0)
    sizes = {"width": np.sqrt(variance), "variance": variance * np.square(flow_rate)}
    errors = {}
    for name, values in recorded.items():
        metric = METRICS[name]
        size = sizes.get(metric.relative_to, np.abs(values))
        floor = SIGNAL_SHARE * apart * metric.sensitivity * size
        errors[name] = (np.abs(values - coarse[name]) + floor) / gain
    return errors


def _setting(passages, parts):
    """What metrics need beside the peak, from what each part did."""
    outside = [part.variance_recorded for part in parts if not part.separates]
    return setting_of(
        passages,
        amount_recovered=1 - sum(part.amount_lost for part in parts),
        extra_column=np.sum(outside, axis=0),
    )


def _counter(progress, done, total):
    """Turn ``progress(done, total)`` into a call without arguments; None stays None."""
    if progress is None:
        return None
    state = [done]

    def count():
        state[0] += 1
        progress(state[0], total)

    return count


def _part_results(passages, bands, lost):
    """Set what each part added beside what closed form says that it adds."""
    nothing = np.zeros(bands[0].lanes)
    mean, variance, third = nothing, nothing, nothing
    behind = [moments(band) for band in bands]
    focused = focused_shares(passages, [nothing, *(one.mean for one in behind)])
    results = []
    rows = zip(passages, bands, behind, lost, focused, strict=True)
    for (part, stream), band, after, gone, taken_back in rows:
        part = as_met(part, mean, stream)
        said = KINDS[part.kind].theory(part, stream)
        variance, third = handed_on(part, stream, variance, third)
        added = replace(
            said,
            mean=after.mean - mean,
            variance=after.variance - variance,
            third=after.third - third,
        )
        mean, variance, third = after.mean, after.variance, after.third
        nowhere = np.full(band.lanes, np.nan)
        results.append(
            PartResult(
                name=part.name,
                kind=part.kind,
                volume=np.broadcast_to(part.volume, nowhere.shape),
                residence=np.broadcast_to(part.residence(stream), nowhere.shape),
                fourier_number=part.fourier_number(stream),
                mean_closed_form=said.mean,
                mean_simulated=added.mean,
                variance_gaussian_theory=said.gaussian_variance,
                variance_exact=said.variance,
                variance_simulated=added.variance,
                skewness_exact=said.skewness,
                skewness_simulated=added.skewness,
                amount_lost=gone,
                gradient_focusing=taken_back,
                band=band,
            )
        )
    return tuple(results)


def _column_alone(passages, parts, resolution):
    """The column's own peak for an ideal injection, measured and drawn where it would stand."""
    columns = [pair for pair in passages if pair[0].separates]
    if not columns:
        return None, None
    column, stream = columns[0]
    place = next(index for index, part in enumerate(parts) if part.separates)
    arrival = sum(part.mean_closed_form for part in parts[:place])
    bands, _ = pass_through([(as_met(column, arrival, stream), stream)], resolution)
    figures = measure(bands[0], setting_of(columns))
    kept = (PLATES, TAILING, APEX, WIDTH, HEIGHT, CAPACITY)
    alone = {name: figures[name] for name in kept if name in figures}
    elsewhere = sum(part.mean_closed_form for part in parts if not part.separates)
    return alone, replace(bands[0], start=bands[0].start + elsewhere)
