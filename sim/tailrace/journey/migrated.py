"""Spectra behind columns through which every element of a band migrates by its own clock.

Such a column is no factor, but linear: what leaves is the sum over the elements that enter, each an
inverse Gaussian density about the time at which it leaves, which has a spectrum in closed form. The
band that enters is laid out in time from its own spectrum; before and behind the column the path is
a product. So all of it is smooth in every number of the path, on a layout that is kept: that is
what derivatives need, where ``migration.py`` answers faster and on grids of each path's own.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from tailrace.errors import AccuracyError
from tailrace.journey.migration import blurred, columns_of, distinct, entrance
from tailrace.journey.product import (
    cumulants_of,
    curve,
    grid_behind,
    spectra,
    spectrum,
    stage_sums,
)
from tailrace.journey.windows import MOST_FREQUENCIES, Window
from tailrace.measures import Moments
from tailrace.parts import KINDS
from tailrace.parts.base import Passages
from tailrace.quantities.arrays import ComplexArray, FloatArray
from tailrace.signals.band import Band
from tailrace.signals.cumulants import Cumulants
from tailrace.signals.elements import Elements

ROOM = 4.0
"""As of ``product.ROOM``; sums over elements are to hold all that there is of tails."""
KINKED, UNHEARD = 30.0, 3e-5
"""Frequency, times the least standard deviation that a column adds, from which on what it passes of
an edge falls as the square: neighbours part at kinks. And what may be left there, of the height,
beyond the last frequency that can be taken: slopes are right to 1e-6 then (found by more)."""
LAST = 40
"""Frequencies that are looked at for that: a plug has none at some."""


@dataclass(frozen=True, eq=False)
class Layout:
    """How a band is laid out in time before a column, and from which frequencies.

    Parameters
    ----------
    window : Window
    omega, kept : (lanes, frequencies) array, rad/s and 1
        What of the spectrum is taken: all that the column lets through.
    """

    window: Window
    omega: FloatArray
    kept: FloatArray

    def over(self, cases: int) -> "Layout":
        """The same for so many cases side by side."""
        one = self.window
        start, step = np.tile(one.start, cases), np.tile(one.step, cases)
        omega, factors = (np.tile(rows, (cases, 1)) for rows in (self.omega, self.kept))
        return Layout(Window(start, step, one.samples), omega, factors)


class Migrated:
    """A path as a product between columns through which bands migrate, if there are any.

    Parameters
    ----------
    passages : passages
        Of which nothing is said by ``migration.not_by_products``; every number a (lanes,) array.
    layouts : mapping of int to Layout, optional
        By place of such a column, of each lane; made for this path if they are left out.
    """

    def __init__(self, passages: Passages, layouts: Mapping[int, Layout] | None = None) -> None:
        self._passages = passages
        self._passed: dict[int, Elements] = {}
        self.layouts: dict[int, Layout] = {}
        for at in columns_of(passages):
            layout = layouts[at] if layouts else self._laid_out(at)
            self._passed[at] = self._through(at, layout)
            self.layouts[at] = layout

    @cached_property
    def sums(self) -> list[Moments]:
        """Moments of the band behind each part."""
        ends = [*self._passed, len(self._passages)]
        found = stage_sums(self._said(ends[0])) if ends[0] else []
        return found + [one for end in ends[1:] for one in stage_sums(self._said(end))]

    def spectra(self, omega: FloatArray, places: Sequence[int]) -> list[ComplexArray]:
        """Behind some places on the path, rising; at (lanes, frequencies) omega, rad/s."""
        if not self._passed:
            return spectra(self._passages, omega, places)
        return [self._spectrum(omega, at + 1) for at in places]

    def grid(self, places: Sequence[int]) -> tuple[Window, FloatArray]:
        """As ``product.grid_behind``: window and frequencies for the curves behind some places."""
        behind = [self._said(at + 1) for at in places]
        return grid_behind(behind, lambda omega: self.spectra(omega, places))

    def _before(self, end: int) -> tuple[int | None, Passages]:
        """The last such column before a place, and the parts between."""
        column = max((at for at in self._passed if at < end), default=None)
        return column, self._passages[0 if column is None else column + 1 : end]

    def _spectrum(self, omega: FloatArray, end: int) -> ComplexArray:
        column, parts = self._before(end)
        one = spectrum(parts, omega) if parts else np.ones(omega.shape, dtype=complex)
        if column is None:
            return one
        back = distinct(self._passages[: column + 1])[1]
        first = np.unique(back, return_index=True)[1]
        return one * self._passed[column].spectrum(omega, first)[back]

    def _said(self, end: int) -> list[Cumulants]:
        column, parts = self._before(end)
        before = [] if column is None else [self._passed[column].cumulants]
        return [*before, *(cumulants_of(parts) if parts else ())]

    def _laid_out(self, at: int) -> Layout:
        text, column = self._said(at), self._passages[at]
        if not (column[0].bent_band and text):
            return Layout(*entrance(text, column, ROOM))
        mean, variance = np.sum([(one.mean, one.variance) for one in text], axis=0)
        width, deviation = blurred(mean, column)[:, None], np.sqrt(variance)[:, None]

        def heard(omega: FloatArray) -> ComplexArray:
            seen = 1 / (1 + (omega * width / KINKED) ** 2)
            return np.asarray(self._spectrum(omega, at) * seen)

        window, omega = grid_behind([text], lambda omega: [heard(omega)])
        last = omega[:, -LAST:]
        many = omega.shape[1] == MOST_FREQUENCIES
        if many and np.any(np.abs(heard(last)) * last * deviation > UNHEARD):
            raise AccuracyError(
                f"the sample's edges ask for more than {MOST_FREQUENCIES} frequencies before it "
                f"enters {column[0].name} in a solvent of its own"
            )
        return Layout(window, omega, np.ones_like(omega))

    def _through(self, at: int, layout: Layout) -> Elements:
        (column, stream), window = self._passages[at], layout.window
        whole = self._spectrum(layout.omega, at) * layout.kept

        def entering(factor: ComplexArray) -> Band:
            values = curve(whole * factor, layout.omega, window.start, window)
            return Band(values, window.start, window.step)

        return KINDS[column.kind].elements(column, stream, layout.omega, entering)
