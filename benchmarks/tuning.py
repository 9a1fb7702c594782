"""Finding the cheapest resolution that reaches an accuracy, the same way for every solver."""

import time
from dataclasses import dataclass

import numpy as np
import timing

GROWTH, SHRINK = 1.4, 1.15
SLACK = 1.1
"""Times of single runs are this uncertain."""
LEAST = {"points": 2.0}
"""Samples of an inlet a standard deviation: fewer would not show it."""
REPEATS = 25
"""Of the run that is reported; fewer where they would take more than a few seconds."""
LONGEST = 60.0
"""No run that would take longer is begun, s."""
COST_POWER = 4
"""A run that is finer in every direction takes about this power of the growth longer."""


@dataclass(frozen=True)
class Trial:
    """One resolution, how long it took and how wrong it was."""

    resolution: dict
    seconds: float
    error: float

    def words(self):
        """The resolution as text."""
        return " ".join(
            f"{name} {value:.3g}" if isinstance(value, float) else f"{name} {value}"
            for name, value in self.resolution.items()
        )


def tuned(job, contender, targets):
    """Refine greedily until each target is reached, then coarsen while it holds.

    Parameters
    ----------
    job : Job
    contender : Contender
    targets : sequence of float
        Falling.

    Returns
    -------
    list of Trial
        One a target; ``seconds`` infinite where it was not reached in the contender's budget.
    """
    search = _Search(job, contender)
    now, found = search.trial(contender.begin), []
    for target in targets:
        while now.error > target and search.may_refine(now):
            now = search.refined(now)
        if now.error > target:
            found.append(Trial(now.resolution, np.inf, now.error))
            continue
        best = search.coarsened(now, target)
        again = timing.best_time(contender.build(job, **best.resolution), REPEATS, 4.0)
        found.append(Trial(best.resolution, again, best.error))
    # what reaches a later target reaches the earlier ones too
    return [
        min(found[at:], key=lambda trial: (trial.seconds, trial.error)) for at in range(len(found))
    ]


class _Search:
    """Trials of one solver on one job, none made twice."""

    def __init__(self, job, contender):
        self.job, self.contender, self.made = job, contender, {}
        self.until = time.perf_counter() + contender.budget

    def left(self):
        return self.until - time.perf_counter()

    def may_refine(self, now):
        return self.left() > 0 and now.seconds * GROWTH**COST_POWER < LONGEST

    def trial(self, resolution):
        key = tuple(resolution.values())
        if key not in self.made:
            solve = self.contender.build(self.job, **resolution)
            first, began = True, time.perf_counter()
            times, values = solve()
            seconds = time.perf_counter() - began
            while time.perf_counter() - began < 0.1 or (first and seconds < 6.0):
                first, again = False, time.perf_counter()
                times, values = solve()  # the first call may have compiled
                seconds = min(seconds, time.perf_counter() - again)
            error = self.job.error(times, values)
            self.made[key] = Trial(resolution, seconds, error if np.isfinite(error) else 1e9)
        return self.made[key]

    def refined(self, now):
        """The step that gains most accuracy for its time."""
        tries = []
        for name in now.resolution if self.contender.each else ():
            if self.left() > 0:
                tries.append(self.trial(_scaled(now.resolution, name, GROWTH)))

        def worth(trial):
            gained = np.log(now.error / trial.error)
            return gained / max(np.log(trial.seconds / now.seconds), 0.1)

        best = max(tries, key=worth, default=now)
        if best.error > 0.98 * now.error:  # no single step helps: take all at once
            everything = now.resolution
            for name in now.resolution:
                everything = _scaled(everything, name, GROWTH)
            best = self.trial(everything)
        return best

    def coarsened(self, now, target):
        """Coarser in each direction as far as the target still holds; the fastest of all tried."""
        best, again = now, self.contender.each
        while again and self.left() > 0:
            again = False
            for name in best.resolution:
                trial = self.trial(_scaled(best.resolution, name, 1 / SHRINK))
                if (
                    trial is not best
                    and trial.error <= target
                    and trial.seconds < SLACK * best.seconds
                ):
                    best, again = trial, True
        good = [trial for trial in self.made.values() if trial.error <= target]
        return min(good, key=lambda trial: trial.seconds)


def _scaled(resolution, name, factor):
    value = resolution[name]
    if name == "digits":
        value = value + np.log10(factor) * 2
    elif isinstance(value, int):
        value = max(round(value * factor), value + (1 if factor > 1 else -1), 2)
    else:
        value = max(value * factor, LEAST.get(name, 0.0))
    return {**resolution, name: value}
