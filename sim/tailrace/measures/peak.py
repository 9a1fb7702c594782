"""All metrics of a peak at once."""

from collections.abc import Collection

import numpy as np

from tailrace.measures.moments import Moments
from tailrace.measures.peaks import Peaks, Setting
from tailrace.measures.registry import METRICS
from tailrace.quantities.arrays import FloatArray
from tailrace.signals.band import Band


def measure(
    band: Band,
    setting: Setting | None = None,
    known: Moments | None = None,
    only: Collection[str] = METRICS,
) -> dict[str, FloatArray]:
    """Measure every lane of a band.

    ``setting``: what some metrics need beside the peak. ``known``: moments that need no summing.
    ``only``: names of the metrics that are wanted.

    Returns
    -------
    dict of str to (lanes,) array
        By the names of ``tailrace.measures.registry.METRICS``, in SI. NaN where a peak has no such
        metric; those for which the setting says too little are left out.
    """
    return measured(Peaks(band, setting or Setting(), known), only)


def measured(peaks: Peaks, only: Collection[str] = METRICS) -> dict[str, FloatArray]:
    """As ``measure``, of peaks that are outlined already."""
    found = {}
    for name, metric in METRICS.items():
        if metric.read is None or name not in only:
            continue
        if metric.in_gradient and peaks.setting.gradient_time is not None:
            found[name] = np.full(peaks.band.lanes, np.nan)
            continue
        values = metric.read(peaks)
        if values is not None:
            found[name] = values
    return found
