"""What a result says of the loss of plates: how much is kept, and where the rest goes."""

import numpy as np

from tailrace.journey.result import Result
from tailrace.measures.registry import CAPACITY, VARIANCE, leading
from tailrace.quantities.arrays import FloatArray


def kept_fraction(result: Result) -> FloatArray:
    """Plates recorded over plates that the column could give, both from the half height.

    With a gradient, where plates mean nothing, peak capacities in their place.

    Returns
    -------
    (lanes,) array, 1
        NaN without a column, or where a peak has no width at half height.
    """
    if result.column_alone is None:
        return np.full(len(result.lanes), np.nan)
    name = leading(CAPACITY in result.recorded).name
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
