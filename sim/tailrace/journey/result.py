"""What a journey answers: for each part what it did, and what was recorded."""

from dataclasses import dataclass, field, replace

import numpy as np

from tailrace.display import Handed
from tailrace.measures import METRICS, SIGNALS
from tailrace.parts import part_class
from tailrace.quantities.arrays import FloatArray
from tailrace.quantities.described import Description, described
from tailrace.signals.band import Band

LANES = ("solute",)


@dataclass(frozen=True, kw_only=True)
class PartResult:
    """One part: what closed form says that it adds, what was simulated, and the band behind it.

    Every number is a (lanes,) array, NaN where it does not exist.
    """

    name: str = described("part of the path, in order", "", label="part", names=True)
    kind: str = described("kind of part", "")
    behind: bool = described(
        "whether it lies behind the cell in which the signal is recorded: it adds to the pressure "
        "alone",
        default=False,
    )
    volume: FloatArray = described("volume of the part", "m^3", shown="uL", along=LANES)
    residence: FloatArray = described(
        "mean time that the solute spends in the part", "s", along=LANES
    )
    fourier_number: FloatArray = described(
        "residence time over the radial diffusion time of a tube",
        label="Fourier number",
        along=LANES,
    )
    mean_closed_form: FloatArray = described(
        "mean time added by the part, closed form", "s", along=LANES
    )
    mean_simulated: FloatArray = described(
        "mean time added by the part, simulated", "s", along=LANES
    )
    variance_gaussian_theory: FloatArray = described(
        "variance added by the part, long-tube or textbook", "s^2", label="Gaussian", along=LANES
    )
    variance_exact: FloatArray = described(
        "variance added by the part, exact closed form", "s^2", label="exact", along=LANES
    )
    variance_simulated: FloatArray = described(
        "variance added by the part, simulated", "s^2", label="simulated", along=LANES
    )
    variance_volume: FloatArray = described(
        "variance in volume added by the part at the flow that is pumped, simulated",
        "m^6",
        label="simulated",
        shown="uL^2",
        along=LANES,
    )
    skewness_exact: FloatArray = described(
        "skewness of what the part adds, exact closed form", along=LANES
    )
    skewness_simulated: FloatArray = described(
        "skewness of what the part adds, simulated", along=LANES
    )
    amount_lost: FloatArray = described(
        "amount cut off by the time window of the part, over that injected", along=LANES
    )
    gradient_focusing: FloatArray = described(
        "share of the variance added by the part that a gradient, or the sample's own solvent, "
        "takes back: below zero where it adds to it; NaN for the last column itself and without "
        "either",
        label="focused",
        shown="%",
        along=LANES,
    )
    band: Band | None = described("signal behind the part", "", along=("solute", "sample"))

    @property
    def separates(self) -> bool:
        """Whether it is a column."""
        return part_class(self.kind).separates and not self.behind

    @property
    def injects(self) -> bool:
        """Whether the band begins here."""
        return part_class(self.kind).injects

    @property
    def carries_flow(self) -> bool:
        """Whether liquid flows through it."""
        return part_class(self.kind).carries_flow

    @property
    def variance_recorded(self) -> FloatArray:
        """What is left of the simulated variance at the recorder. (lanes,) array, s^2."""
        left = 1 - np.asarray(self.gradient_focusing)
        return np.where(np.isnan(left), self.variance_simulated, self.variance_simulated * left)


@dataclass(frozen=True, kw_only=True)
class Pressure:
    """Pressure drops; NaN where the viscosity is not known."""

    total: float = described("pressure drop of the whole path", "Pa", shown="bar")
    parts: dict[str, float] = described(
        "pressure drop of each part", "Pa", label="pressure drop", shown="bar", along=("part",)
    )
    cell_inlet: float = described(
        "pressure at the inlet of the cell that records; NaN without a cell", "Pa", shown="bar"
    )
    highest: float = described(
        "pressure drop of the whole path with the most viscous liquid of a gradient's programme; "
        "without one the total",
        "Pa",
        shown="bar",
    )
    highest_at_cell: float = described(
        "pressure at the inlet of the cell that records with the most viscous liquid of a "
        "gradient's programme; without one as it is; NaN without a cell",
        "Pa",
        shown="bar",
    )
    limit: float = described(
        "pressure that must not be exceeded; infinite where none is given",
        "Pa",
        shown="bar",
        default=float("inf"),
    )


@dataclass(frozen=True, kw_only=True)
class Regained:
    """By part, what comes back if it alone were ideal; NaN where it could not be computed."""

    plates: dict[str, FloatArray] = described(
        "plates (at the column's own retention) that come back if the part alone were ideal; "
        "NaN with a gradient",
        label="plates back",
        digits=3,
        along=("part", *LANES),
    )
    peak_capacity: dict[str, FloatArray] = described(
        "peak capacity that comes back if the part alone were ideal; NaN without a gradient",
        label="capacity back",
        digits=3,
        along=("part", *LANES),
    )
    resolution: dict[str, float] = described(
        "resolution of the critical pair that comes back if the part alone were ideal; NaN for "
        "a single solute",
        label="resolution back",
        digits=3,
        along=("part",),
    )
    numerical_error: dict[str, FloatArray] = described(
        "estimated discretisation error of the plates, or with a gradient of the peak capacity, "
        "that come back",
        along=("part", *LANES),
    )

    @property
    def leading(self) -> dict[str, FloatArray]:
        """Plates, or with a gradient peak capacity."""
        gradient = any(np.isfinite(values).any() for values in self.peak_capacity.values())
        return self.peak_capacity if gradient else self.plates

    def ranked(self, lane: int) -> list[tuple[str, float]]:
        """Parts and what each brings back of one solute, the most first; without NaN."""
        found = [(name, float(values[lane])) for name, values in self.leading.items()]
        return sorted((one for one in found if np.isfinite(one[1])), key=lambda one: -one[1])


def _recorded(name: str) -> Description:
    return METRICS[name].description


def _error(name: str) -> Description:
    description = _recorded(name)
    return replace(description, meaning=f"discretisation error of: {description.meaning}")


def _alone(name: str) -> Description:
    description = _recorded(name)
    return replace(
        description, meaning=f"{description.meaning}, columns alone with an ideal injection"
    )


def _signal(name: str) -> Description:
    return SIGNALS[name].description


@dataclass(frozen=True, kw_only=True)
class Assumption:
    """What the scenario leaves open, and between which values it leaves the answer.

    Widths and resolution are NaN where the answer follows from variances alone.
    """

    subject: str = described("part or property that it is about", "", names=True)
    taken: str = described("what is taken", "")
    settled: str = described("measurement that settles it", "")
    metric: str = described("metric of the answer", "")
    low: FloatArray = described("least value of the metric", lambda one: _unit(one), along=LANES)
    high: FloatArray = described(
        "greatest value of the metric", lambda one: _unit(one), along=LANES
    )
    width_low: FloatArray = described("least width at half height", "s", along=LANES)
    width_high: FloatArray = described("greatest width at half height", "s", along=LANES)
    resolution_low: float = described("least resolution of the critical pair")
    resolution_high: float = described("greatest resolution of the critical pair")


def _unit(one: Assumption) -> str:
    return METRICS[one.metric].unit


@dataclass(frozen=True, kw_only=True)
class OnColumn:
    """What the instrument leaves of one of several columns; (lanes,) arrays of a metric in SI."""

    name: str = described("column on the instrument", "", label="column", names=True)
    metric: str = described(
        "metric that is told: plates at the column's own retention, or with a "
        "gradient the peak capacity",
        "",
    )
    could_give: FloatArray = described(
        "metric of the column alone", label="could give", digits=4, along=LANES
    )
    recorded: FloatArray = described("metric as recorded", digits=4, along=LANES)
    numerical_error: FloatArray = described("discretisation error of the metric", along=LANES)
    kept: FloatArray = described(
        "recorded over what the column alone would give", label="kept", shown="%", along=LANES
    )
    pressure: float = described(
        "pressure drop of the whole path, at its highest along a programme", "Pa", shown="bar"
    )
    warnings: tuple[str, ...] = described("warnings", "")

    @property
    def worst(self) -> int:
        """The lane that keeps least."""
        return int(np.argmin(np.where(np.isnan(self.kept), np.inf, self.kept)))


@dataclass(frozen=True, kw_only=True)
class Result(Handed):
    """All that one journey says. Metrics are (lanes,) arrays in SI, by their names in the registry.

    With a gradient plates are NaN and the peak capacity stands beside them.
    """

    lanes: tuple[str, ...] = described("solute", "", along=LANES, names=True)
    parts: tuple[PartResult, ...] = described(
        "parts: injector first, then the path in order, then the detector", along=("part",)
    )
    recorded: dict[str, FloatArray] = described("metrics of the recorded band", entries=_recorded)
    column_alone: dict[str, FloatArray] | None = described(
        "metrics of the columns' own peak: all columns of the path, nothing between them",
        entries=_alone,
    )
    column_band: Band | None = described(
        "that peak, delayed by the closed-form mean of everything else on the path",
        "",
        along=("solute", "sample"),
    )
    numerical_error: dict[str, FloatArray] = described(
        "estimated distance of each recorded metric from the converged one", entries=_error
    )
    pressure: Pressure = described("pressure drops", "Pa")
    warnings: tuple[str, ...] = described("warnings", "", along=("warning",))
    signal: dict[str, FloatArray] = described(
        "signal and noise; empty where they were not asked for",
        entries=_signal,
        default_factory=dict,
    )
    regained: Regained | None = described(
        "what would come back if each part alone were ideal", "", default=None
    )
    assumptions: tuple[Assumption, ...] = described(
        "what the answer is most sensitive to, most first",
        "",
        along=("assumption",),
        default=(),
    )
    columns: tuple[OnColumn, ...] = described(
        "what the instrument leaves of each of several columns",
        "",
        along=("column",),
        default=(),
    )
    source: object = field(default=None, compare=False)
    """Scenario or Provenance: what it is the result of."""

    @property
    def recording(self) -> tuple[PartResult, ...]:
        """The parts that the recorded band has passed: all but those behind the recording."""
        return tuple(part for part in self.parts if not part.behind)

    @property
    def recorded_band(self) -> Band | None:
        """The last signal of the chain; None where it was not kept."""
        return self.parts[-1].band
