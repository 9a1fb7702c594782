"""Every combination of changes that was travelled, and what came of it."""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, kw_only=True)
class Combinations:
    """Every combination of changes that was travelled; the first is the start, without any.

    Parameters
    ----------
    taken : (combinations, changes) array of bool, one or zero
        In the order of the file.
    figure, error : (combinations,) array, 1
        The aim's figure as recorded, and its discretisation error.
    of : (combinations,) array of str, names
        Solute, or pair ``a/b``, for which the figure is told: it may differ where the worst counts.
    ceiling : (combinations,) array, 1
        The same figure of the column's own peaks; NaN where there is none.
    theory : (combinations,) array, 1
        The same figure by the sum of textbook variances, as if all peaks were Gaussian.
    cost, effort : (combinations,) array, money and s
    pressure, cell_pressure : (combinations,) array, Pa
        Of the whole path, and at the cell's inlet.
    signal, noise, signal_to_noise : (combinations,) array, 1
        Over the start's: the least of all solutes for the signals.
    computed : (combinations,) array of bool, one or zero
        False where the journey could not be computed.
    broken : tuple of tuple of str
        Of each combination, one sentence for each constraint that it does not meet.
    figures : dict of str to array
        As of ``tailrace.studies.lanes.figures_of`` without ``parts/…`` and ``pressure/drop``; with
        ``theory/mean`` s and ``theory/variance`` s^2, sums over the parts, (combinations, solutes).
    """

    taken: np.ndarray
    figure: np.ndarray
    error: np.ndarray
    of: np.ndarray
    ceiling: np.ndarray
    theory: np.ndarray
    cost: np.ndarray
    effort: np.ndarray
    pressure: np.ndarray
    cell_pressure: np.ndarray
    signal: np.ndarray
    noise: np.ndarray
    signal_to_noise: np.ndarray
    computed: np.ndarray
    broken: tuple[tuple[str, ...], ...]
    figures: dict[str, np.ndarray]

    @property
    def meets(self) -> np.ndarray:
        """Whether every constraint is met. (combinations,) bool array."""
        return self.computed & np.array([not one for one in self.broken])

    def row(self, taken) -> int:
        """The place of a combination.

        Parameters
        ----------
        taken : (changes,) array of bool, one or zero

        Raises
        ------
        KeyError
            Where it was not travelled.
        """
        found = np.flatnonzero((self.taken == np.asarray(taken)).all(axis=1))
        if not found.size:
            raise KeyError("this combination was not travelled")
        return int(found[0])
