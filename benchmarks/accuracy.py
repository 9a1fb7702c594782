"""Is the discretisation error what the product says it is? Random set-ups against exact answers.

Each case is an injection, one to three tubes, mixed volumes, on every other path a column, and a
detector that keeps every point. The truth is the product of the parts' transfer functions
(``exact.py``), which shares no code with the solvers. For each figure two numbers count: how often
the true error lies within ``numerical_error``, and how much too careful that estimate is.

    python benchmarks/accuracy.py --cases 200
"""

import timing

# isort: split
import argparse
import time
from functools import partial

import numpy as np
from exact import Chain, TubeTable, figures, transfer

from tailrace.eluent.stream import Stream
from tailrace.errors import TailraceError
from tailrace.journey import Itinerary, travel
from tailrace.parts.cell.part import Cell
from tailrace.parts.chamber.part import Chamber
from tailrace.parts.column.part import Column
from tailrace.parts.detector.part import Detector
from tailrace.parts.injector.part import Injector
from tailrace.parts.tube.part import Tube

FIGURES = ("variance", "width_half", "plates_half_height", "tailing_5")
TRUTH = 3e-8
"""Relative error of the exact figures themselves; no estimate is held to less."""
LEAST_COVERAGE, MOST_CARE = 0.95, 5.0
POINTS_PER_DEVIATION = 400


def random_set_up(random):
    """Draw one set-up: ordinary dimensions, spread evenly over their logarithms.

    Parameters
    ----------
    random : numpy.random.Generator

    Returns
    -------
    stream : Stream
    parts : list of part
    """

    def between(low, high):
        return float(np.exp(random.uniform(np.log(low), np.log(high))))

    flow = between(0.1, 2.0) * 1e-6 / 60
    stream = Stream(
        flow_rate=flow,
        diffusivity=between(3e-10, 3e-9),
        viscosity=1e-3,
        retention_factor=between(0.5, 8.0),
    )
    volume = between(0.5e-9, 10e-9)
    if random.random() < 0.5:
        parts = [Injector(shape="plug", volume=volume)]
    else:
        parts = [Injector(shape="gaussian", sigma=volume / flow / np.sqrt(12))]
    for number in range(random.integers(1, 4)):
        bore, length = between(0.1e-3, 0.25e-3), between(0.05, 0.7)
        parts.append(Tube(name=f"tube {number + 1}", bore=bore, length=length))
    tanks = int(random.integers(1, 4))
    parts.insert(2, Chamber(name="chamber", volume=between(0.5e-9, 10e-9), tanks=tanks))
    if random.random() < 0.5:
        column = Column(
            name="column",
            bore=2.1e-3,
            length=between(0.03, 0.15),
            particle_diameter=2.7e-6,
            plates=between(3e3, 2e4),
        )
        parts.insert(3, column)
    tanks = int(random.integers(1, 3))
    parts.append(Cell(name="cell", volume=between(0.5e-9, 15e-9), tanks=tanks))
    parts.append(Detector(time_constant=between(0.01, 0.5)))
    return stream, parts


def truth(table, stream, parts):
    """Exact figures of a set-up. dict of str to float."""
    tubes, others, mean, variance = [], [], 0.0, 0.0
    for part in parts:
        residence = float(np.squeeze(part.residence(stream)))
        mean += residence
        if part.kind == "tube":
            tubes.append((float(part.fourier_number(stream)), residence))
            variance += residence**2 / 4
        elif part.kind == "injector" and part.shape == "plug":
            duration = float(part.duration(stream))
            others.append(partial(transfer.plug, duration=duration))
            variance += duration**2 / 12
        elif part.kind == "injector":
            others.append(partial(transfer.gaussian, sigma=part.sigma))
            variance += part.sigma**2
        elif part.kind == "column":
            others.append(partial(transfer.column, retention=residence, plates=part.plates))
            variance += residence**2 / part.plates
        else:
            number = getattr(part, "tanks", 1)
            held = part.time_constant if part.kind == "detector" else residence
            others.append(partial(transfer.tanks, residence=held, number=number))
            variance += held**2 / number
    chain = Chain(table, tubes, others)
    mean, variance = chain.mean_and_variance(mean, np.sqrt(variance))
    deviation = np.sqrt(variance)
    found = figures(chain.curve(mean, deviation, deviation / POINTS_PER_DEVIATION))
    return {**found, "mean": mean, "variance": variance}


def compare(table, stream, parts):
    """True and estimated error of each figure, both relative to its true value.

    Returns
    -------
    dict of str to (true error, estimate)
    """
    passages = tuple((part, stream) for part in parts)
    result = travel(Itinerary(lanes=("solute",), passages=passages))
    exact = truth(table, stream, parts)
    return {
        name: (
            float(np.squeeze(result.recorded[name])) / exact[name] - 1,
            float(np.squeeze(result.numerical_error[name])) / exact[name],
        )
        for name in FIGURES
    }


def describe(stream, parts):
    """One line for a set-up, to look it up again. str."""
    words = [f"D {float(stream.diffusivity):.2g}", f"F {stream.flow_rate * 6e7:.3g} mL/min"]
    for part in parts:
        if part.kind == "tube":
            residence, fourier = float(part.residence(stream)), float(part.fourier_number(stream))
            words.append(f"tube {residence:.3g} s X {fourier:.2g}")
        elif part.kind == "injector":
            wide = part.sigma if part.shape == "gaussian" else float(part.duration(stream))
            words.append(f"{part.shape} {wide:.3g} s")
        elif part.kind == "detector":
            words.append(f"filter {part.time_constant:.3g} s")
        else:
            number = part.plates if part.kind == "column" else part.tanks
            words.append(f"{part.kind} {float(part.residence(stream)):.3g} s /{number:.0f}")
    return ", ".join(words)


def run(cases, seed, show_misses):
    """Compare many set-ups. Returns the pairs (cases, figures, 2) and notes."""
    random = np.random.default_rng(seed)
    table = TubeTable()
    pairs, notes, began = [], [], time.perf_counter()
    for number in range(cases):
        stream, parts = random_set_up(random)
        try:
            compared = compare(table, stream, parts)
        except TailraceError as error:
            notes.append(f"case {number} refused: {error}")
            continue
        pairs.append([compared[name] for name in FIGURES])
        missed = [
            f"{name} {true:+.1e} est {estimate:.1e}"
            for name, (true, estimate) in compared.items()
            if not abs(true) <= estimate + TRUTH
        ]
        if missed and show_misses:
            notes.append(f"case {number}: {'; '.join(missed)} [{describe(stream, parts)}]")
    notes.append(f"{cases} cases, seed {seed}, {time.perf_counter() - began:.0f} s")
    return np.array(pairs), notes


def main():
    """Read the options, run, print."""
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--cases", type=int, default=200)
    options.add_argument("--seed", type=int, default=20240)
    options.add_argument("--show-misses", action="store_true")
    options.add_argument("--json", action="store_true")
    given = options.parse_args()
    pairs, notes = run(given.cases, given.seed, given.show_misses)
    true, estimate = np.abs(pairs[..., 0]), pairs[..., 1]
    covered = np.mean(true <= estimate + TRUTH, axis=0)
    care = np.median(estimate, axis=0) / np.median(true, axis=0)
    rows, bars = [], []
    for at, name in enumerate(FIGURES):
        rows.append(
            {
                "figure": name,
                "coverage": float(covered[at]),
                "median true": float(np.median(true[:, at])),
                "median estimate": float(np.median(estimate[:, at])),
                "95 % of true below": float(np.quantile(true[:, at], 0.95)),
                "largest true": float(true[:, at].max()),
            }
        )
        bars.append(
            timing.Bar(name=f"coverage, {name}", measured=covered[at], bound=LEAST_COVERAGE)
        )
        bars.append(
            timing.Bar(
                name=f"median estimate over median true error, {name}",
                measured=care[at],
                bound=MOST_CARE,
                at_least=False,
            )
        )
    timing.finish("Discretisation error, said and true", rows, bars, given.json, notes)


if __name__ == "__main__":
    main()
