"""Assumptions in the order of how much of the recorded variance they are about, the most first."""

from collections.abc import Iterable, Mapping

import numpy as np

from tailrace.errors import TailraceError
from tailrace.journey.gradients import handed_on
from tailrace.journey.propagation import spread
from tailrace.parts import KINDS
from tailrace.parts.base import Idle
from tailrace.scenario.build import itinerary
from tailrace.scenario.contents import Contents

Line = tuple[float, str, str]
"""Weight, subject and clause of an assumption."""
WHOLE, BESIDE = 1.0, 1e-3
"""Weight of what all of the answer rests on, and of what it rests on beside all parts (our own)."""


def shares(scenario: Contents) -> dict[str, float]:
    """Share of the recorded variance that each part adds, by its name: the greatest of any solute.

    Closed form, textbook variances, which know no bends; 0 behind the recording, elsewhere BESIDE
    at least; 1 of all where it is not known.
    """
    passages = spread(itinerary(scenario))
    mean = np.zeros(passages[0][1].lanes)
    left: dict[str, np.ndarray] = {}
    try:
        for part, stream in passages:
            if part.behind:
                left[part.name] = np.zeros_like(mean)
                continue
            part = part.met_at(mean, stream).bent_on(np.inf)
            cumulants = KINDS[part.kind].theory(part, stream)
            before = np.sum([np.zeros_like(mean), *left.values()], axis=0)
            passed, _ = handed_on(part, stream, before, np.zeros_like(mean))
            ratio = passed / np.where(before > 0, before, 1.0)
            left = {name: one * ratio for name, one in left.items()}
            left[part.name] = cumulants.gaussian_variance
            mean = mean + cumulants.mean
    except TailraceError:
        return dict.fromkeys([part.name for part, _ in passages], 1.0)
    whole = np.sum(list(left.values()), axis=0)
    whole = np.where(whole > 0, whole, 1.0)
    return {
        part.name: 0.0
        if part.behind
        else max(float(np.max(np.nan_to_num(left[part.name] / whole, nan=1.0))), BESIDE)
        for part, _ in passages
    }


def of_parts(lines: Iterable[tuple[str, str]], share: Mapping[str, float]) -> list[Line]:
    """Clauses by the names of parts, those that are said of several together; 0 of what is idle."""
    gathered: dict[tuple[bool, str], list[str]] = {}
    for name, what in lines:
        idle = isinstance(what, Idle) or not share.get(name, WHOLE)
        gathered.setdefault((idle, str(what)), []).append(name)
    return [
        (0.0 if idle else sum(share.get(one, WHOLE) for one in names), ", ".join(names), what)
        for (idle, what), names in gathered.items()
    ]


def ordered(lines: Iterable[Line]) -> list[str]:
    """One sentence for each, the weightiest first; what moves no number comes last, in one."""
    ranked = sorted(lines, key=lambda line: -line[0])
    sentences = [
        f"{subject}: {what}" if subject else what for weight, subject, what in ranked if weight
    ]
    folded = [f"{subject} ({what})" for weight, subject, what in ranked if not weight]
    return sentences + ["moves no number of the peaks: " + ", ".join(folded)] * bool(folded)
