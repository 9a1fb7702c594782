"""What the study of changes answers.

Gains count in the direction that is better: a tailing that falls has a positive gain. Money is in
the file's own currency; everything else is in SI units; NaN where a figure does not exist.
"""

from dataclasses import dataclass

import numpy as np

from tailrace.scenario.changed import changed
from tailrace.studies.improving.aims import Aim, Constraints
from tailrace.studies.improving.combinations import Combinations
from tailrace.studies.improving.expectation import Expectation, Expected

__all__ = [
    "Change",
    "Combinations",
    "Disagreement",
    "Expectation",
    "Expected",
    "Improvement",
    "Step",
]


@dataclass(frozen=True, kw_only=True)
class Change:
    """What one change is worth.

    Parameters
    ----------
    name : str
    cost : float, money
    effort : float, s
    needs, excludes : tuple of str
        Names of other changes; ``excludes`` names both directions.
    caution : str
        From the file; empty where there is none.
    forbidden : str
        Why the method does not allow it; empty where it does.
    alone, alone_error : float, 1
        Gain as the first change, after what it needs.
    last, last_error : float, 1
        Gain as the last step to the best combination that can have it as its last.
    share, share_error : float, 1
        Fair share of the whole gain; the error is that of sampling, 0 where nothing was sampled.
    theory_alone : float, 1
        As ``alone``, by the sum of variances.
    in_best : bool
        Whether the best combination within the constraints has it.
    left_out : str
        Why the best combination does not have it; empty where it has.
    """

    name: str
    cost: float
    effort: float
    needs: tuple[str, ...]
    excludes: tuple[str, ...]
    caution: str
    forbidden: str
    alone: float
    alone_error: float
    last: float
    last_error: float
    share: float
    share_error: float
    theory_alone: float
    in_best: bool
    left_out: str


@dataclass(frozen=True, kw_only=True)
class Step:
    """One step of the best order; step 0 is the start.

    Parameters
    ----------
    number : int
    change : str
        Its name; empty for the start.
    taken : tuple of str
        All changes so far, in the order in which they were made.
    combination : int
        Its row in ``Combinations``.
    figure, error : float, 1
        After the step, and its discretisation error.
    of : str
        The solute or pair that it is told of.
    gain, gain_error : float, 1
        Of this step; discretisation error of the difference.
    gain_low, gain_high : float, 1
        Between which the gain lies with 95 % for the input uncertainty that the file states; NaN
        where it states none.
    recovered : float, 1
        Share of what was lost at the start that all steps so far have brought back.
    theory, theory_gain : float, 1
        The figure, and the gain of this step, by the sum of variances.
    cost, effort : float, money and s
        Of this step.
    total_cost, total_effort : float, money and s
        Of all steps so far.
    pressure, cell_pressure : float, Pa
    signal, noise, signal_to_noise : float, 1
        Over the start's.
    caution : str
        Of the change, from the file.
    broken : tuple of str
        Constraints that the instrument does not meet after this step, one sentence each.
    """

    number: int
    change: str
    taken: tuple[str, ...]
    combination: int
    figure: float
    error: float
    of: str
    gain: float
    gain_error: float
    gain_low: float
    gain_high: float
    recovered: float
    theory: float
    theory_gain: float
    cost: float
    effort: float
    total_cost: float
    total_effort: float
    pressure: float
    cell_pressure: float
    signal: float
    noise: float
    signal_to_noise: float
    caution: str
    broken: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Disagreement:
    """Two changes that simulation and the sum of variances rank in opposite order.

    Parameters
    ----------
    better, worse : str
        Names, as simulation ranks them by their gain alone.
    simulated : tuple of two float, 1
        Gain alone of ``better`` and of ``worse``.
    theory : tuple of two float, 1
        The same by the sum of variances: the first is the smaller.
    """

    better: str
    worse: str
    simulated: tuple[float, float]
    theory: tuple[float, float]


@dataclass(frozen=True, kw_only=True)
class Improvement:
    """The answer.

    Parameters
    ----------
    scenario : Scenario
    aim : Aim
    constraints : Constraints
        With the scenario's own limits put in.
    stop : float, 1
        A step that brings less than this share of the figure before it is not worth making.
    order : str
        What the order makes the most of: ``gain``, ``money`` or ``effort``.
    changes : tuple of Change
        In the order of the file.
    combinations : Combinations
    best : int
        Row of the combination with the best figure within the constraints.
    whole : int
        Row of the combination with the best figure of all that the method allows.
    steps : tuple of Step
        From the start to ``best``.
    ties : tuple of tuple of int
        Numbers of neighbouring steps that may be made in any order: swapping them would make no
        difference beyond the discretisation error and the stated input uncertainty.
    theory_order : tuple of str
        The order in which the sum of variances would make the same steps.
    disagreements : tuple of Disagreement
    frontiers : dict of str to (points,) int array
        ``cost``, ``effort``, ``pressure``, ``signal_to_noise``: rows of the combinations within
        the constraints that no other beats, from the least demand to the most.
    stop_after : int
        Number of the last step that brings ``stop`` or more.
    worth_it : bool
    verdict : str
        One sentence: whether it is worth it, and what it brings.
    searched : str
        How combinations were searched, where not all were travelled; empty where all were.
    expected : Expected or None
        With input uncertainty where the file states one; None until ``expected`` is called.
    """

    scenario: object
    aim: Aim
    constraints: Constraints
    stop: float
    order: str
    changes: tuple[Change, ...]
    combinations: Combinations
    best: int
    whole: int
    steps: tuple[Step, ...]
    ties: tuple[tuple[int, ...], ...]
    theory_order: tuple[str, ...]
    disagreements: tuple[Disagreement, ...]
    frontiers: dict[str, np.ndarray]
    stop_after: int
    worth_it: bool
    verdict: str
    searched: str = ""
    expected: Expected | None = None

    @property
    def start(self) -> float:
        """The figure without any change. float, 1."""
        return float(self.combinations.figure[0])

    @property
    def ceiling(self) -> float:
        """The column's own figure as the start runs it. float, 1; NaN where there is none."""
        return float(self.combinations.ceiling[0])

    @property
    def whole_gain(self) -> float:
        """Of ``whole`` over the start, which the shares add up to. float, 1."""
        return float(self.gain(self.whole))

    def gain(self, row):
        """Gain of combinations over the start. int or array of int in, float or array, 1, out."""
        return self.aim.sign * (self.combinations.figure[row] - self.start)

    def recovered(self, row):
        """Share of what was lost that combinations bring back. As ``gain``; NaN without a loss."""
        lost = self.aim.sign * (self.ceiling - self.start)
        return self.gain(row) / (lost if lost > 0 else np.nan)

    def names(self, row) -> tuple[str, ...]:
        """Names of the changes of a combination, in the order of the file."""
        pairs = zip(self.changes, self.combinations.taken[row], strict=True)
        return tuple(change.name for change, taken in pairs if taken)

    def scenario_with(self, names):
        """The scenario with these changes, a tuple of str. Scenario, ready to be travelled."""
        return changed(self.scenario, names)
