"""Noise of a signal where it is blank: white, how neighbours hang together, and drift."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from tailrace.quantities.arrays import FloatArray
from tailrace.quantities.described import described

PIECE, SHORTEST = 120, 12
"""Points of the pieces from which a straight line is taken each; of the shortest piece."""
HIGHEST = 0.98
QUARTER = 0.6745
"""Normal score of the lower quartile."""
Stretch = tuple[int, int]
"""First point, and the one behind the last."""


@dataclass(frozen=True, kw_only=True)
class Noise:
    """What the blank stretches of a signal say."""

    deviation: float = described(
        "standard deviation of the noise about straight lines through short stretches",
        "signal",
        label="noise",
    )
    correlation: float = described(
        "correlation of the noise of one point and the next", label="correlation"
    )
    peak_to_peak: float = described(
        "range of the noise in the longest blank stretch, about a straight line",
        "signal",
        label="peak to peak",
    )
    drift: float = described(
        "slope of a straight line through all blank points",
        "signal/s",
        label="drift",
        default=0.0,
    )
    wander: float = described(
        "standard deviation of what is slower than the noise, about that line",
        "signal",
        label="wander",
        default=0.0,
    )
    points: int = described("blank points that the noise is from", label="blank points", default=0)

    def drawn(self, shape: tuple[int, int], random: np.random.Generator) -> FloatArray:
        """Noise of this kind, (draws, points) array, unit of the signal: autoregressive, first
        order, which is white noise behind a first-order filter."""
        fresh = random.standard_normal(shape)
        keep = self.correlation
        if keep:
            from scipy.linalg import solve_banded

            start = fresh[:, :1].copy()
            fresh *= np.sqrt(1 - keep**2)
            fresh[:, :1] = start
            bands = np.array([[1.0], [-keep]]).repeat(shape[1], axis=1)
            fresh = solve_banded((1, 0), bands, fresh.T, overwrite_b=True).T
        return np.asarray(self.deviation * fresh)


def quick_noise(values: FloatArray) -> float:
    """Standard deviation of white noise from third differences, which a smooth peak hardly has.

    Robust against the peaks that there are: their points are few.
    """
    third = np.diff(values, 3)
    return float(1.4826 * np.median(np.abs(third)) / np.sqrt(20)) if third.size else 0.0


def range_near(
    values: FloatArray, blank: Sequence[Stretch], points: int, place: int
) -> tuple[float, int]:
    """Range about a straight line of so many blank points, and how many there were.

    In the longest blank stretch, as near to a place (a point) as it goes. NaN with too few points.
    """
    start, end = max(blank, key=lambda one: one[1] - one[0], default=(0, 0))
    start = min(max(start, place - points // 2), max(start, end - points))
    end = min(end, start + points)
    if end - start < SHORTEST:
        return float("nan"), max(end - start, 0)
    return float(np.ptp(_about_line(values[start:end]))), end - start


def noise_of(values: FloatArray, step: float, blank: Sequence[Stretch]) -> Noise:
    """The noise in blank stretches.

    From third differences of all points where there is no blank stretch long enough.

    Parameters
    ----------
    values : (points,) array, unit of the signal
    step : float, s
    blank : sequence of (int, int)
        Where nothing elutes.
    """
    pieces = [
        values[at : min(at + PIECE, end)]
        for start, end in blank
        for at in range(start, end, PIECE)
        if min(at + PIECE, end) - at >= SHORTEST
    ]
    if not pieces:
        deviation = quick_noise(values)
        return Noise(deviation=deviation, correlation=0.0, peak_to_peak=6 * deviation)
    left = [_about_line(one) for one in pieces]
    freedom = np.array([one.size - 2 for one in left])
    each = np.array([np.sum(one**2) for one in left]) / freedom
    # small peaks in blank stretches must not count: of many pieces the lower quarter says what
    # their variance is (of a chi-squared variate, Wilson and Hilferty 1931)
    variance = float(np.average(each, weights=freedom))
    if len(left) >= 8:
        spread = 2 / (9 * np.median(freedom))
        variance = float(np.quantile(each, 0.25) / (1 - spread - QUARTER * np.sqrt(spread)) ** 3)
    stretches = [
        one for one, size in zip(left, each, strict=True) if size <= 3 * variance or variance == 0
    ]
    correlation, share = _correlation(stretches)
    variance *= share
    start, end = max(blank, key=lambda one: one[1] - one[0])
    drift, wander = _slow(values, step, blank, variance * (1 + correlation) / (1 - correlation))
    return Noise(
        deviation=float(np.sqrt(variance)),
        correlation=correlation,
        peak_to_peak=float(np.ptp(_about_line(values[start:end]))),
        drift=drift,
        wander=wander,
        points=int(sum(one.size for one in left)),
    )


def _about_line(piece: FloatArray) -> FloatArray:
    places = np.arange(piece.size) - (piece.size - 1) / 2
    slope = places @ piece / (places @ places) if piece.size > 1 else 0.0
    return np.asarray(piece - piece.mean() - slope * places)


def _correlation(pieces: Sequence[FloatArray]) -> tuple[float, float]:
    """Of neighbours, 0 where it cannot be told from none; and by what the variance is larger.

    The line through each piece takes 2 g degrees of freedom from sums of squares and of products,
    g = (1 + r) / (1 - r) being the points that hang together (autoregressive, first order).
    """
    squares = sum(float(one @ one) for one in pieces)
    points, lost = sum(one.size for one in pieces), 2 * len(pieces)
    pairs = points - len(pieces)
    if not squares or pairs < SHORTEST:
        return 0.0, 1.0
    found = sum(float(one[1:] @ one[:-1]) for one in pieces) / squares

    def taken(at: Any) -> Any:
        return lost * (1 + at) / (1 - at)

    # beyond half of the points lost to lines nothing can be told
    highest = (points / 2 / lost - 1) / (points / 2 / lost + 1)
    tried = np.linspace(-HIGHEST, highest, 400)
    foreseen = (pairs * tried - taken(tried)) / (points - taken(tried))
    at = float(tried[np.argmin(np.abs(foreseen - found))])
    if abs(at) < 2.5 / np.sqrt(pairs):
        return 0.0, 1.0
    return at, (points - lost) / (points - taken(at))


def _slow(
    values: FloatArray, step: float, blank: Sequence[Stretch], variance: float
) -> tuple[float, float]:
    """Slope, and what the means of pieces differ by beyond what noise alone makes of them."""
    spans = [(at, min(at + PIECE, end)) for start, end in blank for at in range(start, end, PIECE)]
    middles = np.array([(one + other - 1) / 2 for one, other in spans]) * step
    means = np.array([values[one:other].mean() for one, other in spans])
    sizes = np.array([other - one for one, other in spans])
    if len(spans) < 3:
        start, end = spans[0][0], spans[-1][1]
        places = np.concatenate([np.arange(*one) for one in spans]) * step
        held = np.concatenate([values[one:other] for one, other in spans])
        slope = np.polyfit(places - places.mean(), held, 1)[0] if end - start > 2 else 0.0
        return float(slope), 0.0
    weights = np.sqrt(sizes)
    slope, level = np.polyfit(middles - middles.mean(), means, 1, w=weights)
    left = means - level - slope * (middles - middles.mean())
    beyond = np.sum(sizes * left**2) / sizes.sum() - variance * len(spans) / sizes.sum()
    return float(slope), float(np.sqrt(max(beyond, 0.0)))
