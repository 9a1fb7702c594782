"""Are edges and measured injections computed as well as is stated? Random ones, exact answers.

Plugs go through one to three tubes, chambers and cells, now and then a filter, with nothing behind
that would hide their edges; half of them have 0.2 to 2 times the volume of the first part. Measured
injections are peaks sampled coarsely, with noise of both signs, before one or two such parts. The
truth shares no code with the solvers: products of transfer functions (``exact.py``), or the closed
form of the step response where a corner is left at which no sum over frequencies arrives. Two
things count: each true error lies within ``numerical_error``, and the signal keeps ``--accuracy``.

    python benchmarks/plugs.py --plugs 300 --measured 100
"""

import timing

# isort: split
import argparse
import time
from functools import partial

import exact
import numpy as np
from exact import Chain, TubeTable, figures, transfer
from scipy.special import gammainc

from tailrace.eluent.stream import Stream
from tailrace.errors import TailraceError
from tailrace.journey import Itinerary, travel
from tailrace.parts.cell.part import Cell
from tailrace.parts.chamber.part import Chamber
from tailrace.parts.detector.part import Detector
from tailrace.parts.injector.part import Injector
from tailrace.parts.tube.part import Tube
from tailrace.signals.band import Band
from tailrace.signals.cubic import sample
from tailrace.signals.resolution import SOLVERS, Resolution

FIGURES = (
    "apex",
    "height",
    "mean",
    "variance",
    "width_half",
    "plates_half_height",
    "tailing_5",
    "asymmetry_10",
)
TRUTH = 1e-6
"""Relative error of the exact figures themselves; no estimate is held to less."""
LEAST = 0.95
ACCURACIES = (1e-3, 1e-3, 1e-4, 1e-5)
LEAST_FOURIER = 0.01
FLOW, DIFFUSIVITY = 8e-9, 1e-9
exact.MOST_FREQUENCIES = 1 << 18


def stream():
    """Water-like liquid with one solute that is not retained."""
    return Stream(flow_rate=FLOW, diffusivity=DIFFUSIVITY, viscosity=1e-3, retention_factor=0.0)


def tube_with(fourier, residence=1.0):
    """A tube of this Fourier number and residence time (s), and its stream."""
    length = fourier * FLOW / (np.pi * DIFFUSIVITY)
    bore = np.sqrt(4 * residence * FLOW / np.pi / length)
    return Tube(name="tube", length=length, bore=bore), stream()


def between(random, low, high):
    """A number spread evenly over its logarithm. float."""
    return float(np.exp(random.uniform(np.log(low), np.log(high))))


def random_parts(random, most, least):
    """One to ``most`` parts behind an injector, and now and then a filter; ``least``: of X."""
    parts = []
    for number in range(random.integers(1, most + 1)):
        name, volume = f"part {number + 1}", between(random, 0.5e-9, 20e-9)
        kind = random.random()
        if kind < 0.6:
            length = between(random, least, 5.0) * FLOW / (np.pi * DIFFUSIVITY)
            parts.append(Tube(name=name, length=length, bore=np.sqrt(4 * volume / np.pi / length)))
        elif kind < 0.85:
            parts.append(Chamber(name=name, volume=volume, tanks=int(random.integers(1, 4))))
        else:
            parts.append(Cell(name=name, volume=volume, tanks=int(random.integers(1, 3))))
    if random.random() < 0.2:
        parts.append(Detector(time_constant=between(random, 0.01, 0.5)))
    return parts


def random_plug(random, number, least=LEAST_FOURIER):
    """A plug and parts behind it; every other one about as large as the first of them."""
    parts = random_parts(random, 3, least)
    held = parts[0].volume if parts[0].carries_flow else 5e-9
    volume = held * (between(random, 0.2, 2.0) if number % 2 else between(random, 0.03, 20.0))
    return [Injector(shape="plug", volume=volume), *parts]


def random_signal(random, number, least=LEAST_FOURIER):
    """A measured injection, every second one without noise, and parts behind it."""
    parts = random_parts(random, 2, least)
    held = sum(float(part.residence(stream())) for part in parts if part.carries_flow)
    width = held * between(random, 0.1, 1.0)
    interval = width / between(random, 1.3, 5.0)
    times = interval * np.arange(int(14 * width / interval))
    heights = np.exp(-(((times - 4 * width) / width) ** 2) / 2)
    heights += random.random() * np.exp(-(((times - 6 * width) / width / 1.5) ** 2) / 2)
    heights += random.normal(0.0, 0.005 * (number % 2), times.size)
    return [Injector(shape="signal", signal_times=times, signal_heights=heights), *parts]


def _injected(injection):
    """Transfer function, mean and variance of what is injected."""
    if injection.shape == "plug":
        duration = float(injection.duration(stream()))
        return partial(transfer.plug, duration=duration), duration / 2, duration**2 / 12
    times, heights = injection.curve
    share, step = heights / heights.sum(), times[1] - times[0]

    def splined(omega):
        """The points, and the cubic spline through them (Schoenberg)."""
        turn = omega * step
        spline = np.sinc(turn / (2 * np.pi)) ** 4 * 3 / (2 + np.cos(turn))
        points = np.concatenate(
            [np.exp(-1j * np.outer(some, times)) @ share for some in np.array_split(omega, 64)]
        )
        return points * spline

    mean = share @ times
    return splined, mean, share @ (times - mean) ** 2


def exact_curve(table, parts):
    """The exact curve behind the parts: Band, mean (s) and variance (s^2)."""
    liquid = stream()
    entering, mean, variance = _injected(parts[0])
    tubes, tanks = [], []
    for part in parts[1:]:
        held = float(part.time_constant if part.kind == "detector" else part.residence(liquid))
        mean += held
        if part.kind == "tube":
            tubes.append((float(part.fourier_number(liquid)), held))
            variance += held**2 / 4
        else:
            tanks.append((held, getattr(part, "tanks", 1)))
            variance += held**2 / tanks[-1][1]
    if parts[0].shape == "plug" and len(tanks) == 1 and not tubes:
        return _cornered(float(parts[0].duration(liquid)), *tanks[0]), mean, variance
    others = [partial(transfer.tanks, residence=held, number=number) for held, number in tanks]
    chain = Chain(table, tubes, [entering, *others])
    mean, variance = chain.mean_and_variance(mean, np.sqrt(variance))
    deviation = np.sqrt(variance)
    return chain.curve(mean, deviation, deviation / 4000), mean, variance


def _cornered(duration, held, number):
    """A plug behind equal tanks: the difference of two step responses; a sample on each corner."""
    step = duration / np.ceil(duration * 4000 / np.hypot(duration, held))
    times = step * np.arange(int((duration + 25 * held) / step))
    rise = gammainc(number, times * number / held)
    fall = gammainc(number, np.maximum(times - duration, 0.0) * number / held)
    return Band(((rise - fall) / duration)[None], np.zeros(1), np.array([step]))


def compare(parts, curve, mean, variance, accuracy, solver=SOLVERS[0]):
    """True and stated error of each figure over its true value, and of the signal over accuracy."""
    liquid = stream()
    passages = tuple((part, liquid) for part in parts)
    resolution = Resolution.for_accuracy(accuracy, solver)
    result = travel(Itinerary(lanes=("solute",), passages=passages, resolution=resolution))
    truth = {**figures(curve), "mean": mean, "variance": variance}
    rows = []
    for name in FIGURES:
        found, stated = (float(one[name][0]) for one in (result.recorded, result.numerical_error))
        rows.append((abs(found - truth[name]) / truth[name], stated / truth[name]))
    signal = result.parts[-1].band
    apart = sample(signal, curve.times) - curve.values
    rows.append((np.linalg.norm(apart) / np.linalg.norm(curve.values), accuracy))
    return rows


def describe(parts, accuracy):
    """One line for a set-up, to look it up again. str."""
    liquid = stream()
    words = [f"accuracy {accuracy:g}"]
    for part in parts:
        if part.kind == "injector":
            plug = part.shape == "plug"
            words.append(f"plug {part.volume * 1e9:.3g} uL" if plug else "measured injection")
        elif part.kind == "tube":
            number = float(part.fourier_number(liquid))
            words.append(f"tube {part.volume * 1e9:.3g} uL X {number:.2g}")
        elif part.kind == "detector":
            words.append(f"filter {part.time_constant:.3g} s")
        else:
            words.append(f"{part.kind} {part.volume * 1e9:.3g} uL /{part.tanks:g}")
    return ", ".join(words)


def run(table, draw, cases, seed, show_misses, least=LEAST_FOURIER):
    """Compare many injections. Returns the pairs (cases, figures and signal, 2) and notes."""
    random = np.random.default_rng(seed)
    pairs, notes, began = [], [], time.perf_counter()
    for number in range(cases):
        parts = draw(random, number, least)
        accuracy = ACCURACIES[number // 2 % len(ACCURACIES)]
        try:
            pairs.append(compare(parts, *exact_curve(table, parts), accuracy))
        except TailraceError as error:
            notes.append(f"case {number} refused: {error} [{describe(parts, accuracy)}]")
            continue
        missed = [
            f"{name} {true:.1e} est {stated:.1e}"
            for name, (true, stated) in zip((*FIGURES, "signal"), pairs[-1], strict=True)
            if not true <= stated + TRUTH
        ]
        if missed and show_misses:
            notes.append(f"case {number}: {'; '.join(missed)} [{describe(parts, accuracy)}]")
    notes.append(f"{cases} cases, seed {seed}, {time.perf_counter() - began:.0f} s")
    return np.array(pairs), notes


def main():
    """Read the options, run, print."""
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--plugs", type=int, default=300)
    options.add_argument("--measured", type=int, default=100)
    options.add_argument("--seed", type=int, default=20241)
    options.add_argument("--show-misses", action="store_true")
    options.add_argument("--json", action="store_true")
    given = options.parse_args()
    table = TubeTable(highest=1e7, points=2500)
    rows, bars, notes = [], [], []
    kinds = (("plug", random_plug, given.plugs), ("measured", random_signal, given.measured))
    for kind, draw, cases in kinds:
        if not cases:
            continue
        pairs, its_notes = run(table, draw, cases, given.seed, given.show_misses)
        true, stated = pairs[..., 0], pairs[..., 1]
        within = np.count_nonzero(true <= stated + TRUTH, axis=0) / cases
        for at, name in enumerate((*FIGURES, "signal")):
            rows.append(
                {
                    "injection": kind,
                    "figure": name,
                    "coverage": float(within[at]),
                    "median true": float(np.median(true[:, at])),
                    "median stated": float(np.median(stated[:, at])),
                    "95 % of true below": float(np.quantile(true[:, at], 0.95)),
                    "largest true": float(true[:, at].max()),
                }
            )
            bars.append(timing.Bar(name=f"{kind}: {name}", measured=within[at], bound=LEAST))
        notes.extend(its_notes)
    timing.finish("Edges: discretisation error, stated and true", rows, bars, given.json, notes)


if __name__ == "__main__":
    main()
