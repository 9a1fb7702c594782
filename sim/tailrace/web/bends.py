"""The table of bent tubes as pages bring it along, ``bends.npz``.

Made by ``benchmarks/bent_page_table.py`` from that of ``parts/tube/bent/spectrum.py``; a row for
each value of C by itself, so that a page may bring a few. ``engine/bent_rows.js`` reads it.
"""

from collections.abc import Sequence
from functools import lru_cache
from importlib.resources import files
from typing import Any

import numpy as np

from tailrace.parts.tube.bent import flow, spectrum
from tailrace.quantities.arrays import FloatArray
from tailrace.web.rolled import as_text, rolled

STEP, LOG_STEP = 1e-5, 1e-6
"""Of T and of logarithms, of which packed numbers are multiples."""
COUNTS, TILT = 0.02, 0.15
"""What p and q count at least where u is small, over what they do where it is large; power of
1 + u^2 by which high u count more than in T, since there are more frequencies there."""
FAR, POINTS = 16, 6
"""Columns between those that are packed first; neighbours from which the others are foreseen."""
COARSER, FAST = (8, 32, 256), 2
"""How much larger the steps are of columns that only rows 1, 2 and 3 away ask for, and of what is
added at the highest De."""
SIZES, LEVELS, LONGEST, QUICK = 16, 5, 24, 6
"""Sizes of the numbers around, of which odds go; bits of a number; how soon odds are learnt."""
ALL = range(spectrum.ROWS)
SHARED = (
    *("LEAST_PASSED", "LONG", "MOST", "STIRRED", "TURNED", "STEP_STRENGTH", "STEP_LENGTH"),
    *("STEP_RATE", "DENSE", "MIXED", "RATES", "FINER", "MOST_STRENGTH", "LEAST_SCHMIDT"),
    *("MORE_SCHMIDT", "ACROSS", "ALONG", "OVER_U", "MOST_LOST", "LATE", "AXIS", "STIRRED_AXIS"),
    *("SWEPT", "SHARPLY", "ROWS"),
)
"""Constants of ``parts/tube/bent/spectrum.py`` that the engine shares."""


@lru_cache(maxsize=1)
def packed() -> dict[str, Any]:
    """The arrays of the file."""
    with files("tailrace.web").joinpath("bends.npz").open("rb") as stream:
        return dict(np.load(stream))


def weights() -> FloatArray:
    """What p and q count at ``grid``; (2, RATES) array."""
    u = spectrum.grid()
    near = u**2 / (1 + u**2)
    return np.asarray(np.maximum([near**2, near**1.5], COUNTS) / (1 + u**2) ** (0.5 - TILT))


def bends(rows: Sequence[int] = ALL) -> dict[str, Any]:
    """What the engine must know of bent tubes, some rows of it, for JSON."""
    stored = packed()
    texts = np.split(stored["bytes"], stored["ends"][:-1])
    layout = {
        "STEP": STEP,
        "LOG_STEP": LOG_STEP,
        "FAR": FAR,
        "POINTS": POINTS,
        "COARSER": COARSER,
        "FAST": FAST,
        "SIZES": SIZES,
        "LEVELS": LEVELS,
        "LONGEST": LONGEST,
        "QUICK": QUICK,
    }
    return {
        "numbers": layout | {name: getattr(spectrum, name) for name in SHARED},
        "curves": rolled(stored["curves"][..., None], 1),
        "counts": COUNTS,
        "tilt": TILT,
        "powers": stored["powers"].tolist(),
        "odds": as_text(stored["odds"]),
        "from": rows[0],
        "rows": [
            {
                "first": int(stored["first"][row]),
                "count": int(stored["counts"][row]),
                "coarse": stored["coarse"][row].tolist(),
                "bytes": as_text(texts[row]),
            }
            for row in rows
        ],
        "friction": flow.friction_series().tolist(),
        "friction_scale": flow.SCALE,
        "friction_highest": flow.HIGHEST,
    }
