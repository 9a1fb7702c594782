"""What measuring files answers, described field by field."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from tailrace.display import Handed
from tailrace.measurements.noise import Noise
from tailrace.measurements.signal import Signal
from tailrace.measures.registry import HEIGHT, METRICS
from tailrace.quantities.arrays import FloatArray
from tailrace.quantities.described import Description, described

PEAKS, MARKS = ("peak",), ("mark",)
UNITS = {HEIGHT: "signal", "area": "signal s"}
"""Of metrics whose unit is that of the signal; elsewhere they are over the amount injected."""


def metric_description(name: str) -> Description:
    """A metric of a measured peak."""
    description = METRICS[name].description
    unit = UNITS.get(name, description.unit)
    meaning = description.meaning.replace(", over the amount injected", "")
    return replace(description, unit=unit, meaning=meaning, along=PEAKS)


def _told(before: str) -> Callable[[str], Description]:
    """Descriptions of what is said of each metric."""

    def description(name: str) -> Description:
        described_as = metric_description(name)
        return replace(described_as, meaning=f"{before}: {described_as.meaning}", digits=2)

    return description


@dataclass(frozen=True, kw_only=True)
class Measurement:
    """One file: the signal, and every peak measured. Arrays are along the peaks, in SI."""

    signal: Signal = described("the signal as it was read")
    interval: float = described("interval between points", "s", digits=4)
    even: bool = described("whether the points are evenly spaced as recorded")
    gaps: tuple[tuple[float, float], ...] = described("stretches without points", "s")
    baseline: str = described("kind of baseline", "")
    baseline_from: str = described("file of the blank run; empty: none", "", default="")
    noise: Noise = described("noise of the blank stretches")
    level: FloatArray = described(
        "baseline under the peaks; NaN elsewhere", "signal", along=("even_point",)
    )
    peaks: tuple[str, ...] = described("peak", "", along=PEAKS, names=True)
    window_start: FloatArray = described(
        "start of the window", "s", label="from", digits=5, along=PEAKS
    )
    window_end: FloatArray = described("end of the window", "s", label="to", digits=5, along=PEAKS)
    states: tuple[str, ...] = described(
        "what is wrong with a peak: clipped, gap, cut; empty: nothing", "", along=PEAKS
    )
    metrics: dict[str, FloatArray] = described(
        "metrics of each peak", entries=metric_description, along=PEAKS
    )
    uncertainty: dict[str, FloatArray] = described(
        "standard uncertainty", entries=_told("standard uncertainty"), along=PEAKS
    )
    noise_part: dict[str, FloatArray] = described(
        "standard uncertainty from noise",
        entries=_told("standard uncertainty from noise"),
        along=PEAKS,
    )
    window_part: dict[str, FloatArray] = described(
        "standard uncertainty from the window",
        entries=_told("standard uncertainty from the window"),
        along=PEAKS,
    )
    baseline_part: dict[str, FloatArray] = described(
        "standard uncertainty from the baseline",
        entries=_told("standard uncertainty from the baseline"),
        along=PEAKS,
    )
    wider: dict[str, FloatArray] = described(
        "change with a window 1.25 times as long",
        entries=_told("change with a window 1.25 times as long"),
        along=PEAKS,
    )
    narrower: dict[str, FloatArray] = described(
        "change with a window 0.8 times as long",
        entries=_told("change with a window 0.8 times as long"),
        along=PEAKS,
    )
    signal_to_noise: FloatArray = described(
        "twice the height over the peak-to-peak noise", label="signal-to-noise ratio", along=PEAKS
    )
    noise_widths: FloatArray = described(
        "widths at half height over which that noise is taken, 20 where there is room",
        along=PEAKS,
        default_factory=lambda: np.empty(0),  # of earlier records
    )
    mark_apex: FloatArray = described(
        "retention time between the marks of the file", "s", label="retention time", along=MARKS
    )
    mark_height: FloatArray = described(
        "height between the marks of the file", "signal", label="height", along=MARKS
    )
    mark_area: FloatArray = described(
        "area between the marks of the file", "signal s", label="area", along=MARKS
    )

    @property
    def name(self) -> str:
        """Of the file."""
        return self.signal.name


@dataclass(frozen=True, kw_only=True)
class Repeats:
    """Several files that are one measurement: peak by peak."""

    peaks: tuple[str, ...] = described("peak", "", along=PEAKS, names=True)
    count: int = described("files", label="files")
    mean: dict[str, FloatArray] = described(
        "mean over the repeats", entries=_told("mean over the repeats"), along=PEAKS
    )
    deviation: dict[str, FloatArray] = described(
        "standard deviation of the repeats",
        entries=_told("standard deviation of the repeats"),
        along=PEAKS,
    )
    uncertainty: dict[str, FloatArray] = described(
        "standard uncertainty of the mean",
        entries=_told("standard uncertainty of the mean"),
        along=PEAKS,
    )
    expected: dict[str, FloatArray] = described(
        "deviation that the single uncertainties foresee",
        entries=_told("deviation that the single uncertainties foresee"),
        along=PEAKS,
    )


@dataclass(frozen=True, kw_only=True)
class Measured(Handed):
    """What ``measure`` says of files."""

    title: str = described("files measured", "")
    files: dict[str, Measurement] = described("each file, by its name")
    repeats: Repeats | None = described("the files as repeats of one measurement", default=None)
