"""How far every metric is from the converged one, from a second journey half as fine."""

from collections.abc import Mapping

import numpy as np

from tailrace.measures import METRICS, SIGNALS, Peaks, Setting, measure
from tailrace.measures.chromatogram import half_height_resolution_error
from tailrace.measures.registry import APEX, HEIGHT, VARIANCE, WIDTH
from tailrace.quantities.arrays import BoolArray, FloatArray, IntArray, Number
from tailrace.signals.band import Band
from tailrace.signals.cubic import sample

ORDER_GAIN, EDGE_GAIN, CORNER_GAIN = 4.0, 1.0, 0.5
"""How many errors a run half as fine is away, at least: 15 for smooth bands of fourth order.
An edge brings the order down to one: where the signals are further apart than ``EDGE``, or much
further in one place than on the whole (``CUSP``): then, or where a corner is left, one or less."""
EDGE = 1e-3
CUSP = 1.3
"""Largest over L2 distance of two signals: 1 to 1.2 of smooth ones, 2 and more with a cusp."""
TINY = 1e-300
SIGNAL_SHARE = 0.15
"""How much of the distance of two signals is counted as the error of one metric."""


def distance(band: Band, rough: Band) -> FloatArray:
    """L2 distance of two signals over the norm of the first. (lanes,) array, 1."""
    apart = np.linalg.norm(sample(rough, band.times) - band.values, axis=1)
    return np.asarray(apart / np.linalg.norm(band.values, axis=1))


def largest_distance(band: Band, rough: Band) -> FloatArray:
    """Largest distance of two signals over the first one's height. (lanes,) array, 1."""
    apart = np.abs(sample(rough, band.times) - band.values).max(axis=1)
    return np.asarray(apart / np.abs(band.values).max(axis=1))


def of_metrics(
    values: Mapping[str, FloatArray],
    roughly: Mapping[str, FloatArray],
    apart: FloatArray,
    smooth: bool | BoolArray,
    flow_rate: Number,
    largest: FloatArray | None = None,
) -> dict[str, FloatArray]:
    """Estimate the error of every metric of single peaks.

    A metric may cross its converged value between the two runs and seem exact, so part of the
    distance of the two signals is added, as a share of what the registry says (its sensitivity).

    Parameters
    ----------
    values, roughly : dict of str to (lanes,) array, SI
        Metrics of the run and of one half as fine.
    apart : (lanes,) array, 1
        Distance of their last signals.
    smooth : bool
        Whether a part smooths the band; else a plug keeps a corner: first order.
    flow_rate : float or (lanes,) array, m^3/s
    largest : (lanes,) array, 1, optional
        ``largest_distance`` of the signals; as ``apart`` where it is not given.

    Returns
    -------
    dict of str to (lanes,) array, SI
    """
    largest = np.maximum(apart, apart if largest is None else largest)
    uneven = np.maximum(largest / (CUSP * apart + TINY), 1.0)
    gain = np.where(apart > EDGE, EDGE_GAIN, np.maximum(ORDER_GAIN / uneven**3, CORNER_GAIN))
    gain = np.where(smooth, gain, CORNER_GAIN)
    variance = np.maximum(values[VARIANCE], 0.0)
    sizes = {"width": np.sqrt(variance), "variance": variance * np.square(flow_rate)}
    errors = {}
    for name, found in values.items():
        metric = METRICS[name]
        size = sizes.get(metric.relative_to, np.abs(found))
        floor = SIGNAL_SHARE * largest * metric.sensitivity * size
        errors[name] = (np.abs(found - roughly[name]) + floor) / gain
    return errors


def with_apices(
    errors: Mapping[str, FloatArray],
    values: Mapping[str, FloatArray],
    band: Band,
    setting: Setting,
    beside: FloatArray,
    largest: FloatArray,
) -> dict[str, FloatArray]:
    """Add what follows from not knowing where a flat top, or one with a cusp, is highest.

    Parameters
    ----------
    errors, values : dict of str to (lanes,) array, SI
        As of ``of_metrics``; values are those of ``band`` in its ``setting``.
    band : Band
    setting : Setting
    beside : (lanes,) array, s
        How far from where it is read the apex of a peak with a cusp may stand, at least.
    largest : (lanes,) array, 1
        ``largest_distance`` of the signal from that of a run half as fine.

    Returns
    -------
    dict of str to (lanes,) array, SI
    """
    errors = dict(errors)
    apices = Peaks(band, setting).possible_apices(largest)
    apices = np.array([apices[0] - beside, apices[1] + beside])
    if np.all((apices == values[APEX]) | np.isnan(apices)):
        return errors
    moved = [measure(band, setting, one) for one in apices]
    for name, found in values.items():
        for one in moved:
            errors[name] = np.maximum(errors[name], np.nan_to_num(np.abs(one[name] - found)))
    return errors


def of_signal(
    name: str,
    value: FloatArray,
    recorded: Mapping[str, FloatArray],
    errors: Mapping[str, FloatArray],
) -> FloatArray:
    """Error of a metric of ``tailrace.measures.SIGNALS``, which goes with that of the height.

    Parameters
    ----------
    value : (..., lanes) array, SI
    recorded, errors : dict of str to (..., lanes) array, SI
        Metrics of the peaks and their errors.
    """
    relative = np.asarray(errors[HEIGHT], dtype=float) / np.asarray(recorded[HEIGHT], dtype=float)
    return np.asarray(np.abs(value) * relative * bool(SIGNALS[name].sensitivity))


def of_resolution(
    recorded: Mapping[str, FloatArray], errors: Mapping[str, FloatArray], order: IntArray
) -> FloatArray:
    """Error of the resolution of neighbours: of two times and two widths, all added up.

    Parameters
    ----------
    recorded, errors : dict of str to (..., lanes) array, SI
        Metrics of the peaks and their errors.
    order : (..., peaks) array of int, 1
        Lanes in the order of elution.

    Returns
    -------
    (..., peaks - 1) array, 1
        NaN where there are no errors.
    """
    if not {APEX, WIDTH} <= set(errors):
        return np.full((*order.shape[:-1], max(order.shape[-1] - 1, 0)), np.nan)
    rows = (
        np.take_along_axis(np.asarray(group[name], dtype=float), order, axis=-1)
        for group in (recorded, errors)
        for name in (APEX, WIDTH)
    )
    return half_height_resolution_error(*rows)


def of_valley(
    valley: FloatArray, resolution: FloatArray, shifted: FloatArray, heights: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Errors of a valley and of the resolution that follows from it, as for two equal Gaussians.

    Their valley is nearly 2 exp(-2 R^2), so that it changes by 4 R valley for each unit of R.

    Parameters
    ----------
    valley, resolution : (pairs,) array, 1
        Over the lower peak, and of two Gaussians with that valley.
    shifted : (pairs,) array, 1
        Relative error of the resolution from widths: of times and widths over widths.
    heights : (pairs,) array, 1
        Relative errors of both heights, added up.

    Returns
    -------
    two (pairs,) arrays, 1
        NaN where the valley gives no resolution.
    """
    steep = 4 * resolution * valley
    return valley * heights + steep * resolution * shifted, (
        resolution * shifted + heights / (4 * resolution)
    )
