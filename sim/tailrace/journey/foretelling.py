"""How long a run will march and compile, foretold from closed forms, where that is long."""

import numpy as np

from tailrace.cache import stored
from tailrace.journey.plan import first_pulse
from tailrace.journey.product import cumulants_of
from tailrace.journey.regained import askable
from tailrace.parts.base import Part, Passages
from tailrace.signals.resolution import Resolution

KEYS = "variance", "third"
FEWEST, MORE = 7.0, 5.0
"""Steps in time to a standard deviation of a Gaussian; and how many times as many more where it is
much skewed, behind a short tube."""

WRITING = 1.2e-6
"""s for each step of a tail that is injected (measured)."""
COMPILING = 4.0
"""s of one processor, which a module of kernels takes (measured: 2.5 to 6)."""
READING = "measures/outlines"
"""By which peaks are read."""


def march_seconds(passages: Passages, resolution: Resolution, ideal: bool = True) -> float:
    """Of one processor: the journey, coarsely and finely, the columns alone, its closed forms, and
    (``ideal``) once more for each part that is made ideal.

    ``passages``: every number of the streams a (lanes,) array. Within a factor of two.
    """
    whole = _writing_seconds(passages, resolution)
    long = [type(part).march_seconds is not Part.march_seconds for part, _ in passages]
    if not any(long):
        return whole
    dear = [part.cumulant_seconds(stream) for part, stream in passages]
    whole += sum(dear)
    if any(dear):  # what stands in for bends that would have to be solved for
        cumulants = cumulants_of(
            [
                part.as_factor(stream) if solved else (part, stream)
                for (part, stream), solved in zip(passages, dear, strict=True)
            ]
        )
    else:
        cumulants = cumulants_of(passages)
    # the third of a column that focuses is not known in closed form, and is little beside it
    variances, thirds = (np.nan_to_num([getattr(one, key) for one in cumulants]) for key in KEYS)
    fine, coarse = resolution.refinement, resolution.coarser().refinement
    for at, (part, stream) in enumerate(passages):
        if part.behind or not long[at]:
            continue
        made = [one for one in askable(passages) if one < at] if ideal else []
        before = [*range(at)]
        ways = [(before, fine), (before, coarse)]
        ways += [([one for one in before if one != ideal], coarse) for ideal in made]
        if part.separates:
            ways.append(([one for one in before if passages[one][0].separates], fine))
        for others, by in ways:
            variance, third = variances[others].sum(axis=0), thirds[others].sum(axis=0)
            skewness = third / np.where(variance > 0, variance, np.inf) ** 1.5
            points = FEWEST * (1 + MORE * np.minimum(skewness, 1.0) ** 2)
            smoothed = any(passages[one][0].smooths for one in others)
            sharp = any(passages[one][0].edged for one in others) or not np.any(variance)
            if sharp and not smoothed:
                points = np.full_like(points, np.inf)
            whole += part.march_seconds(stream, np.sqrt(variance), points, by)
    return float(whole)


def _writing_seconds(passages: Passages, resolution: Resolution) -> float:
    """Of a tail that is injected, on steps as fine as its front."""
    injection, stream = passages[0]
    tail = np.broadcast_to(injection.tail(stream), (stream.lanes,))
    if not tail.any():
        return 0.0
    each = (resolution, resolution.coarser())
    steps = sum(np.sum(tail / first_pulse(passages, one).step) for one in each)
    return float(WRITING * steps * -np.log(resolution.truncation))


def compile_seconds(passages: Passages) -> float:
    """Of one processor, for kernels that this path needs and that no cache holds."""
    needed = {name for part, stream in passages for name in part.compiles(stream)}
    return COMPILING * sum(not stored(name) for name in {*needed, READING})
