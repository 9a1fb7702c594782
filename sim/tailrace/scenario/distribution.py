"""How a value is spread about a nominal one, and where physics cuts it off."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal, Protocol

import numpy as np

from tailrace.quantities.arrays import FloatArray, Number

Word = Literal["normal", "uniform", "triangular", "trapezoidal", "lognormal", "data", "bootstrap"]
DISTRIBUTIONS: dict[Word, tuple[tuple[str, ...], ...]] = {
    "normal": (("standard_deviation",), ("relative",)),
    "uniform": (("half_width",), ("low", "high"), ("relative",)),
    "triangular": (("half_width",), ("low", "high"), ("relative",)),
    "trapezoidal": (
        ("half_width", "top_half_width"),
        ("low", "high", "top_half_width"),
        ("relative", "top_half_width"),
    ),
    "lognormal": (("relative",),),
    "data": (("file",),),
    "bootstrap": (("file",),),
}
"""Each distribution with the sets of keys that give it."""

MANY = 50
"""Values from which data have a shape of their own, and are taken as they are; common practice, no
source."""
PIECES = 16
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(25)
SCORES = ((np.arange(1, 2 * PIECES, 2)[:, None] + _NODES) / PIECES - 1).ravel()
SCORE_WEIGHTS = np.tile(_WEIGHTS / PIECES, PIECES)
"""From -1 to 1, in pieces, since 400 nodes in one piece take half a second to be found."""
TINY = 1e-300
REACH = 8.0
"""Normal scores between -REACH and REACH hold all but 1e-15 of every distribution."""


class Law(Protocol):
    """A distribution before it is cut."""

    def cdf(self, value: float, /) -> Number:
        """Probability of lying below. 1."""
        ...

    def ppf(self, probability: FloatArray, /) -> Number:
        """Value that is not exceeded with a probability. SI unit of the field."""
        ...


@dataclass(frozen=True, kw_only=True)
class Distribution:
    """The shape of an uncertainty, apart from the nominal value that it stands about.

    Parameters
    ----------
    word : str
        A name in ``DISTRIBUTIONS``.
    relative : bool
        Whether the widths are over the nominal value; else they are in its SI unit.
    deviation : float, SI unit of the field or 1
        Standard deviation; of a lognormal one that of the logarithm, its median being nominal; of
        data by how much the t distribution is scaled.
    low, high : float, SI unit of the field or 1
        Least and greatest deviation of a bounded one. The mode of a triangle is the nominal value.
    top : float, SI unit of the field or 1
        Half width of the flat top of a trapezium.
    values : tuple of float, SI unit of the field
        Deviations of the data, rising.
    sha256 : str
        Of the file of data.
    """

    word: str
    relative: bool = False
    deviation: float = 0.0
    low: float = 0.0
    high: float = 0.0
    top: float = 0.0
    values: tuple[float, ...] = ()
    sha256: str = ""

    @property
    def bounded(self) -> bool:
        """Whether it ends by itself."""
        return self.word not in ("normal", "lognormal") and not self.few

    @property
    def few(self) -> bool:
        """Whether it is the t distribution of few data (JCGM 101:2008, 6.4.9.4)."""
        return self.word == "data" and len(self.values) < MANY

    def law(self, nominal: float, scale: float = 1.0) -> "Law":
        """The distribution of the value before it is cut.

        Parameters
        ----------
        nominal : float, SI unit of the field
        scale : float, 1
            All deviations are this many times as wide; above zero.
        """
        from scipy.special import ndtr, ndtri, stdtr, stdtrit

        unit = scale * (abs(nominal) if self.relative else 1.0)
        low, width = nominal + unit * self.low, unit * (self.high - self.low)
        if self.word == "normal":
            return _Scaled(nominal, unit * self.deviation, ndtr, ndtri)
        if self.word == "lognormal":
            spread = scale * self.deviation
            return _Scaled(
                0.0,
                nominal,
                lambda x: ndtr(np.log(np.maximum(x, TINY)) / spread),
                lambda share: np.exp(spread * ndtri(share)),
            )
        if self.word in ("uniform", "triangular", "trapezoidal"):
            ends = np.array(
                {"uniform": (self.low, self.high)}.get(self.word, (-self.top, self.top))
            )
            return _Scaled(low, width, *_trapezium(*(ends - self.low) / (self.high - self.low)))
        values = nominal + unit * np.array(self.values)
        if self.few:
            free = len(values) - 1
            return _Scaled(
                float(values.mean()),
                unit * self.deviation,
                lambda x: stdtr(free, x),
                lambda share: stdtrit(free, share),
            )
        return _Drawn(values) if self.word == "bootstrap" else _Empirical(values)

    def held(
        self, nominal: float, bounds: tuple[float, float], scale: float = 1.0
    ) -> tuple[float, float]:
        """Probabilities of the value lying below the first bound and below the second. 1."""
        law = self.law(nominal, scale)
        return float(law.cdf(bounds[0])), float(law.cdf(bounds[1]))

    def quantile(
        self, scores: FloatArray, nominal: float, bounds: tuple[float, float], scale: float = 1.0
    ) -> FloatArray:
        """Values at normal scores, the distribution cut at its bounds.

        Parameters
        ----------
        scores : array, 1
            Of a standard normal distribution.
        nominal : float, SI unit of the field
        bounds : tuple of two float, SI unit of the field
        scale : float, 1

        Returns
        -------
        array, SI unit of the field
            What lies outside of the bounds is cut off, and the rest shares its probability.
        """
        from scipy.special import ndtr

        if scale == 0:
            return np.full(np.shape(scores), float(nominal))
        below, within = self.held(nominal, bounds, scale)
        # Short of 0 and 1, where an unbounded distribution has no value.
        share = np.clip(ndtr(scores), 2.0**-54, 1 - 2.0**-53)
        values = self.law(nominal, scale).ppf(below + (within - below) * share)
        return np.asarray(np.clip(values, *bounds))

    def mean_and_deviation(
        self, nominal: float, bounds: tuple[float, float], scale: float = 1.0
    ) -> tuple[float, float]:
        """Mean and standard deviation of the cut distribution, SI unit of the field.

        By Gauss-Legendre quadrature over normal scores, the same for every shape; within 1e-3 of
        the deviation where the shape has corners.
        """
        weights = SCORE_WEIGHTS * np.exp(-np.square(REACH * SCORES) / 2)
        values = self.quantile(REACH * SCORES, nominal, bounds, scale)
        mean = np.average(values, weights=weights)
        return float(mean), float(np.sqrt(np.average(np.square(values - mean), weights=weights)))


@dataclass(frozen=True)
class _Scaled:
    """A standard law, moved and stretched."""

    middle: float
    size: float
    standard_cdf: Callable[[Any], Any]
    standard_ppf: Callable[[Any], Any]

    def cdf(self, value: float) -> Number:
        """Probability of lying below. 1."""
        return float(self.standard_cdf((value - self.middle) / self.size))

    def ppf(self, probability: FloatArray) -> FloatArray:
        """Value that is not exceeded with a probability. Array, SI unit of the field."""
        return np.asarray(self.middle + self.size * self.standard_ppf(probability))


def _trapezium(
    rise: float, fall: float
) -> tuple[Callable[[Number], Number], Callable[[FloatArray], FloatArray]]:
    """Probability below, and its inverse, of a density that is level from rise to fall."""
    top = 2 / (1 + fall - rise)
    before, behind = top * rise / 2, top * (1 - fall) / 2

    def below(value: Number) -> Number:
        x = np.clip(value, 0.0, 1.0)
        up = np.minimum(x, rise) ** 2 / (2 * max(rise, TINY))
        down = np.maximum(x - fall, 0.0)
        level = np.clip(x, rise, fall) - rise + down - down**2 / (2 * max(1 - fall, TINY))
        return np.where(x >= 1, 1.0, np.minimum(top * (up + level), 1.0))

    def inverse(share: FloatArray) -> FloatArray:
        level = rise + (share - before) / top
        up = np.sqrt(2 * rise * np.maximum(share, 0.0) / top)
        down = 1 - np.sqrt(2 * (1 - fall) * np.maximum(1 - share, 0.0) / top)
        return np.where(share < before, up, np.where(share > 1 - behind, down, level))

    return below, inverse


class _Empirical:
    """Sorted data joined by straight lines (JCGM 101:2008, annex D): nothing beyond its ends."""

    def __init__(self, values: FloatArray) -> None:
        self._values = values
        self._levels = np.linspace(0, 1, len(values))

    def cdf(self, value: Number) -> FloatArray:
        """Probability of lying below. Array, 1."""
        return np.asarray(np.interp(value, self._values, self._levels, left=0.0, right=1.0))

    def ppf(self, probability: Number) -> FloatArray:
        """Value that is not exceeded with a probability. Array, SI unit of the field."""
        return np.asarray(np.interp(probability, self._levels, self._values))


class _Drawn:
    """Sorted data, each as likely as any other, and nothing between."""

    def __init__(self, values: FloatArray) -> None:
        self._values = values

    def cdf(self, value: Number) -> FloatArray:
        """Probability of lying at a value or below. Array, 1."""
        return np.searchsorted(self._values, value, side="right") / len(self._values)

    def ppf(self, probability: Number) -> FloatArray:
        """Value that is not exceeded with a probability. Array, SI unit of the field."""
        place = np.ceil(np.asarray(probability) * len(self._values)).astype(int) - 1
        return np.asarray(self._values[np.clip(place, 0, len(self._values) - 1)])
