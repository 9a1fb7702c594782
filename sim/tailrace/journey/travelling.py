"""Making a journey: the band is handed from part to part, and what each did is written down."""

from dataclasses import replace

import numpy as np

from tailrace.errors import BudgetError
from tailrace.journey.gradients import (
    as_met,
    focused_shares,
    gradient_column,
    handed_on,
    in_gradient,
)
from tailrace.journey.hydraulics import pressure
from tailrace.journey.plan import DECIMATION, first_pulse
from tailrace.journey.result import PartResult, Result
from tailrace.journey.signal import signal_of, too_dark
from tailrace.journey.validity import warnings_of
from tailrace.measures import measure, moments
from tailrace.parts import KINDS
from tailrace.signals.cubic import sample
from tailrace.signals.window import decimated, trimmed

ORDER_GAIN, EDGE_GAIN = 4.0, 1.0
"""How many errors a run half as fine is away, at least: 15 for smooth bands of fourth order; one
where the signals are further apart than ``EDGE``, because an edge brings the order down to one."""
EDGE = 1e-3
SIGNAL_SHARE = 0.15
"""How much of the distance of two signals is laid at the door of one figure."""
SENSITIVITY = {
    "area": 0.5,
    "variance": 0.5,
    "skewness": 0.5,
    "plates_moments": 0.5,
    "width_half": 2.0,
    "plates_half_height": 4.0,
    "plates_tangent": 8.0,
    "plates_five_sigma": 7.3,
}
"""Relative error of a figure over that of its signal (over the height), near a Gaussian's: from the
slope of the flank where it is read; small for sums over the whole peak; 2 for the rest."""


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
    rough, _ = pass_through(passages, coarse, _counter(progress, len(passages), 2 * len(passages)))
    parts = _part_results(passages, bands, lost)
    column = gradient_column(passages)
    recorded = in_gradient(measure(bands[-1]), column)
    coarse_figures = in_gradient(measure(rough[-1]), column)
    smooth = any(part.kind in ("tube", "column") for part, _ in passages)
    error = numerical_error(recorded, coarse_figures, bands[-1], rough[-1], smooth)
    recorded["amount_recovered"] = 1 - sum(lost)
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


def numerical_error(recorded, coarse, band, rough, smooth):
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

    Returns
    -------
    dict of str to (lanes,) array, SI
    """
    apart = np.linalg.norm(sample(rough, band.times) - band.values, axis=1)
    apart /= np.linalg.norm(band.values, axis=1)
    gain = np.where((apart > EDGE) | (not smooth), EDGE_GAIN, ORDER_GAIN)
    width = np.sqrt(np.maximum(recorded["variance"], 0.0))
    errors = {}
    for name, figure in recorded.items():
        size = width if name in ("apex", "mean") else np.abs(figure)
        floor = SIGNAL_SHARE * apart * SENSITIVITY.get(name, 2.0) * size
        errors[name] = (np.abs(figure - coarse[name]) + floor) / gain
    return errors


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
        fourier = part.fourier_number(stream) if part.kind == "tube" else nowhere
        results.append(
            PartResult(
                name=part.name,
                kind=part.kind,
                volume=np.broadcast_to(getattr(part, "volume", np.nan), nowhere.shape),
                residence=np.broadcast_to(part.residence(stream), nowhere.shape),
                fourier_number=fourier,
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
    columns = [pair for pair in passages if pair[0].kind == "column"]
    if not columns:
        return None, None
    column, stream = columns[0]
    place = next(index for index, part in enumerate(parts) if part.kind == "column")
    arrival = sum(part.mean_closed_form for part in parts[:place])
    bands, _ = pass_through([(as_met(column, arrival, stream), stream)], resolution)
    figures = in_gradient(measure(bands[0]), gradient_column(columns))
    kept = ("plates_half_height", "tailing_5", "apex", "width_half", "height")
    alone = {name: figures[name] for name in (*kept, "peak_capacity") if name in figures}
    elsewhere = sum(part.mean_closed_form for part in parts if part.kind != "column")
    return alone, replace(bands[0], start=bands[0].start + elsewhere)
