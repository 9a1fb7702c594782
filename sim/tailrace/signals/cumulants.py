"""What closed form says of a part: the cumulants that it adds to a band."""

from dataclasses import dataclass

import numpy as np

from tailrace.quantities.arrays import FloatArray


@dataclass(frozen=True, kw_only=True)
class Cumulants:
    """Cumulants in time that one linear part adds to every band that passes it.

    Parameters
    ----------
    mean : (lanes,) array, s
    gaussian_variance : (lanes,) array, s^2
        By the textbook formula (for a tube Taylor and Aris: a long tube).
    variance : (lanes,) array, s^2
        Exact for the model of the part; NaN where no closed form is known.
    third : (lanes,) array, s^3
        Third cumulant, exact likewise.
    """

    mean: np.ndarray
    gaussian_variance: np.ndarray
    variance: np.ndarray
    third: np.ndarray

    @property
    def skewness(self) -> FloatArray:
        """Third cumulant over variance to the power 1.5; NaN where nothing is added."""
        spread = np.where(np.asarray(self.variance) > 0, self.variance, np.nan)
        return self.third / spread**1.5
