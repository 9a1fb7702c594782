"""The uncertain inputs of a scenario: each a field, its value, and how it is spread about it."""

from dataclasses import dataclass

import numpy as np

from tailrace.quantities.kinds import KINDS, kind_named, plain, show
from tailrace.scenario.distribution import Distribution
from tailrace.scenario.target import Target

ENDS = (0.00135, 0.99865)
"""What is told as the limits of a distribution without ends: three standard deviations of a
normal one (common practice, no source)."""
LEAST_CUT = 1e-6
"""A cut of less probability than this is not told."""


@dataclass(frozen=True, kw_only=True)
class Input:
    """One row of ``[[uncertain]]``, in SI.

    Parameters
    ----------
    target : Target
    nominal : float, SI unit of the field
        What the scenario says.
    distribution : Distribution
    kind : str
        ``tolerance`` or ``measurement``.
    because : str
    """

    target: Target
    nominal: float
    distribution: Distribution
    kind: str
    because: str = ""

    @property
    def name(self) -> str:
        """As it is called in results: ``inlet tube.bore``."""
        return self.target.name

    @property
    def quantity(self) -> str:
        """Kind of quantity; empty for a plain number."""
        return self.target.kind if self.target.kind in KINDS else ""

    @property
    def unit(self) -> str:
        """SI unit; "1" of a plain number."""
        return kind_named(self.quantity).unit if self.quantity else "1"

    def values(self, scores, nominal=None, scale=1.0):
        """Values at normal scores.

        Parameters
        ----------
        scores : (samples,) array, 1
        nominal : float, SI unit of the field, optional
            Of another scenario; the deviations go with it.
        scale : float, 1
            All deviations are so many times as wide.

        Returns
        -------
        (samples,) array, SI unit of the field
        """
        at = self.nominal if nominal is None else nominal
        return self.distribution.quantile(scores, at, self.target.bounds, scale)

    def standard_uncertainty(self, scale=1.0) -> float:
        """Standard deviation of the cut distribution. SI unit of the field."""
        bounds = self.target.bounds
        return self.distribution.mean_and_deviation(self.nominal, bounds, scale)[1]

    def limits(self, scale=1.0) -> tuple[float, float]:
        """Least and greatest value: the ends, or the middle 99.73 %. SI unit of the field."""
        from scipy.special import ndtri

        ends = (2.0**-54, 1 - 2.0**-53) if self.distribution.bounded else ENDS
        low, high = self.values(ndtri(np.array(ends)), scale=scale)
        return float(low), float(high)

    def cut(self, scale=1.0) -> float:
        """Probability that lies outside of what the field can be, and is cut off. 1."""
        if scale == 0:
            return 0.0
        below, within = self.distribution.held(self.nominal, self.target.bounds, scale)
        return below + 1 - within

    def sentence(self, scale=1.0) -> str:
        """The distribution in words: ``normal, standard deviation 2 um, about 0.12 mm``."""
        one = self.distribution
        if one.word == "data":
            wide = "" if scale == 1 else f", deviations {scale:.4g} times as wide"
            return (
                f"from data, {len(one.values)} values, SHA-256 of the file begins with "
                f"{one.sha256[:16]}{wide}"
            )
        if one.word == "lognormal":
            return (
                f"lognormal, standard deviation of the logarithm {scale * one.deviation:.4g}, "
                f"median {self.shown(self.nominal)}"
            )
        if one.word == "normal":
            shape = f"standard deviation {self._width(scale * one.deviation)}"
        elif one.low == -one.high:
            shape = f"half width {self._width(scale * one.high)}"
        else:
            ends = (self.shown(self.nominal + scale * end) for end in (one.low, one.high))
            shape = "from " + " to ".join(ends)
        if one.word == "trapezoidal":
            shape += f", flat over half a width of {self._width(scale * one.top)}"
        return f"{one.word}, {shape}, about {self.shown(self.nominal)}"

    def told_cut(self, scale=1.0) -> str:
        """One sentence on what is cut off; empty where nothing is that could matter."""
        lost = self.cut(scale)
        if lost < LEAST_CUT:
            return ""
        low, high = (self.shown(value) for value in self.target.bounds)
        return (
            f"{self.name}: {100 * lost:.2g} % of its distribution lies outside of what it can be "
            f"({low} to {high}) and is cut off; the rest shares that probability"
        )

    def shown(self, value) -> str:
        """A value as people write it."""
        return show(value, self.quantity) if self.quantity else plain(value)

    def _width(self, value):
        """A deviation as people write it."""
        if self.distribution.relative:
            return f"{100 * value:.4g} %"
        if self.quantity and kind_named(self.quantity).offset:
            return f"{value:.4g} {self.unit}"
        return self.shown(value)


def inputs_of(scenario) -> tuple[Input, ...]:
    """Return the uncertain inputs, in the order of the file.

    Parameters
    ----------
    scenario : Scenario
        As ``tailrace.load`` made it.

    Raises
    ------
    ScenarioError
        Where a file of data is gone or has changed for the worse.
    """
    from tailrace.errors import ScenarioError
    from tailrace.scenario.uncertain_rules import read_inputs

    inputs, problems = read_inputs(scenario)
    if problems:
        raise ScenarioError([f"{problems[0].key}: {problems[0].sentence}"])
    return tuple(inputs)


def correlation_of(scenario, inputs) -> np.ndarray:
    """Correlation of the normal scores of the inputs.

    Parameters
    ----------
    scenario : Scenario
    inputs : tuple of Input

    Returns
    -------
    (inputs, inputs) array, 1
    """
    from tailrace.scenario.uncertain_rules import correlation

    return correlation(scenario, inputs)[0]
