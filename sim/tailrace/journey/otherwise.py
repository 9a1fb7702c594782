"""What would be recorded on other paths much like one that has been travelled, as ratios.

Where the path is a product of transfer functions the peak is computed for each; with a gradient, or
a sample in a solvent of its own, each is marched, bent tubes as straight ones of their variance;
else (overload, bent tubes) the width follows from exact variances as that of a Gaussian.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from tailrace.errors import TailraceError
from tailrace.journey.evaluation import evaluate
from tailrace.journey.gradients import handed_on
from tailrace.journey.itinerary import Itinerary
from tailrace.journey.product import multiply, not_multiplied, unresolved
from tailrace.journey.propagation import propagate, spread
from tailrace.journey.result import Result
from tailrace.measures.chromatogram import half_height_resolution
from tailrace.measures.registry import APEX, EXTRA_COLUMN, WIDTH
from tailrace.parts import KINDS
from tailrace.parts.base import Passages
from tailrace.quantities.arrays import FloatArray
from tailrace.signals.cumulants import Cumulants
from tailrace.threads import in_threads

COARSEST = 0.5
"""Refinement of marches at most: ratios of two that are computed alike need no more."""
DEAR = 1.0
"""s of one processor: bends whose exact cumulants take longer have those of what stands in."""


@dataclass(frozen=True)
class Figures:
    """What is compared: a metric and the width at half height, (lanes,) arrays, SI; the resolution
    of the critical pair, (1,) array. NaN where it is not known."""

    metric: FloatArray
    width: FloatArray
    resolution: FloatArray

    def each(self, of: Callable[..., FloatArray], *others: "Figures") -> "Figures":
        """Figure by figure what a function makes of these and of others."""
        every = (self, *others)
        return Figures(
            of(*(one.metric for one in every)),
            of(*(one.width for one in every)),
            of(*(one.resolution for one in every)),
        )


class Otherwise:
    """Other paths beside one: ``metric`` over what it is on that."""

    def __init__(self, journey: Itinerary, metric: str) -> None:
        self.passages, self._journey, self._metric = tuple(spread(journey)), journey, metric
        self._pair: tuple[int, int] | None = None
        self._dear = [part.cumulant_seconds(stream) > DEAR for part, stream in self.passages]
        self.marched = any(part.focuses for part, _ in self.passages)
        if self.marched:
            first = self._marched(self.passages)
        elif not_multiplied(self.passages) or unresolved(self.passages):
            first = None
        else:
            first = self._multiplied(self.passages)
        self._summed = self._sum(self.passages)
        self._peaks = None if first is None else self._read(first)
        self.base = self._peaks or self._summed

    def read(self, result: Result) -> Figures:
        """The same of a journey that has been made."""
        return self._read(result)

    def ratios(self, others: Sequence[Passages]) -> list[Figures | None]:
        """Of each, in parallel; None where it cannot be computed."""
        return in_threads(self._ratio, others)

    def bent(self, added: Mapping[int, FloatArray]) -> Figures:
        """With so much more variance in places, (lanes,) arrays, s^2, by the sum of variances."""
        return self._of(_bent(added, self._cheap(self.passages), self._metric))

    def _ratio(self, passages: Passages) -> Figures | None:
        try:
            if self._peaks is not None:
                compute = self._marched if self.marched else self._multiplied
                if self.marched or not not_multiplied(passages):
                    found = self._read(compute(passages))
                    return found.each(np.divide, self._peaks)
            return self._sum(passages).each(np.divide, self._summed)
        except TailraceError:
            return None

    def _marched(self, passages: Passages) -> Result:
        passages = tuple(part.straightened(stream) for part, stream in passages)
        finest = min(self._journey.resolution.coarser().refinement, COARSEST)
        rough = replace(self._journey.resolution, refinement=finest)
        stages = propagate(passages, rough)
        return evaluate(replace(self._journey, passages=passages, resolution=rough), stages, stages)

    def _multiplied(self, passages: Passages) -> Result:
        return multiply(replace(self._journey, passages=tuple(passages)))

    def _read(self, result: Result) -> Figures:
        apex, width = result.recorded[APEX], result.recorded[WIDTH]
        if self._pair is None and apex.size > 1:
            order = np.argsort(apex, kind="stable")
            apart = half_height_resolution(apex[order], width[order])
            if np.isfinite(apart).any():
                closest = int(np.nanargmin(apart))
                self._pair = (int(order[closest]), int(order[closest + 1]))
        pair = list(self._pair or ())
        apart = half_height_resolution(apex[pair], width[pair]) if pair else np.array([np.nan])
        return Figures(np.asarray(result.recorded[self._metric], dtype=float), width, apart)

    def _sum(self, passages: Passages) -> Figures:
        return self._of(_of_variances(self._cheap(passages), self._metric))

    def _cheap(self, passages: Passages) -> Passages:
        """With what stands in for bends that take long to be solved for, in all paths alike."""
        return [
            part.as_factor(stream) if dear else (part, stream)
            for (part, stream), dear in zip(passages, self._dear, strict=True)
        ]

    @staticmethod
    def _of(values: FloatArray) -> Figures:
        return Figures(values, np.full(values.shape, np.nan), np.array([np.nan]))


def _of_variances(passages: Passages, metric: str) -> FloatArray:
    """The metric but for a factor, if the peak were a Gaussian of the exact variance."""
    lanes = passages[0][1].lanes
    mean, variance, own, stayed = (np.zeros(lanes) for _ in range(4))
    for part, stream in passages:
        if part.behind:
            continue
        part = part.met_at(mean, stream)
        cumulants = KINDS[part.kind].theory(part, stream)
        variance, _ = handed_on(part, stream, variance, np.zeros(lanes))
        added = _variance(cumulants)
        mean, variance = mean + cumulants.mean, variance + added
        if part.separates:
            own, stayed = own + added, stayed + cumulants.mean
    if metric == EXTRA_COLUMN:
        return np.asarray((variance - own) * np.square(passages[-1][1].flow_rate))
    return np.asarray(np.square(stayed) / variance)


def _variance(cumulants: Cumulants) -> FloatArray:
    """The exact one, or the textbook's where none is known."""
    exact = np.asarray(cumulants.variance, dtype=float)
    return np.where(np.isnan(exact), cumulants.gaussian_variance, exact)


def _bent(added: Mapping[int, FloatArray], passages: Passages, metric: str) -> FloatArray:
    """The metric with more variance in places, over that without, by sums of exact variances."""
    lanes = passages[0][1].lanes
    variance, outside, change = np.zeros(lanes), np.zeros(lanes), np.zeros(lanes)
    for at, (part, stream) in enumerate(passages):
        if part.behind:
            continue
        more = _variance(KINDS[part.kind].theory(part, stream))
        variance = variance + more
        outside = outside + (0.0 if part.separates else more)
        change = change + added.get(at, 0.0)
    if metric == EXTRA_COLUMN:
        return np.asarray(1 + change / outside)
    return np.asarray(variance / (variance + change))
