"""What measurements should show after each step."""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, kw_only=True)
class Expectation:
    """One figure that a measurement after a step should show.

    Parameters
    ----------
    step : int
    of : str
        Solute, pair ``a/b``, or empty for the whole instrument (pressure).
    figure : str
        ``retention_time`` s, ``width_half`` s, ``plates``, ``peak_capacity``, ``tailing``,
        ``resolution`` 1, ``pressure`` Pa.
    unit : str
        SI.
    value, low, high : float, in the unit of the figure
        As simulated, and between which it lies with 95 %.
    """

    step: int
    of: str
    figure: str
    unit: str
    value: float
    low: float
    high: float


@dataclass(frozen=True, kw_only=True)
class Expected:
    """What measurements should show, step by step.

    Parameters
    ----------
    rows : tuple of Expectation
        In the order of the steps.
    basis : str
        What the band holds, in a sentence: input uncertainty, or the discretisation error alone.
    gain_low, gain_high : (steps,) array, 1
        Of each step's gain, as in ``Step``; NaN for step 0 and without input uncertainty.
    undecided : frozenset of int
        Numbers of steps that could as well come after the next one, within input uncertainty.
    whole_low, whole_high : float, 1
        As ``gain_low`` and ``gain_high``, of all steps together.
    """

    rows: tuple[Expectation, ...]
    basis: str
    gain_low: np.ndarray
    gain_high: np.ndarray
    undecided: frozenset[int] = frozenset()
    whole_low: float = float("nan")
    whole_high: float = float("nan")
