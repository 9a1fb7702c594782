"""What follows from a result: the separation of neighbours, and what is lost where."""

from dataclasses import dataclass

import numpy as np

from tailrace.journey import discretisation, signal
from tailrace.journey.result import Result
from tailrace.measures import METRICS
from tailrace.measures.chromatogram import (
    half_height_resolution,
    overlaid,
    peak_to_valley,
    resolution_from_valley,
    valley_to_peak,
)
from tailrace.measures.registry import (
    APEX,
    FROM_VALLEY,
    HEIGHT,
    PEAK_TO_VALLEY,
    PRINTED,
    RELATIVE_RETENTION,
    RESOLUTION,
    SELECTIVITY,
    VALLEY,
    VARIANCE,
    WIDTH,
    leading,
)
from tailrace.quantities.arrays import FloatArray
from tailrace.quantities.described import described

PAIRS = ("pair",)
MEANING = METRICS[RESOLUTION].meaning


@dataclass(frozen=True, kw_only=True)
class Separation:
    """Neighbours on the recorded chromatogram, in the order of elution."""

    first: tuple[str, ...] = described("first solute of the pair", "", along=PAIRS)
    second: tuple[str, ...] = described("second solute of the pair", "", along=PAIRS)
    half_height: FloatArray = described(
        f"{MEANING}, each read from the recorded peak of one solute alone", along=PAIRS
    )
    numerical_error: FloatArray = described(f"discretisation error of the {MEANING}", along=PAIRS)
    column_alone: FloatArray = described(f"{MEANING}, column's own peaks", along=PAIRS)
    half_height_printed: FloatArray = described(METRICS[PRINTED].meaning, along=PAIRS)
    relative_retention: FloatArray = described(METRICS[RELATIVE_RETENTION].meaning, along=PAIRS)
    selectivity: FloatArray = described(METRICS[SELECTIVITY].meaning, along=PAIRS)
    selectivity_error: FloatArray = described(
        "discretisation error of the selectivity", along=PAIRS
    )
    peak_to_valley: FloatArray = described(METRICS[PEAK_TO_VALLEY].meaning, along=PAIRS)
    valley_to_peak: FloatArray = described(METRICS[VALLEY].meaning, along=PAIRS)
    from_valley: FloatArray = described(METRICS[FROM_VALLEY].meaning, along=PAIRS)

    valley_error: FloatArray = described(
        f"discretisation error of: {METRICS[VALLEY].meaning}", along=PAIRS
    )
    from_valley_error: FloatArray = described(
        f"discretisation error of: {METRICS[FROM_VALLEY].meaning}", along=PAIRS
    )

    @property
    def critical(self) -> int | None:
        """The pair with the least resolution; None where no pair has one."""
        if not np.isfinite(self.half_height).any():
            return None
        return int(np.nanargmin(self.half_height))


def weights(result: Result) -> FloatArray:
    """As of ``journey.signal.weights``."""
    return signal.weights(result.signal, len(result.lanes))


def separation(result: Result, valleys: FloatArray | None = None) -> Separation:
    """Set all neighbours of a result side by side.

    Without pairs where fewer than two solutes have a peak. ``valleys``: (pairs,) array, 1; left
    out, they are read off the bands, and there are none where the result has no bands.
    """
    apexes = np.asarray(result.recorded[APEX], dtype=float)
    order = [int(lane) for lane in np.argsort(apexes, kind="stable") if np.isfinite(apexes[lane])]
    if valleys is None:
        valleys = np.full(max(len(order) - 1, 0), np.nan)
    if len(order) > 1 and result.recorded_band is not None:
        valleys = valley_to_peak(overlaid(result.recorded_band, weights(result)), apexes[order])
    nowhere, own = np.full(apexes.shape, np.nan), result.column_alone or {}
    recorded, alone = (
        half_height_resolution(*(group.get(name, nowhere)[order] for name in (APEX, WIDTH)))
        for group in (result.recorded, own)
    )
    names, in_order = [result.lanes[lane] for lane in order], np.array(order, dtype=int)
    errors = discretisation.of_resolution(result.recorded, result.numerical_error, in_order)
    pair_errors = {
        name: discretisation.of_pairs(name, result.recorded, result.numerical_error, in_order)
        for name in (PRINTED, RELATIVE_RETENTION, SELECTIVITY)
    }
    from_valley = np.array([resolution_from_valley(valley) for valley in valleys])
    valley_error, from_valley_error = discretisation.of_valley(
        valleys,
        from_valley,
        errors / np.where(recorded == 0, np.nan, np.abs(recorded)),
        _heights(result, order),
    )
    return Separation(
        first=tuple(names[:-1]),
        second=tuple(names[1:]),
        half_height=recorded,
        numerical_error=errors,
        column_alone=alone,
        half_height_printed=pair_errors[PRINTED][0],
        relative_retention=pair_errors[RELATIVE_RETENTION][0],
        selectivity=pair_errors[SELECTIVITY][0],
        selectivity_error=pair_errors[SELECTIVITY][1],
        peak_to_valley=peak_to_valley(valleys),
        valley_to_peak=valleys,
        from_valley=from_valley,
        valley_error=valley_error,
        from_valley_error=from_valley_error,
    )


def _heights(result: Result, order: list[int]) -> FloatArray:
    """Relative errors of the heights of both neighbours, added up; NaN where there are none."""
    nowhere = np.full(len(result.lanes), np.nan)
    height, error = (
        np.asarray(group.get(HEIGHT, nowhere), dtype=float)[order]
        for group in (result.recorded, result.numerical_error)
    )
    share = error / height
    return np.asarray(share[:-1] + share[1:])


def kept_fraction(result: Result) -> FloatArray:
    """Plates recorded over plates that the column could give, both from the half height, at the
    column's own retention.

    With a gradient, where plates mean nothing, peak capacities in their place.

    Returns
    -------
    (lanes,) array, 1
        NaN without a column, or where a peak has no width at half height.
    """
    if result.column_alone is None:
        return np.full(len(result.lanes), np.nan)
    name = leading(result.recorded).name
    return np.asarray(result.recorded[name], dtype=float) / result.column_alone[name]


def shares_outside_column(result: Result, lane: int) -> dict[str, float]:
    """What each part but the column adds, over the variance added outside the column.

    With a gradient both as they reach the recorder, without what it focuses.

    Returns
    -------
    dict of str to float, 1
        Simulated; largest first. Empty where nothing is added outside the column.
    """
    added = {
        part.name: float(part.variance_recorded[lane])
        for part in result.parts
        if not (part.separates or part.behind) and np.isfinite(part.variance_recorded[lane])
    }
    total = sum(added.values())
    if not total > 0:
        return {}
    ordered = sorted(added.items(), key=lambda item: -item[1])
    return {name: variance / total for name, variance in ordered}


def worst_first(result: Result) -> list[int]:
    """Lanes in the order of what they lose, the least kept fraction first.

    Returns
    -------
    list of int
        Without a column the widest recorded band comes first. Ties keep the order of the lanes.
    """
    if result.column_alone is None:
        rank = -np.asarray(result.recorded[VARIANCE], dtype=float)
    else:
        rank = kept_fraction(result)
    return [int(lane) for lane in np.argsort(rank, kind="stable")]
