"""How far every metric is from the converged one, from a second journey half as fine."""

from collections.abc import Mapping

import numpy as np

from tailrace.measures import METRICS, SIGNALS, Peaks
from tailrace.measures.chromatogram import half_height_resolution_error
from tailrace.measures.peak import measured
from tailrace.measures.registry import APEX, HEIGHT, RETENTION, VARIANCE, WIDTH
from tailrace.quantities.arrays import BoolArray, FloatArray, IntArray, Number
from tailrace.signals.band import Band
from tailrace.signals.cubic import sample

ORDER_GAIN, CUSP_GAIN, EDGE_GAIN = 4.0, 2.0, 1.0
"""How many errors a run half as fine is away, at least: 15 for smooth bands of fourth order; fewer
where a cusp is left; one where the signals are further apart than ``EDGE``, because an edge brings
the order down to one, and of bent tubes, whose grids are only 1.5 times as coarse and whose steps
along the tube are of third order: their difference is 2.4 errors, less where others cancel."""
EDGE, LEAP = 1e-3, 0.05
"""Of the signal, and of a metric, which then does not converge yet: tangents at another flank."""
APEX_SHARE, UNSURE = 0.25, 1.5
"""Of the largest distance of two signals: what blurs the apex; and by how much more than the error
of its time, before that is followed into other metrics."""
SIGNAL_SHARE = 0.15
"""How much of the distance of two signals is counted as the error of one metric."""


def distance(band: Band, rough: Band) -> FloatArray:
    """L2 distance of two signals over the norm of the first. (lanes,) array, 1."""
    return distances(band, rough)[0]


def distances(band: Band, rough: Band) -> tuple[FloatArray, FloatArray]:
    """L2 distance of two signals, and their largest, each over that of the first from zero.

    Two (lanes,) arrays, 1.
    """
    apart = sample(rough, band.times) - band.values
    l2, most = (
        np.linalg.norm(apart, order, axis=1) / np.linalg.norm(band.values, order, axis=1)
        for order in (2, np.inf)
    )
    return np.asarray(l2), np.asarray(most)


def of_metrics(
    values: Mapping[str, FloatArray],
    roughly: Mapping[str, FloatArray],
    apart: FloatArray,
    smooth: bool | BoolArray,
    flow_rate: Number,
    cusped: bool | BoolArray = False,
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
    cusped : (lanes,) array of bool, or bool
        Whether a cusp is left.

    Returns
    -------
    dict of str to (lanes,) array, SI
    """
    gain = np.where(cusped, CUSP_GAIN, ORDER_GAIN)
    gain = np.where((apart > EDGE) | np.logical_not(smooth), EDGE_GAIN, gain)
    floors = of_product(values, SIGNAL_SHARE * apart, flow_rate)
    errors = {}
    for name, found in values.items():
        moved = np.abs(found - roughly[name])
        leapt = moved > LEAP * np.abs(found)
        errors[name] = (moved + floors[name]) / np.where(leapt, EDGE_GAIN, gain)
    return errors


def of_product(
    values: Mapping[str, FloatArray], bound: FloatArray, flow_rate: Number
) -> dict[str, FloatArray]:
    """Error of every metric of a signal known to ``bound``, (lanes,) array, over its height.

    What the registry says of each metric times the bound; the rest as of ``of_metrics``.
    """
    variance = np.maximum(values[VARIANCE], 0.0)
    width = np.sqrt(variance)
    sizes = {"width": width, "variance": variance * np.square(flow_rate)}
    if RETENTION in values:
        sizes["hold_up"] = width * (1 + values[RETENTION]) / np.abs(values[APEX])
    return {
        name: bound
        * METRICS[name].sensitivity
        * sizes.get(METRICS[name].relative_to, np.abs(found))
        for name, found in values.items()
    }


def with_apices(
    errors: dict[str, FloatArray],
    values: Mapping[str, FloatArray],
    peaks: Peaks,
    largest: FloatArray,
) -> dict[str, FloatArray]:
    """Add what follows from not knowing where a flat top is highest.

    Parameters
    ----------
    errors, values : dict of str to (lanes,) array, SI
        As of ``of_metrics``; values are those of ``peaks``.
    peaks : Peaks
    largest : (lanes,) array, 1
        Largest distance from the signal of a run half as fine.
    """
    apex = values[APEX]
    first, last = peaks.outlines.possible_apices(APEX_SHARE * largest)
    unsure = np.maximum(last - apex, apex - first) > UNSURE * errors[APEX]
    if not unsure.any():
        return errors
    for apices in (first, last):
        moved = measured(peaks.with_apices(np.where(unsure, apices, apex)))
        for name, found in values.items():
            errors[name] = np.fmax(errors[name], np.abs(moved[name] - found))
    return errors


def with_points(
    errors: dict[str, FloatArray],
    values: Mapping[str, FloatArray],
    curve: Mapping[str, FloatArray] | None,
) -> dict[str, FloatArray]:
    """Add how far metrics of recorded points are from those of the ``curve`` they are taken of.

    One that only the points have says nothing of the curve. Parameters as of ``with_apices``.
    """
    if curve is None:
        return errors
    moved = {name: np.abs(value - curve[name]) for name, value in values.items()}
    return {
        name: errors[name] + np.where(np.isnan(one), np.abs(values[name]), one)
        for name, one in moved.items()
    }


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


def of_pairs(
    name: str,
    recorded: Mapping[str, FloatArray],
    errors: Mapping[str, FloatArray],
    order: IntArray,
) -> tuple[FloatArray, FloatArray]:
    """A metric of neighbours and its error: what each metric of both moves it, all added up.

    Parameters
    ----------
    name : str
        Of ``tailrace.measures.METRICS``, with ``of_pair``.
    recorded, errors, order
        As of ``of_resolution``.

    Returns
    -------
    two (..., peaks - 1) arrays, unit of the metric
        NaN where there are none.
    """
    read = METRICS[name].of_pair
    nowhere = np.full((*order.shape[:-1], max(order.shape[-1] - 1, 0)), np.nan)
    if read is None or not {APEX, WIDTH} <= set(recorded):
        return nowhere, nowhere

    def ordered(group: Mapping[str, FloatArray], key: str) -> FloatArray:
        missing = np.full(np.shape(recorded[APEX]), np.nan)
        values = np.asarray(group.get(key, missing), dtype=float)
        return np.asarray(np.take_along_axis(values, order, axis=-1))

    names = (APEX, WIDTH, RETENTION)
    peaks = {key: ordered(recorded, key) for key in names}
    value, moved = read(peaks), np.zeros(nowhere.shape)
    for key in names:
        error = ordered(errors, key)
        for place in range(order.shape[-1]):
            other = peaks[key].copy()
            other[..., place] += error[..., place]
            moved += np.abs(read(peaks | {key: other}) - value)
    return np.asarray(value), moved


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
