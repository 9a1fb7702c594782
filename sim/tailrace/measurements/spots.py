"""Where peaks are, and over which stretch each is measured."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from tailrace.measurements.evening import Even
from tailrace.measurements.noise import Noise, Stretch, quick_noise
from tailrace.measurements.prominence import half_widths, prominent
from tailrace.measurements.signal import SignalError
from tailrace.quantities.arrays import FloatArray

FEET = 0.5, 0.1
"""Shares of the height between which the slope of either flank is taken ..."""
LAST = 0.25
"""... and the noise, so many times, to which it would fall, continued as an exponential: there
the window ends."""
LEAST_FOLDS, MOST_FOLDS = 3.0, 12.0
"""Decay lengths from 10 % of the height to the end of the window, at least and at most."""
OUT = 20.0
"""How many times the noise a peak has to stand out."""
LEAST_SHARE = 0.01
"""Of the highest peak, below which a peak is left out."""
BLANK_SHARE, FEWEST_BLANK = 0.5, 5
"""Blank stretch beside a window over that window, and its fewest points."""
SMOOTHING = 0.3
"""Half width of the smoothing over the width at half height; see ``treatment``."""
FEWEST = 5
"""Points that a peak has at least above half of its height."""
MOST_PEAKS, MOST_POINTS = 200, 60_000
BELOW = 3.0
"""Times the noise that a valley has to lie below the common baseline of touching peaks, to part
it."""
STANDS = 0.8
"""Of the highest point above the baseline, that the maximum has to reach to be a peak's."""
FLAT = 5
"""Equal points at the top that make a clipped peak, where they are more than a quarter of it."""


@dataclass(frozen=True, kw_only=True)
class Spot:
    """One peak: places of points, counted in the even signal.

    Parameters
    ----------
    window : (int, int)
        Its first point, and the one behind the last.
    before, behind : (int, int)
        Blank stretches from which the baseline is taken.
    half : float, 1
        Width at half height in points.
    smoothing : int
        Half width of the smoothing in points; 0 for none.
    cut_front, cut_tail : bool
        Whether a neighbour or the end of the signal cuts the window short.
    cut : bool
        Whether it still stands out of the noise, and of the baseline at all, where it is cut short.
    clipped : bool
        Whether the top is flat, as of a detector at its limit.
    """

    apex: int
    window: Stretch
    before: Stretch
    behind: Stretch
    half: float
    smoothing: int = 0
    cut_front: bool = False
    cut_tail: bool = False
    cut: bool = False
    clipped: bool = False

    @property
    def whole(self) -> Stretch:
        """Window and blank stretches together."""
        return min(self.window[0], self.before[0]), max(self.window[1], self.behind[1])

    def widened(self, by: float, count: int) -> "Spot":
        """With a window so many times as long, between the same neighbours; baseline as it was."""
        low, high = self.window
        front, tail = (by - 1) * (self.apex - low), (by - 1) * (high - self.apex)
        low = low if self.cut_front else max(0, low - round(front))
        high = high if self.cut_tail else min(count, high + round(tail))
        return replace(self, window=(low, high))


def found_spots(even: Even, noise: Noise | None = None) -> list[Spot]:
    """Every peak that stands out, in the order of time; by noise from third differences where it
    is not known better."""
    values, every = thinned(even.values)
    fast = quick_noise(values) if noise is None else noise.deviation / np.sqrt(every)
    slow = fast if noise is None else float(np.hypot(noise.deviation, noise.wander))
    rough = _averaged(values, 2)
    least = max(OUT * fast / 2, 1e-9 * float(np.ptp(values)))
    tops, out = prominent(rough, least)
    if not tops.size:
        return []
    high = out >= LEAST_SHARE * out.max()
    tops, out = tops[high], out[high]
    if tops.size > MOST_PEAKS:
        best = np.sort(np.argsort(-out, kind="stable")[:MOST_PEAKS])
        tops, out = tops[best], out[best]
    halves = half_widths(rough, tops, out)
    wide = halves >= FEWEST / every
    middles = np.minimum(tops[wide] * every + every // 2, even.values.size - 1)
    return _spots(even, middles, halves[wide] * every, (slow, fast)) if wide.any() else []


def thinned(values: FloatArray) -> tuple[FloatArray, int]:
    """Means of so many neighbours that MOST_POINTS are left, and how many."""
    every = max(1, -(-values.size // MOST_POINTS))
    return values[: values.size // every * every].reshape(-1, every).mean(axis=1), every


def spot_at(even: Even, start: float, end: float) -> Spot:
    """The highest peak of a window that is given, from and to in s.

    Raises SignalError where the window holds too few points, or none of the signal.
    """
    if start >= end:
        raise SignalError(
            f"expected a window whose start comes before its end, found {start:.5g} s to "
            f"{end:.5g} s; exchange them"
        )
    low, high = even.index(start), even.index(end) + 1
    if end <= even.start or start >= even.times[-1] or high - low < 2 * FEWEST:
        raise SignalError(
            f"expected a window within {even.start:.5g} s and {even.times[-1]:.5g} s with at least "
            f"{2 * FEWEST} points, found {start:.5g} s to {end:.5g} s; widen it"
        )
    length = high - low
    rim = max(FEWEST_BLANK, round(0.05 * length))
    room = max(rim, round(BLANK_SHARE * length / 2))
    # where the signal ends with the window its own rims are the blank ends
    before = (max(0, low - room), low) if low >= rim else (low, low + rim)
    behind = (
        (high, min(even.values.size, high + room))
        if even.values.size - high >= rim
        else (high - rim, high)
    )
    inside = even.values[low:high]
    line = np.linspace(
        even.values[slice(*before)].mean(), even.values[slice(*behind)].mean(), length
    )
    apex = low + int(np.argmax(_averaged(inside - line, 1)))
    level = (even.values[apex] - line[apex - low]) / 2
    half = float(np.count_nonzero(inside - line > level))
    return _finished(
        even, Spot(apex=apex, window=(low, high), before=before, behind=behind, half=half)
    )


def blank_stretches(spots: list[Spot], count: int, reach: float = 0.25) -> list[Stretch]:
    """What is left of a signal of so many points between windows, each made a little longer."""
    free = np.ones(count, dtype=bool)
    for one in spots:
        more = round(reach * (one.window[1] - one.window[0]))
        free[max(0, one.window[0] - more) : one.window[1] + more] = False
    edges = np.flatnonzero(np.diff(np.concatenate([[0], free.astype(int), [0]])))
    return [(int(one), int(other)) for one, other in zip(edges[::2], edges[1::2], strict=True)]


def _spots(
    even: Even, tops: FloatArray, halves: FloatArray, noises: tuple[float, float]
) -> list[Spot]:
    """Windows, by the slow noise, and blank stretches; neighbours that touch share one baseline
    unless a valley lies below it by the fast one."""
    count = even.values.size
    windows = []
    for top, half in zip(tops, halves, strict=True):
        windows.append(_window(even.values, int(top), float(half), noises[0]))
    rims = [
        _rim(even.values, [int(one) for one in pair], both)
        for pair, both in zip(pairwise(tops), pairwise(windows), strict=True)
    ]
    low_rims, high_rims = [0, *rims], [*(one + 1 for one in rims), count]
    cut = [
        (max(window[0], low), min(window[1], high))
        for window, low, high in zip(windows, low_rims, high_rims, strict=True)
    ]
    touching = [one[1] > other[0] for one, other in pairwise(windows)]
    spots = []
    for at, (low, high) in enumerate(cut):
        before, behind = _group(even, cut, rims, touching, at, noises[1])
        spot = Spot(
            apex=int(tops[at]),
            window=(low, high),
            before=before,
            behind=behind,
            half=float(halves[at]),
            cut_front=windows[at][0] < low,
            cut_tail=windows[at][1] > high,
        )
        spots.append(_finished(even, replace(spot, cut=_stands_at_cut(even, spot, noises[0]))))
    return [one for one in spots if _stands(even, one)]


def _rim(values: FloatArray, tops: Sequence[int], windows: tuple[Stretch, Stretch]) -> int:
    """Where two neighbours part: between their windows, or where these reach each other at the
    lowest point, of several that are as low the middle one."""
    (_, end), (start, _) = windows
    if end <= start:
        return (end + start) // 2
    between = values[tops[0] : tops[1] + 1]
    lowest = np.flatnonzero(between == between.min())
    return tops[0] + int(lowest[lowest.size // 2])


def _group(
    even: Even, cut: list[Stretch], rims: list[int], touching: list[bool], at: int, noise: float
) -> tuple[Stretch, Stretch]:
    """Blank stretches before and behind those that share the baseline of a peak."""
    first = last = at
    while first > 0 and touching[first - 1]:
        first -= 1
    while last < len(rims) and touching[last]:
        last += 1
    values, length = even.values, cut[at][1] - cut[at][0]
    while True:
        before = _blank(cut[first][0], 0 if first == 0 else cut[first - 1][1], length, -1)
        end = values.size if last == len(rims) else cut[last + 1][0]
        behind = _blank(cut[last][1], end, length, 1)
        valleys = rims[first:last]
        levels = np.array([values[max(0, one - 2) : one + 3].mean() for one in valleys])
        above = levels - _line(values, (before, behind), valleys)
        if not valleys or above.min() >= -BELOW * noise:
            return before, behind
        lowest = first + int(np.argmin(above))
        first, last = (first, lowest) if at <= lowest else (lowest + 1, last)


def _line(values: FloatArray, ends: tuple[Stretch, Stretch], places: Sequence[int]) -> FloatArray:
    """The line through the means of two stretches at places between them."""
    middles = [(one + other - 1) / 2 for one, other in ends]
    means = [float(values[one:other].mean()) for one, other in ends]
    return np.asarray(np.interp(np.asarray(places, dtype=float), middles, means))


def _stands(even: Even, spot: Spot) -> bool:
    """Whether there is a maximum within the window, above a line between its blank ends."""
    low, high = spot.window
    line = _line(even.values, (spot.before, spot.behind), range(low, high))
    above = _averaged(even.values[low:high] - line, 1)
    at = spot.apex - low
    return bool(0 < at < above.size - 1 and above[at] > STANDS * max(above.max(), 0.0))


def _stands_at_cut(even: Even, spot: Spot, noise: float) -> bool:
    """Whether the signal is above the baseline where a window is cut short, or ends with it."""
    count, (low, high) = even.values.size, spot.window
    places = [low] * spot.cut_front + [high - 1] * spot.cut_tail
    ends = spot.before, spot.behind
    top = even.values[spot.apex] - _line(even.values, ends, [spot.apex])[0]
    least = max(noise, FEET[1] * np.exp(-MOST_FOLDS) * top)
    return any(
        at in (0, count - 1)
        or even.values[max(0, at - 2) : at + 3].mean() - _line(even.values, ends, [at])[0] > least
        for at in places
    )


def _blank(edge: int, end: int, length: int, way: int) -> Stretch:
    """A stretch from the edge of a window outwards; the last points within where there is none."""
    room = min(abs(end - edge), max(FEWEST_BLANK, round(BLANK_SHARE * length)))
    if room < FEWEST_BLANK:
        room, way = min(FEWEST_BLANK, length), -way
    return (edge, edge + room) if way > 0 else (edge - room, edge)


def _window(values: FloatArray, top: int, half: float, noise: float) -> Stretch:
    """By the rule of ``LAST``, not cut yet; found on a smoothed signal above its own ends."""
    reach = round(6 * half) + 4
    low, high = max(0, top - reach), min(values.size, top + reach + 1)
    piece = _averaged(values[low:high], max(1, round(0.15 * half)))
    middle = top - low
    # the lowest points on either side, within reach, stand for the baseline
    left, right = int(np.argmin(piece[: middle + 1])), middle + int(np.argmin(piece[middle:]))
    line = np.interp(np.arange(piece.size), [left, right], piece[[left, right]])
    above = piece - line
    last = np.log(max(LAST * noise, 1e-300))
    folds = np.log(FEET[1]) + np.log(max(above[middle], 1e-300)) - last
    folds = float(np.clip(folds, LEAST_FOLDS, MOST_FOLDS))
    ends = []
    for flank in (above[middle::-1], above[middle:]):
        at, foot = (_fall(flank, share * above[middle]) for share in FEET)
        ends.append(round(foot + folds * (foot - at) / np.log(FEET[0] / FEET[1])))
    return top - ends[0], top + ends[1] + 1


def _fall(flank: FloatArray, height: float) -> float:
    """Points from the top to where a flank first falls to a height; its end where it does not."""
    under = np.flatnonzero(flank < height)
    if not under.size or not under[0]:
        return float(flank.size - 1)
    one, other = flank[under[0] - 1], flank[under[0]]
    return float(under[0] - (height - other) / (one - other))


def _finished(even: Even, spot: Spot) -> Spot:
    """With its smoothing, and whether it is clipped."""
    low, high = spot.window
    inside = even.values[low:high]
    equal = np.flatnonzero(inside == inside.max())
    run = int(equal[-1] - equal[0] + 1) if equal.size else 0
    flat = run == equal.size and run >= max(FLAT, 0.25 * spot.half)
    return replace(spot, smoothing=int(SMOOTHING * spot.half), clipped=bool(flat))


def _averaged(values: FloatArray, reach: int) -> FloatArray:
    """Mean over so many points on either side; fewer at the ends."""
    if values.size <= 2 * reach + 1:
        return values
    kernel = np.ones(2 * reach + 1)
    held = np.convolve(np.ones(values.size), kernel, "same")
    return np.asarray(np.convolve(values, kernel, "same") / held)
