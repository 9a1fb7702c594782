"""What a journey answers: for each part what it did, and what was recorded."""

from dataclasses import dataclass, field

import numpy as np

from tailrace.display import Handed
from tailrace.parts import part_class
from tailrace.signals.band import Band


@dataclass(frozen=True, kw_only=True)
class PartResult:
    """One part: what closed form says that it adds, what was simulated, and the band behind it.

    Every figure is a (lanes,) array, NaN where it does not exist. ``skewness`` is the third
    cumulant that the part adds over the variance that it adds to the power 1.5. ``amount_lost``
    is what the time window of this part cut off, over the amount injected. ``gradient_focusing``
    is the share of the variance that a gradient on the column takes back: below zero where it adds
    to it, 0 behind the column, NaN for the column itself and without a gradient.
    """

    name: str
    kind: str
    volume: np.ndarray
    residence: np.ndarray
    fourier_number: np.ndarray
    mean_closed_form: np.ndarray
    mean_simulated: np.ndarray
    variance_gaussian_theory: np.ndarray
    variance_exact: np.ndarray
    variance_simulated: np.ndarray
    skewness_exact: np.ndarray
    skewness_simulated: np.ndarray
    amount_lost: np.ndarray
    band: Band
    gradient_focusing: np.ndarray | float = float("nan")

    @property
    def separates(self) -> bool:
        """Whether it is a column."""
        return part_class(self.kind).separates

    @property
    def injects(self) -> bool:
        """Whether the band begins here."""
        return part_class(self.kind).injects

    @property
    def carries_flow(self) -> bool:
        """Whether liquid flows through it."""
        return part_class(self.kind).carries_flow

    @property
    def variance_recorded(self):
        """What is left of the simulated variance at the recorder. (lanes,) array, s^2."""
        left = 1 - np.asarray(self.gradient_focusing)
        return np.where(np.isnan(left), self.variance_simulated, self.variance_simulated * left)


@dataclass(frozen=True, kw_only=True)
class Pressure:
    """Pressure drops in Pa; NaN where the viscosity is not known.

    ``cell_inlet`` is what lies behind the first flow cell's inlet; NaN without a cell.
    """

    total: float
    parts: dict[str, float]
    cell_inlet: float


@dataclass(frozen=True, kw_only=True)
class Result(Handed):
    """All that one journey says.

    Parameters
    ----------
    lanes : tuple of str
        The solutes' names.
    parts : tuple of PartResult
        Injector first, then the path in order, then the detector if there is one.
    recorded : dict of str to (lanes,) array
        Measures of the last band; SI units; NaN where the peak has no such width.
    column_alone : dict of str to (lanes,) array, or None
        ``plates_half_height`` and ``tailing_5`` of the column with an ideal injection. With a
        gradient plates are NaN, here and in ``recorded``, and ``peak_capacity`` stands beside them.
    column_band : Band or None
        That ideal peak, delayed by the closed-form mean of everything else on the path.
    numerical_error : dict of str to (lanes,) array
        Estimate of how far each recorded figure is from the converged one, same unit.
    pressure : Pressure
    warnings : tuple of str
    signal : dict of str to (lanes,) array
        As of ``tailrace.journey.signal.signal_of``; empty where it was not asked for.
    source : Scenario or Provenance, optional
        What it is the result of.
    """

    lanes: tuple[str, ...]
    parts: tuple[PartResult, ...]
    recorded: dict[str, np.ndarray]
    column_alone: dict[str, np.ndarray] | None
    column_band: Band | None
    numerical_error: dict[str, np.ndarray]
    pressure: Pressure
    warnings: tuple[str, ...]
    signal: dict[str, np.ndarray] = field(default_factory=dict)
    source: object = field(default=None, compare=False)

    @property
    def recorded_band(self) -> Band:
        """The last signal of the chain."""
        return self.parts[-1].band
