"""How well each peak of many cases stands apart from the one that comes next."""

import numpy as np

from tailrace.journey.discretisation import of_pairs, of_valley
from tailrace.journey.result import Result
from tailrace.journey.signal import weights
from tailrace.measures.chromatogram import LEAST_VALLEY, overlaid, peak_to_valley, valley_to_peak
from tailrace.measures.registry import APEX, HEIGHT, PEAK_TO_VALLEY, RESOLUTION, VALLEY
from tailrace.quantities.arrays import FloatArray, IntArray
from tailrace.signals.band import Band
from tailrace.studies.batch import Block, Metrics
from tailrace.studies.lanes import band_of, group

NEXT, NEXT_ERROR = "next", "next_error"
"""Groups of metrics: of each peak and the next, NaN for the last; their discretisation errors."""
NEIGHBOURLY = (RESOLUTION, VALLEY, PEAK_TO_VALLEY)


def valleys(result: Result, itineraries: Block) -> tuple[IntArray, FloatArray]:
    """Valleys over the smaller peak of all neighbours, case by case.

    Returns
    -------
    order : (cases, solutes) array, 1
        Solutes in the order of elution; those without a maximum come last.
    valleys : (cases, solutes - 1) array, 1
        As of ``tailrace.measures.chromatogram.valley_to_peak``.
    """
    each, band = len(itineraries[0].lanes), band_of(result)
    apexes = np.reshape(result.recorded[APEX], (-1, each))
    share = np.reshape(weights(result.signal, len(result.lanes)), apexes.shape)
    orders = np.argsort(apexes, axis=1, kind="stable")
    found = np.full((len(apexes), each - 1), np.nan)
    for case, (apex, order) in enumerate(zip(apexes, orders, strict=True)):
        seen = order[: np.isfinite(apex).sum()]
        if seen.size > 1:
            at = case * each + seen
            trace = overlaid(
                Band(band.values[at], band.start[at], band.step[at]), share[case, seen]
            )
            found[case, : seen.size - 1] = valley_to_peak(trace, apex[seen])
    return orders, found


def each_and_next(result: Result, itineraries: Block) -> Metrics:
    """NEIGHBOURLY of each solute and the one that elutes next, with errors: (cases, solutes)."""
    order, valley = valleys(result, itineraries)
    recorded, errors = (
        {name: np.reshape(values, order.shape) for name, values in group.items()}
        for group in (result.recorded, result.numerical_error)
    )
    resolution, wrong = of_pairs(RESOLUTION, recorded, errors, order)
    height = np.take_along_axis(errors[HEIGHT] / recorded[HEIGHT], order, axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        shifted = wrong / np.abs(resolution)
        off, _ = of_valley(valley, np.abs(resolution), shifted, height[:, :-1] + height[:, 1:])
        ratio = peak_to_valley(valley)
        off_ratio = np.where(valley > LEAST_VALLEY, off / valley * ratio, 0.0 * valley)
    columns = zip(NEIGHBOURLY, (resolution, valley, ratio), (wrong, off, off_ratio), strict=True)
    found: Metrics = {}
    for name, values, error in columns:
        for where, one in ((NEXT, values), (NEXT_ERROR, error)):
            found[f"{where}/{name}"] = laid = np.full(order.shape, np.nan)
            np.put_along_axis(laid, order[:, :-1], one, axis=1)
    return found


def valleys_in_order(metrics: Metrics, case: int) -> FloatArray | None:
    """Valleys of one case in the order of elution; None where there are none.

    ``metrics``: with what ``each_and_next`` gives.
    """
    known = group(metrics, NEXT)
    if VALLEY not in known:
        return None
    apex = np.asarray(metrics[f"recorded/{APEX}"][case], dtype=float)
    order = np.argsort(apex, kind="stable")[: np.isfinite(apex).sum()]
    return np.asarray(known[VALLEY][case], dtype=float)[order[:-1]]
