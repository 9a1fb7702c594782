"""The peaks of a band, summed and outlined once, for every metric to be read off."""

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from tailrace.measures.moments import Moments, moments
from tailrace.quantities.arrays import FloatArray, Number
from tailrace.signals.band import Band

if TYPE_CHECKING:
    from tailrace.measures.outlines import Outlines


@dataclass(frozen=True, kw_only=True)
class Setting:
    """What some metrics need beside the peak itself; None: such metrics are left out.

    Parameters
    ----------
    gradient_time : float or (lanes,) array, s
        Of a column that is run with a gradient: then plates mean nothing.
    amount_recovered : (lanes,) array, 1
        Amount recorded, over that injected.
    extra_column : (lanes,) array, s^2
        Variance that all parts but the column add, as it reaches the recorder.
    flow_rate : float or (lanes,) array, m^3/s
    own_time : (lanes,) array, s
        Retention time that the column alone gives.
    hold_up : (lanes,) array, s
        Mean time of an unretained solute on the whole path; with a column only.
    particles_long : (lanes,) array, 1
        Length of the column over the diameter of its particles; NaN with several columns.
    """

    gradient_time: Number | None = None
    amount_recovered: FloatArray | None = None
    extra_column: FloatArray | None = None
    flow_rate: Number | None = None
    own_time: FloatArray | None = None
    hold_up: FloatArray | None = None
    particles_long: FloatArray | None = None


@dataclass(frozen=True)
class Peaks:
    """All lanes of one band (Band) as peaks, in their Setting."""

    band: Band
    setting: Setting = Setting()
    known: Moments | None = None
    """Moments, where they are known without summing."""

    @cached_property
    def sums(self) -> Moments:
        """Moments of every lane."""
        return self.known or moments(self.band)

    @cached_property
    def outlines(self) -> "Outlines":
        """Of every lane."""
        from tailrace.measures.outlines import Outlines  # compiled only where it is used

        return Outlines(self.band)

    def with_apices(self, apices: FloatArray) -> "Peaks":
        """The same peaks with apices taken to stand elsewhere, (lanes,) array, s."""
        moved = Peaks(self.band, self.setting, self.known)
        moved.__dict__["outlines"] = self.outlines.moved(apices)
        return moved


@dataclass(frozen=True, kw_only=True)
class Gaussian:
    """The peaks as the usual sum of variances has them.

    Parameters
    ----------
    mean : (..., lanes) array, s
    variance : (..., lanes) array, s^2
    gradient_time : float or (..., lanes) array, s, or None
        As of ``Setting``.
    column_variance : (..., lanes) array, s^2, or None
        What the columns add; None without one.
    column_mean : (..., lanes) array, s, or None
        Time in the columns; None without one.
    hold_up : (..., lanes) array, s, or None
    particles_long : (..., lanes) array, 1, or None
        As of ``Setting``.
    extra_column : (..., lanes) array, m^6, or None
        Variance in volume that all else adds; None where it is not known.
    """

    mean: FloatArray
    variance: FloatArray
    gradient_time: Number | None = None
    column_variance: FloatArray | None = None
    column_mean: FloatArray | None = None
    hold_up: FloatArray | None = None
    particles_long: FloatArray | None = None
    extra_column: FloatArray | None = None

    @property
    def deviation(self) -> FloatArray:
        """Standard deviation. (..., lanes) array, s; NaN without a width."""
        return np.asarray(np.sqrt(np.where(self.variance > 0, self.variance, np.nan)))
