"""Write the tables that ``tailrace.parts.tube.bent`` reads: cumulants, minutes, and what stands in
for a bend, seconds.

    python benchmarks/bent_cumulants_table.py [cumulants] [stirring]
"""

import sys
from itertools import pairwise
from pathlib import Path

import numpy as np

from tailrace.parts.tube.bent import tabulated, theory
from tailrace.parts.tube.bent.galerkin import section
from tailrace.parts.tube.bent.tabulated import (
    DEANS,
    ORIGIN,
    ROWS,
    STEP_LENGTH,
    STEP_STRENGTH,
    STIRRED,
)
from tailrace.parts.tube.bent.theory import at_lengths
from tailrace.parts.tube.theory import reduced_cumulants
from tailrace.quantities.arrays import FloatArray

BOUNDS = (0.0085, 12.0)
"""Of X: rows reach as much farther than the table as lines of neighbouring rows ask for."""
BLOCKS = (0.0, 0.03, 0.12, 0.6, 20.0)
"""X between which as many terms over the section serve."""
STEPS = 12


def lengths_of(strength: float) -> tuple[int, FloatArray]:
    """Number of the first column and X of all columns of a row."""
    turned = float(tabulated.turning(strength))
    first, last = (np.log(x / ORIGIN * turned) / STEP_LENGTH for x in BOUNDS)
    columns = np.ceil(first) + np.arange(int(last - first))
    return int(columns[0]), ORIGIN * np.exp(columns * STEP_LENGTH) / turned


def order_of(strength: float, length: float) -> int:
    """Terms over the section: layers grow thin with C and in short tubes."""
    layers = 14 * max(1.0, strength / 1e3) ** 0.32 * max(1.0, 0.05 / length) ** 0.22
    return int(4 * np.ceil(max(22.0, min(layers, 90.0)) / 4)) + 8


def row_of(strength: float, square: float) -> FloatArray:
    """Logarithms of variance and skewness over the straight tube's. (columns, 2) array."""
    dean = float(np.sqrt(square * tabulated.highest_square(strength)))
    _, lengths = lengths_of(strength)
    found = []
    for low, high in pairwise(BLOCKS):
        x = lengths[(lengths >= low) & (lengths < high)]
        at = section(dean, order_of(strength, float(x[0])))
        found.append(at_lengths(at, strength, x, STEPS))
    straight = np.stack(reduced_cumulants(lengths), axis=1)
    ratio = np.concatenate(found) / straight
    return np.log(np.stack([ratio[:, 0], ratio[:, 1] / ratio[:, 0] ** 1.5], axis=1))


def tabulate() -> dict[str, np.ndarray]:
    """The arrays of the table."""
    strengths = [max(float(STIRRED * np.sinh(row * STEP_STRENGTH)), 1e-3) for row in range(ROWS)]
    columns = min(lengths_of(strength)[1].size for strength in strengths)
    rows = []
    for row, strength in enumerate(strengths):
        each = [row_of(strength, square if row else 0.0)[:columns] for square in DEANS]
        rows.append(np.array(each).transpose(1, 2, 0).reshape(columns, -1))
        print(f"C = {strength:.0f}", flush=True)
    return {
        "logarithms": np.array(rows, dtype=np.float32),
        "first": np.array([lengths_of(strength)[0] for strength in strengths]),
    }


def stirring() -> dict[str, np.ndarray]:
    """By how much faster diffusion stands in for a bend, (lengths, strengths) array, logarithm."""
    nodes = range(theory.FIRST_NODE, theory.LAST_NODE + 1)
    return {"faster": np.array([theory.solved_at(node) for node in nodes], dtype=np.float32)}


if __name__ == "__main__":
    made = {"cumulants": tabulate, "stirring": stirring}
    for name in sys.argv[1:] or made:
        path = Path(tabulated.__file__).with_name(f"{name}.npz")
        np.savez_compressed(path, **made[name]())
        print(f"{path.name}: {path.stat().st_size} bytes")
