"""Two independent solvers on the same journey: where they differ, and whether that was foreseen."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from tailrace.journey.discretisation import distance
from tailrace.journey.itinerary import Itinerary
from tailrace.journey.travelling import travel
from tailrace.measures import METRICS, moments
from tailrace.measures.registry import WIDTH
from tailrace.quantities.arrays import FloatArray
from tailrace.quantities.described import Description, described
from tailrace.signals.band import Band
from tailrace.signals.resolution import SOLVERS

WITHIN = 3.0
"""A difference is foreseen up to so many times the sum of both error estimates: each is itself
known within a factor of about that (our own choice)."""
READ = 1e-4
"""Of a metric (of 1 of a number below 1, of the width of times): nobody reads a smaller one."""


def _entries(form: str) -> Callable[[str], Description]:
    def entry(name: str) -> Description:
        description = METRICS[name].description
        return replace(description, meaning=f"{form}: {description.meaning}")

    return entry


@dataclass(frozen=True, kw_only=True)
class CrossCheck:
    """What two solvers say of one journey; (lanes,) arrays by part or by metric."""

    lanes: tuple[str, ...] = described("solute", "", along=("solute",), names=True)
    signal: dict[str, FloatArray] = described(
        "L2 distance of the two bands behind each part, over the norm", along=("part", "solute")
    )
    variance: dict[str, FloatArray] = described(
        "relative difference of the variances that each part adds; NaN where none is",
        along=("part", "solute"),
    )
    values: dict[str, FloatArray] = described(
        "recorded metrics, by finite differences", entries=_entries("finite differences")
    )
    differences: dict[str, FloatArray] = described(
        "finite differences less spectral", entries=_entries("finite differences less spectral")
    )
    foreseen: dict[str, FloatArray] = described(
        "sum of the two error estimates", entries=_entries("sum of both error estimates")
    )
    rounding: FloatArray = described(
        "how many times rounding of the recorded bands counts in the difference of skewness",
        "1",
        along=("solute",),
    )

    @property
    def agree(self) -> bool:
        """Whether nothing is wrong: as of ``far``."""
        return not self.far

    @property
    def far(self) -> tuple[tuple[str, str], ...]:
        """Metric and solute where it differs by more than WITHIN times what both estimates
        foresee, and by more than anybody reads."""
        return tuple(
            (name, solute)
            for name, difference in self.differences.items()
            for solute, by, most, least in zip(
                self.lanes, difference, WITHIN * self.foreseen[name], self._read(name), strict=True
            )
            if abs(by) > max(most, least)
        )

    def _read(self, name: str) -> FloatArray:
        """What nobody reads of a metric. (lanes,) array, SI."""
        timed = METRICS[name].relative_to == "width"
        size = np.abs(self.values[WIDTH if timed and WIDTH in self.values else name])
        return READ * (np.maximum(size, 1.0) if METRICS[name].unit == "1" else size)


def verify(
    itinerary: Itinerary, progress: Callable[[int, int], object] | None = None
) -> CrossCheck:
    """Make a journey with both solvers.

    ``itinerary``: its own choice of solver does not matter; ``progress``: as for ``travel``, once
    for each solver.
    """
    one, other = (
        travel(
            replace(itinerary, resolution=replace(itinerary.resolution, solver=solver)), progress
        )
        for solver in SOLVERS
    )
    signal, variance = {}, {}
    for a, b in zip(one.parts, other.parts, strict=True):
        assert a.band is not None and b.band is not None
        signal[a.name] = distance(a.band, b.band)
        added = np.where(b.variance_simulated > 0, b.variance_simulated, np.nan)
        variance[a.name] = a.variance_simulated / added - 1
    errors = one.numerical_error
    return CrossCheck(
        lanes=one.lanes,
        signal=signal,
        variance=variance,
        values={name: one.recorded[name] for name in errors},
        differences={name: one.recorded[name] - other.recorded[name] for name in errors},
        foreseen={name: errors[name] + other.numerical_error[name] for name in errors},
        rounding=np.hypot(*(_counted(result.parts[-1].band) for result in (one, other))),
    )


def _counted(band: Band | None) -> FloatArray:
    """What rounding of each sample by a share of the height makes of the skewness, over that share:
    by a Fourier transform all are rounded so, and those far away count most. (lanes,) array, 1."""
    assert band is not None
    of, values = moments(band), np.abs(band.values)
    late = (band.times - of.mean[:, None]) / np.sqrt(of.variance)[:, None]
    far = np.sqrt(np.sum(np.where(values > 0, late, 0.0) ** 6, axis=1))
    return np.asarray(values.max(axis=1) * band.step / band.area * far)
