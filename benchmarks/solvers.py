"""Do the two solvers agree within what their error estimates foresee? Random chains.

Finite differences in radius, length and time against the spectral solution in radius and
frequency, on the set-ups of ``accuracy.py``; every recorded figure of every chain counts.

    python benchmarks/solvers.py --chains 100
"""

import timing

# isort: split
import argparse
import time
from collections import Counter

import numpy as np
from accuracy import random_set_up

from tailrace.errors import TailraceError
from tailrace.journey import Itinerary
from tailrace.journey.verification import verify

LEAST_WITHIN = 1.0


def run(chains, seed):
    """Verify many chains.

    Returns
    -------
    ratios : list of dict of str to float
        For each chain, by figure: difference over what was foreseen.
    notes : list of str
    """
    random = np.random.default_rng(seed)
    ratios, notes, began = [], [], time.perf_counter()
    for number in range(chains):
        stream, parts = random_set_up(random)
        passages = tuple((part, stream) for part in parts)
        try:
            found = verify(Itinerary(lanes=("solute",), passages=passages))
        except TailraceError as error:
            notes.append(f"chain {number} refused: {error}")
            continue
        ratios.append(
            {
                name: float(abs(difference[0]) / found.foreseen[name][0])
                for name, difference in found.differences.items()
                if np.isfinite(difference[0])
            }
        )
    notes.append(f"{chains} chains, seed {seed}, {time.perf_counter() - began:.0f} s")
    return ratios, notes


def main():
    """Read the options, run, print."""
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--chains", type=int, default=100)
    options.add_argument("--seed", type=int, default=7)
    options.add_argument("--json", action="store_true")
    given = options.parse_args()
    ratios, notes = run(given.chains, given.seed)
    counted = Counter(name for one in ratios for name in one)
    rows = []
    for name in counted:
        values = np.array([one[name] for one in ratios if name in one])
        rows.append(
            {
                "figure": name,
                "chains": counted[name],
                "within": float(np.mean(values <= 1)),
                "median": float(np.median(values)),
                "largest": float(values.max()),
            }
        )
    every = [value for one in ratios for value in one.values()]
    bars = [
        timing.Bar(
            name="share of figures within the estimates",
            measured=float(np.mean(np.array(every) <= 1)),
            bound=LEAST_WITHIN,
        )
    ]
    timing.finish("Two solvers on random chains", rows, bars, given.json, notes)


if __name__ == "__main__":
    main()
