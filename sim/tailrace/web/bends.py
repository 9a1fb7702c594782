"""The table of bent tubes as pages bring it along, ``bends.npz``.

Made by ``benchmarks/bent_page_table.py`` from that of ``parts/tube/bent/spectrum.py``; a row for
each value of C by itself. ``engine/bent_rows.js`` reads it.
"""

from collections.abc import Mapping
from functools import lru_cache
from importlib.resources import files
from typing import Any

import numpy as np

from tailrace.parts.tube.bent import flow, spectrum
from tailrace.quantities.arrays import FloatArray
from tailrace.web.rolled import as_text, rolled

STEP, LOG_STEP = 1.2e-6, 1e-6
"""Of T and of logarithms, of which packed numbers are multiples."""
COUNTS, PRECISELY = 0.02, ((30.0, 1.0), (60.0, 0.2), (200.0, 0.2), (320.0, 8.0))
"""What p and q count at least where u is small, over what they do where it is large; u, and by how
much more p and q count about there than in T (found: how much noise at each u moves what is read
off a peak; the last, the front of a plug that a short coil hardly blurs)."""
FAR, POINTS = 8, 6
"""Columns between those that are packed first; neighbours from which the others are foreseen."""
COARSER, FAST = (8, 32, 256), 2
"""How much larger the steps are of columns that only rows 1, 2 and 3 away ask for, and of what is
added at the highest De."""
SIZES, LARGE, LEVELS, LONGEST, QUICK = 24, 4095, 4, 24, 6
"""Sizes of the numbers around, of which odds go, and beyond which they count as large; bits of a
number; how soon odds are learnt."""
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
    """What p and q count at ``grid``, four digits of it; (2, RATES) array."""
    u = spectrum.grid()
    near = u**2 / (1 + u**2)
    at, more = np.arcsinh(PRECISELY).T[0], np.log(PRECISELY).T[1]
    more = np.exp(np.interp(np.arcsinh(u), at, more))
    found = np.maximum([near**2, near**1.5], COUNTS) / np.sqrt(1 + u**2) * more
    return np.array([[float(f"{one:.4g}") for one in row] for row in found])


def bends(stored: Mapping[str, np.ndarray] | None = None) -> dict[str, Any]:
    """What the engine must know of bent tubes, for JSON: of the file, or of a part of the table."""
    stored = stored or packed()
    texts = np.split(stored["bytes"], stored["ends"][:-1])
    layout = {
        "STEP": STEP,
        "LOG_STEP": LOG_STEP,
        "FAR": FAR,
        "POINTS": POINTS,
        "COARSER": COARSER,
        "FAST": FAST,
        "SIZES": SIZES,
        "LARGE": LARGE,
        "LEVELS": LEVELS,
        "LONGEST": LONGEST,
        "QUICK": QUICK,
    }
    entries, first, starts = spectrum.table()
    return {
        "numbers": layout | {name: getattr(spectrum, name) for name in SHARED},
        "curves": rolled(stored["curves"][..., None], 1),
        "weights": weights().tolist(),
        "powers": stored["powers"].tolist(),
        "odds": as_text(stored["odds"]),
        "from": int(stored["rows"][0]),
        "ends": (first + np.diff(starts, append=len(entries))).tolist(),
        "rows": [
            {"first": int(first), "count": int(count), "coarse": coarse, "bytes": as_text(text)}
            for (first, count), coarse, text in zip(
                stored["spans"], stored["coarse"].tolist(), texts, strict=True
            )
        ],
        "friction": flow.friction_series().tolist(),
        "friction_scale": flow.SCALE,
        "friction_highest": flow.HIGHEST,
    }
