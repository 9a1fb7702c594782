"""Files measured: every metric of the registry with its standard uncertainty."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from tailrace.measurements.baseline import Kind
from tailrace.measurements.evening import Even, evened
from tailrace.measurements.noise import Noise, Stretch, noise_of, quick_noise, range_near
from tailrace.measurements.prominence import prominent
from tailrace.measurements.result import Measured, Measurement, Repeats
from tailrace.measurements.signal import Mark, Signal, SignalError
from tailrace.measurements.spots import OUT, Spot, blank_stretches, found_spots, spot_at, thinned
from tailrace.measurements.treatment import Treatment, treatment, without_baseline
from tailrace.measures import METRICS, measure
from tailrace.measures.registry import AREA, HEIGHT, MEAN, VARIANCE, WIDTH
from tailrace.quantities.arrays import FloatArray
from tailrace.signals.band import Band

WIDER, NARROWER = 1.25, 0.8
DRAWS, FEWEST_DRAWS, DRAWS_IN_ALL = 200, 50, 2000
"""Of the noise of one peak, at most and at least, and of all peaks of a file."""
VARIANT_DRAWS = 40
MOSTLY = 0.95
"""Of the draws, in which a metric has to come out roughly the same to be told."""
PLAIN = 0.2, 20.0
"""Changes over the noise below which they do not count, and above which they do, all of them."""
DEEPER = 1.2
"""Depth of the deepest valley over the height of the highest peak, above which the former counts
as a peak that points down."""
CERTAIN = 2.0
"""Standard deviations that a change of window or baseline has to be beyond noise to count."""
MOMENTS = (MEAN, VARIANCE, "skewness", "plates_moments")
"""Metrics that mean something of a peak only with an area above its baseline."""
SEED = 15
NOISE_WIDTHS, LEAST_WIDTHS = 20.0, 5.0
"""Widths of a peak at half height over which its noise is taken, peak to peak, for its
signal-to-noise ratio, and at least (Ph. Eur. 2.2.46, USP <621>; from memory)."""


def measured_file(
    signal: Signal,
    *,
    window: tuple[float, float] | None = None,
    baseline: Kind = "line",
    blank: Signal | None = None,
    seed: int = SEED,
) -> Measurement:
    """Measure every peak of a signal, or the one within a window (from and to, s).

    Raises SignalError where no peak stands out, or the window holds none.
    """
    even = evened(signal)
    blank_values = None if blank is None else blank_run(even, blank)
    if blank_values is not None:
        even = replace(even, values=even.values - blank_values)
    spots = found_spots(even) if window is None else [spot_at(even, *window)]
    if not spots:
        found = "none; give a window if there is one"
        if points_down(even.values):
            found = "one that points down; turn the polarity"
        raise SignalError(
            f"{signal.name}: expected a peak that stands out of the noise, found {found}"
        )
    stretches = blank_stretches(spots, even.values.size)
    if window is not None:
        stretches = [*free_stretches(even, spots[0]), spots[0].before, spots[0].behind]
    noise = noise_of(even.values, even.step, stretches)
    if window is None:
        spots = found_spots(even, noise) or spots
    about = noise_ranges(even, spots, stretches)
    even = without_baseline(even, baseline, spots, noise)
    kind: Kind = "constant" if blank is not None else baseline
    draws = int(np.clip(DRAWS_IN_ALL // len(spots), FEWEST_DRAWS, DRAWS))
    rows = [
        _Peak(even, spot, kind, noise, np.random.default_rng([seed, at]), draws).rows()
        for at, spot in enumerate(spots)
    ]
    return _measurement(signal, even, spots, noise, kind, rows, baseline, blank, about)


def points_down(values: FloatArray) -> bool:
    """Whether the largest of all peaks is one that points down."""
    values = thinned(values)[0]
    up, down = (prominent(one, OUT * quick_noise(values) / 2)[1] for one in (values, -values))
    return bool(down.size and down.max() > DEEPER * max(up, default=0.0))


def noise_ranges(
    even: Even, spots: Sequence[Spot], blank: Sequence[Stretch]
) -> tuple[FloatArray, FloatArray]:
    """Noise peak to peak for each peak, and over how many of its widths there was room for it."""
    wanted = [max(2, round(NOISE_WIDTHS * one.half)) for one in spots]
    found = [
        range_near(even.values, blank, points, one.apex)
        for one, points in zip(spots, wanted, strict=True)
    ]
    sizes = [count / one.half for (_, count), one in zip(found, spots, strict=True)]
    return np.array([size for size, _ in found]), np.array(sizes)


def read_plainly(even: Even) -> dict[str, FloatArray]:
    """Every peak as ``measured_file`` reads it, each metric a (peaks,) array, and no uncertainty.

    ``signal_to_noise`` among them; nothing where no peak stands out.
    """
    spots = found_spots(even)
    blank = blank_stretches(spots, even.values.size)
    spots = spots and (found_spots(even, noise_of(even.values, even.step, blank)) or spots)
    if not spots:
        return {}
    ways = [treatment(even, one, "line") for one in spots]
    rows = [metrics_of(way.band(way.cut(even.values[None]))) for way in ways]
    found = {name: np.concatenate([row[name] for row in rows]) for name in rows[0]}
    return found | {"signal_to_noise": 2 * found[HEIGHT] / noise_ranges(even, spots, blank)[0]}


def measured_files(files: Sequence[Measurement], repeats: bool = False) -> Measured:
    """Put files together, as repeats of one measurement where they are.

    Raises SignalError where repeats have different numbers of peaks.
    """
    return Measured(
        title=", ".join(one.name for one in files),
        files=_by_name(files),
        repeats=_repeats(files) if repeats else None,
    )


def _by_name(files: Sequence[Measurement]) -> dict[str, Measurement]:
    """By name; a name that is there already, in another folder, gets a number."""
    measurements: dict[str, Measurement] = {}
    for one in files:
        same = sum(other.name == one.name for other in measurements.values())
        measurements[f"{one.name} ({same + 1})" if same else one.name] = one
    return measurements


class _Peak:
    """One peak under measurement."""

    def __init__(
        self,
        even: Even,
        spot: Spot,
        kind: Kind,
        noise: Noise,
        random: np.random.Generator,
        draws: int,
    ) -> None:
        self.way = treatment(even, spot, kind)
        count = even.values.size
        self.sound = not spot.clipped and not even.broken(
            even.times[spot.window[0]], even.times[spot.window[1] - 1]
        )
        half = [_inner(one, way) for one, way in ((spot.before, -1), (spot.behind, 1))]
        self.variants = {
            "wider": replace(self.way, spot=spot.widened(WIDER, count)),
            "narrower": replace(self.way, spot=spot.widened(NARROWER, count)),
            "baseline": replace(self.way, spot=replace(spot, before=half[0], behind=half[1])),
        }
        wholes = [one.spot.whole for one in (self.way, *self.variants.values())]
        self.first = min(one for one, _ in wholes)
        last = max(one for _, one in wholes)
        segment = even.values[None, self.first : last]
        self.values = self._metrics(self.way, segment)
        clean, (low, high) = segment.copy(), (one - self.first for one in spot.window)
        clean[:, low:high] = self.way.smoothed(segment[:, low:high])
        self.lanes = clean + noise.drawn((draws, last - self.first), random)
        self.segment = segment

    def _metrics(self, way: Treatment, lanes: FloatArray) -> dict[str, FloatArray]:
        low, high = (one - self.first for one in way.spot.whole)
        return metrics_of(way.band(lanes[:, low:high]))

    def rows(self) -> dict[str, dict[str, float]]:
        """By what is said of the peak, each metric."""
        drawn = self._metrics(self.way, self.lanes)
        few = {name: one[:VARIANT_DRAWS] for name, one in drawn.items()}
        determined = {
            name: _determined(float(self.values[name][0]), one, self._size(name))
            for name, one in drawn.items()
        }
        noise = {name: spread for name, (_, spread) in determined.items()}
        found = {"metrics": {name: value for name, (value, _) in determined.items()}}
        parts = {}
        for name, way in self.variants.items():
            new = self._metrics(way, self.segment)
            change = {key: float((one - self.values[key])[0]) for key, one in new.items()}
            found[name] = change
            if name == "narrower":
                continue
            size = {key: abs(change[key]) / noise[key] if noise[key] else 0.0 for key in noise}
            if all(not PLAIN[0] < one < PLAIN[1] for one in size.values()):
                parts[name] = {
                    key: abs(change[key]) * (one > PLAIN[0] or not noise[key])
                    for key, one in size.items()
                }
                continue
            lanes = self._metrics(way, self.lanes[:VARIANT_DRAWS])
            parts[name] = {
                key: _beyond(change[key], _deviation(one - few[key])) for key, one in lanes.items()
            }
        found |= {"noise_part": noise, "window_part": parts["wider"]}
        found["baseline_part"] = parts["baseline"]
        found["uncertainty"] = {
            key: float(np.sqrt(noise[key] ** 2 + sum(one[key] ** 2 for one in parts.values())))
            for key in noise
        }
        told = self._resolved(found["metrics"], parts) if self.sound else set()
        return {
            row: {key: one if key in told else float("nan") for key, one in values.items()}
            for row, values in found.items()
        }

    def _size(self, name: str) -> float:
        """Of a metric, by whose half it has to be known: a time means something over the width."""
        metric, value = METRICS[name], abs(float(self.values[name][0]))
        if metric.relative_to == "width":
            width = float(self.values[WIDTH][0])
            low, high = self.way.spot.window
            return width if np.isfinite(width) else self.way.step * (high - low)
        return max(value, 1.0 if metric.unit == "1" else 0.0)

    def _resolved(self, metrics: dict[str, float], parts: dict[str, dict[str, float]]) -> set[str]:
        """Metrics that noise, window and baseline leave, and that mean something."""
        told = {
            name
            for name, value in metrics.items()
            if np.isfinite(value)
            and all(one[name] <= self._size(name) / 2 for one in parts.values())
        }
        start, (low, high) = self.way.start, self.way.spot.window
        within = start + self.way.step * low < metrics[MEAN] < start + self.way.step * (high - 1)
        if AREA in told and within and float(self.values[VARIANCE][0]) > 0:
            return told
        return told - set(MOMENTS)


def metrics_of(band: Band) -> dict[str, FloatArray]:
    """Every metric of peaks, (lanes,) arrays; NaN where a band has no point above its baseline, and
    of sums where it has no area above it."""
    sound = band.area > 0
    if sound.all():
        return measure(band)
    if not band.lanes:
        return {}
    # an outline is read above the baseline, whatever is below
    above = np.maximum(band.values, 0.0)
    stands = above.max(axis=1) > 0
    values = np.where(stands[:, None], np.where(sound[:, None], band.values, above), 1.0)
    found = measure(Band(values, band.start, band.step))
    return {
        name: np.where(sound if name in (AREA, *MOMENTS) else stands, one, np.nan)
        for name, one in found.items()
    }


def between_marks(signal: Signal, mark: Mark) -> tuple[float, float, float]:
    """Retention time, height and area of a peak by the file's own marks and baseline.

    The area is the sum of trapezia over the straight baseline; maximum by a parabola through three
    points. SI and unit of the signal; NaN where the marks hold too few points.
    """
    times, values = signal.times, signal.values
    inside = np.flatnonzero((times > mark.start) & (times < mark.end))
    nearest = int(np.argmin(np.abs(times - mark.apex)))
    if inside.size < 3 or not 0 < nearest < times.size - 1:
        return float("nan"), float("nan"), float("nan")

    def level(at: FloatArray) -> FloatArray:
        share = (at - mark.start) / (mark.end - mark.start)
        return np.asarray(mark.start_level + share * (mark.end_level - mark.start_level))

    at = np.concatenate([[mark.start], times[inside], [mark.end]])
    area = np.trapezoid(np.interp(at, times, values) - level(at), at)
    three = slice(nearest - 1, nearest + 2)
    bend, slope, top = np.polyfit(times[three] - times[nearest], values[three], 2)
    shift = -slope / (2 * bend) if bend < 0 else 0.0
    apex = times[nearest] + shift
    height = top + slope * shift + bend * shift**2 - level(np.array(apex))
    return float(apex), float(height), float(area)


def _measurement(
    signal: Signal,
    even: Even,
    spots: list[Spot],
    noise: Noise,
    kind: Kind,
    rows: list[dict[str, dict[str, float]]],
    baseline: Kind,
    blank: Signal | None,
    about: tuple[FloatArray, FloatArray],
) -> Measurement:
    names = list(rows[0]["metrics"])
    tables = {
        group: {name: np.array([row[group].get(name, np.nan) for row in rows]) for name in names}
        for group in rows[0]
    }
    tables["window_part"], wider = tables["window_part"], tables.pop("wider")
    tables.pop("baseline")
    times = even.times
    levels = np.full(even.values.size, np.nan)
    for spot in spots:
        way = treatment(even, spot, kind)
        levels[slice(*spot.whole)] = way.baseline(way.cut(even.values[None]))[0]
    marks = np.array([between_marks(signal, one) for one in signal.marks]).reshape(-1, 3).T
    heights = tables["metrics"][HEIGHT]
    ranges = np.where(np.isnan(about[0]), noise.peak_to_peak, about[0])
    ranges[ranges <= 0] = np.nan
    return Measurement(
        signal=signal,
        interval=even.step,
        even=even.even,
        gaps=even.gaps,
        baseline=baseline,
        baseline_from="" if blank is None else blank.name,
        noise=noise,
        level=levels + evened(signal).values - even.values,
        peaks=tuple(str(at + 1) for at in range(len(spots))),
        window_start=times[[one.window[0] for one in spots]],
        window_end=times[[one.window[1] - 1 for one in spots]],
        states=tuple(_state(even, one) for one in spots),
        wider=wider,
        signal_to_noise=2 * heights / ranges,
        noise_widths=about[1],
        mark_apex=marks[0],
        mark_height=marks[1],
        mark_area=marks[2],
        **tables,
    )


def _state(even: Even, spot: Spot) -> str:
    if spot.clipped:
        return "clipped"
    if even.broken(even.times[spot.window[0]], even.times[spot.window[1] - 1]):
        return "gap"
    return "cut" if spot.cut else ""


def blank_run(even: Even, blank: Signal) -> FloatArray:
    """A blank run at the points of a signal; raises SignalError where it is shorter."""
    off = even.step / 2
    if blank.times[0] > even.start + off or blank.times[-1] < even.times[-1] - off:
        raise SignalError(
            f"{blank.name}: expected a blank run from {even.start:.5g} s to "
            f"{even.times[-1]:.5g} s, found {blank.times[0]:.5g} s to {blank.times[-1]:.5g} s; "
            "record it as long"
        )
    return np.asarray(np.interp(even.times, blank.times, blank.values))


def free_stretches(even: Even, spot: Spot) -> list[tuple[int, int]]:
    """Blank stretches of the rest of a signal of which one window is measured."""
    low, high = spot.whole
    others = [one for one in found_spots(even) if one.window[1] <= low or one.window[0] >= high]
    return [
        (max(one, other), min(end, stop))
        for one, end in blank_stretches([spot, *others], even.values.size)
        for other, stop in ((0, low), (high, even.values.size))
        if min(end, stop) - max(one, other) > 0
    ]


def _inner(stretch: tuple[int, int], way: int) -> tuple[int, int]:
    """The half of a blank stretch that is nearer to the peak."""
    low, high = stretch
    size = max(1, (high - low) // 2)
    return (high - size, high) if way < 0 else (low, low + size)


def _deviation(values: FloatArray) -> float:
    sound = values[np.isfinite(values)]
    return float(np.std(sound, ddof=1)) if sound.size > 2 else float("nan")


def _determined(value: float, drawn: FloatArray, size: float) -> tuple[float, float]:
    """A metric and its standard uncertainty from noise; NaN where noise alone changes it by more
    than half of a size in more than one draw of twenty."""
    near = np.isfinite(drawn) & (np.abs(drawn - value) <= size / 2)
    if not np.isfinite(value) or near.mean() < MOSTLY:
        return float("nan"), float("nan")
    return value, _deviation(drawn[near])


def _beyond(change: float, noise: float) -> float:
    """What of a change is more than noise explains."""
    if not np.isfinite(change):
        return 0.0
    return float(np.sqrt(max(0.0, change**2 - (CERTAIN * noise) ** 2)))


def _repeats(files: Sequence[Measurement]) -> Repeats:
    counts = [len(one.peaks) for one in files]
    if len(files) < 2 or len(set(counts)) != 1:
        raise SignalError(
            f"repeats: expected two files or more with the same peaks, found {counts} peaks; give "
            "a window"
        )
    stacks = {key: np.array([one.metrics[key] for one in files]) for key in files[0].metrics}
    single = {key: np.array([one.noise_part[key] for one in files]) for key in files[0].metrics}
    deviation = {key: np.std(one, axis=0, ddof=1) for key, one in stacks.items()}
    return Repeats(
        peaks=files[0].peaks,
        count=len(files),
        mean={key: np.mean(one, axis=0) for key, one in stacks.items()},
        deviation=deviation,
        uncertainty={key: one / np.sqrt(len(files)) for key, one in deviation.items()},
        expected={key: np.sqrt(np.mean(one**2, axis=0)) for key, one in single.items()},
    )
