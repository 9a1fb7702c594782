"""The injector: how the sample enters the stream."""

from dataclasses import dataclass

import numpy as np

from tailrace.errors import PartError

SHAPES = ("plug", "washout", "gaussian", "signal")


@dataclass(frozen=True, kw_only=True)
class Injector:
    """The band as it leaves the injector, one unit of amount, concentration against time.

    Parameters
    ----------
    shape : str
        ``plug``: a rectangle that lasts volume / flow. ``washout``: the same rectangle, followed
        by an exponential tail with the time constant washout_volume / flow (a mixed volume,
        filled with sample, that is being rinsed). ``gaussian``: a test input centred on time
        zero. ``signal``: a curve read from a file, joined by straight lines.
    volume : scalar or (lanes,) array, m^3
        Of the rectangle; plug and washout.
    washout_volume : scalar or (lanes,) array, m^3
    sigma : scalar or (lanes,) array, s
        Standard deviation in time; gaussian.
    signal_times, signal_heights : (points,) arrays, s and any unit
        Increasing times; signal. The area is scaled to one.

    Raises
    ------
    PartError
        For a signal without area.
    """

    name: str = "injection"
    shape: str = "plug"
    volume: float | np.ndarray = float("nan")
    washout_volume: float | np.ndarray = 0.0
    sigma: float | np.ndarray = float("nan")
    signal_times: np.ndarray | None = None
    signal_heights: np.ndarray | None = None

    kind = "injector"

    def __post_init__(self):
        """Refuse a signal that holds nothing."""
        if self.shape == "signal" and not np.trapezoid(self.signal_heights, self.signal_times) > 0:
            raise PartError(
                f"{self.name}: the injected signal has no area; give heights above zero at "
                "increasing times"
            )

    def duration(self, stream):
        """Length of the rectangle in time, (lanes,) array, s; NaN for gaussian and signal."""
        return self.volume / np.asarray(stream.flow_rate, dtype=float)

    def residence(self, stream):
        """Zero: times are counted from the start of the injection. (lanes,) array, s."""
        return np.zeros(np.shape(stream.flow_rate))

    def pressure_drop(self, stream):
        """Zero: the valve's own resistance is not known. Scalar, Pa."""
        return 0.0
