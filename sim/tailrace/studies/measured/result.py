"""What a comparison of measured and simulated signals answers, described field by field."""

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace

from tailrace.display import Handed
from tailrace.measurements.result import metric_description
from tailrace.measures.registry import APEX, MEAN
from tailrace.quantities.arrays import FloatArray
from tailrace.quantities.described import Description, described

AGREES, DIFFERS, UNDECIDED = "agrees", "differs", "cannot say"
SATISFACTORY, UNSATISFACTORY = 2.0, 3.0
"""Absolute zeta scores up to which results agree, and above which they differ (ISO 13528; from
memory); between them nothing is decided."""
MOST_UNSURE = 0.25
"""Joint standard uncertainty over the value (of a plain number near zero: over 1), above which a
comparison says nothing."""
MATCHED = (APEX, MEAN, "area")
"""Metrics that the delay and the area bring together: they have no zeta and are not judged."""


def _told(before: str, unit: str = "") -> Callable[[str], Description]:
    def description(name: str) -> Description:
        described_as = metric_description(name)
        meaning = f"{before}: {described_as.meaning}"
        return replace(described_as, meaning=meaning, unit=unit or described_as.unit, along=())

    return description


@dataclass(frozen=True, kw_only=True)
class Overlay:
    """A measured signal and the simulated one laid upon it."""

    name: str = described("name of the measurement", "", label="measurement", names=True)
    file: str = described("its file", "")
    sha256: str = described("SHA-256 of the file", "")
    solute: str = described("solute injected", "")
    signal_unit: str = described("unit of the signal", "")
    noise: float = described("standard deviation of the noise", "signal")
    noise_left: float = described("the same, smoothed as the signal is", "signal")
    delay: float = described("time by which the measured signal runs late", "s", label="delay")
    area: float = described("area that brings the simulated signal nearest", "signal s")
    residual_over_noise: float = described(
        "root mean square of measured minus simulated over the noise", label="residual / noise"
    )
    times: FloatArray = described("times of the window", "s", along=("point",))
    signal: FloatArray = described(
        "measured signal without its baseline", "signal", along=("point",)
    )
    simulated: FloatArray = described(
        "simulated signal, delayed and scaled, treated alike", "signal", along=("point",)
    )


@dataclass(frozen=True, kw_only=True)
class Comparison(Overlay):
    """One measurement and its simulation; metrics are single numbers."""

    window_start: float = described("start of the window", "s", digits=5)
    window_end: float = described("end of the window", "s", digits=5)
    delay_uncertainty: float = described("standard uncertainty of the delay from noise", "s")
    area_uncertainty: float = described("that of the area", "signal s")
    measured: dict[str, FloatArray] = described("measured", entries=_told("measured"))
    measured_uncertainty: dict[str, FloatArray] = described(
        "standard uncertainty of what was measured", entries=_told("standard uncertainty")
    )
    predicted: dict[str, FloatArray] = described(
        "simulated, with the same points, noise, baseline and window", entries=_told("simulated")
    )
    predicted_uncertainty: dict[str, FloatArray] = described(
        "standard uncertainty of what was simulated, from uncertain inputs and discretisation",
        entries=_told("standard uncertainty of what was simulated"),
    )
    difference: dict[str, FloatArray] = described(
        "measured minus simulated", entries=_told("measured minus simulated")
    )
    joint_uncertainty: dict[str, FloatArray] = described(
        "standard uncertainty of the difference", entries=_told("uncertainty of the difference")
    )
    zeta: dict[str, FloatArray] = described(
        "difference over its standard uncertainty", entries=_told("zeta score", "1")
    )

    def verdict(self, name: str) -> str:
        """Agrees, differs, or cannot say, of one metric."""
        zeta, size = abs(float(self.zeta[name])), abs(float(self.measured[name]))
        if metric_description(name).unit == "1":
            size = max(size, 1.0)
        unsure = float(self.joint_uncertainty[name]) > MOST_UNSURE * size
        if unsure or math.isnan(zeta):
            return UNDECIDED
        if zeta <= SATISFACTORY:
            return AGREES
        return DIFFERS if zeta > UNSATISFACTORY else UNDECIDED

    @property
    def agrees(self) -> bool:
        """Whether no metric differs."""
        return all(self.verdict(name) != DIFFERS for name in self.zeta)


@dataclass(frozen=True, kw_only=True)
class Compared(Handed):
    """What ``compare`` says of a scenario."""

    title: str = described("title of the scenario", "")
    inputs: tuple[str, ...] = described(
        "uncertain inputs that the simulation carries", "", along=("input",)
    )
    measured: dict[str, Comparison] = described("each measurement, by its name")
    source: object = field(default=None, repr=False, compare=False)

    @property
    def agrees(self) -> bool:
        """Whether no metric of any measurement differs."""
        return all(one.agrees for one in self.measured.values())


def _of_field(parameter: "Parameter") -> str:
    return parameter.unit


@dataclass(frozen=True, kw_only=True)
class Parameter:
    """One fitted field, in SI."""

    field: str = described("field of the scenario", "", label="field", names=True)
    asked: bool = described("whether it was freed; else it is carried, held by [[uncertain]]")
    kind: str = described("kind of quantity; empty: a plain number", "")
    unit: str = described("SI unit", "")
    start: float = described("value in the scenario", _of_field)
    value: float = described("fitted value", _of_field)
    standard_uncertainty: float = described("standard uncertainty", _of_field)
    low: float = described("lower end of the 95 % interval", _of_field)
    high: float = described("upper end of the 95 % interval", _of_field)
    profiled: bool = described("whether the interval was looked for, since the covariance misleads")
    prior: float = described("standard deviation before; NaN: nothing was known", _of_field)
    told_by_data: bool = described("whether the data say more than was known before")
    cut: str = described(
        "which end of the interval is no end, but the last value that was looked at: lower, upper, "
        "both; empty: none",
        "",
        default="",
    )

    @property
    def interval(self) -> tuple[float, float]:
        """Ends of the 95 % interval, ``unit``."""
        return self.low, self.high


@dataclass(frozen=True, kw_only=True)
class Fitted(Handed):
    """What ``fit`` says of a scenario."""

    title: str = described("title of the scenario", "")
    parameters: tuple[Parameter, ...] = described("fitted fields", along=("parameter",))
    correlation: FloatArray = described("correlation of the fitted values", along=("one", "other"))
    indistinguishable: tuple[tuple[str, ...], ...] = described(
        "groups of fields that the data cannot tell apart", ""
    )
    residual_over_noise: float = described("residuals over the noise", label="residual / noise")
    autocorrelation: float = described("correlation of a residual and the next")
    at_fault: bool = described("whether residuals are more than noise: then the model is at fault")
    measured: dict[str, Overlay] = described("each measurement, by its name")
    source: object = field(default=None, repr=False, compare=False)

    @property
    def free(self) -> tuple[Parameter, ...]:
        """Those that were freed."""
        return tuple(one for one in self.parameters if one.asked)
