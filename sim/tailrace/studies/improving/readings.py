"""What is read off the ends of all branches, case by case, as a journey alone would say it."""

from dataclasses import dataclass
from functools import partial
from types import SimpleNamespace

import numpy as np

from tailrace.journey import discretisation
from tailrace.journey.gradients import handed_on, setting_of
from tailrace.journey.hydraulics import pressure
from tailrace.journey.propagation import pass_through
from tailrace.journey.signal import signal_of, too_dark
from tailrace.journey.validity import warnings_of
from tailrace.measures import measure
from tailrace.parts import KINDS
from tailrace.signals.band import Band
from tailrace.studies.batch import Done, gathered, not_computed
from tailrace.studies.improving.branches import Tree, marched
from tailrace.studies.lanes import joined

KEPT = ("plates_half_height", "tailing_5", "apex", "width_half", "height")


@dataclass(frozen=True)
class Branches(Tree):
    """A batch whose journeys share beginnings, which are travelled once.

    Its metrics are ``recorded/…``, ``numerical_error/…``, ``column_alone/…``, ``signal/…`` without
    what stands in the cell, ``pressure/total``, ``pressure/cell_inlet``, ``warnings`` and
    ``computed`` as of ``tailrace.studies.lanes.metrics_of``; ``theory/mean`` s and
    ``theory/variance`` s^2: sums of closed forms and of textbook variances, (journeys, solutes).
    """

    def shared(self, left) -> int:
        """The stems."""
        lengths = range(1, max(len(way) for way in self.ways)) if left else ()
        return sum(len(block) for length in lengths for block in self.stems(length))

    def travel(self, left, each):
        """Metrics of the blocks that are left, from the shortest journeys to the longest."""
        reading, reached = _Reading(self), {}
        for length in range(1, 1 + max(len(way) for way in self.ways)):
            ending = {one: one for one in left if len(self.ways[self.blocks[one][0]]) == length}
            for index, metrics in each(partial(reading.block, reached=reached), ending):
                yield Done(len(self.blocks[index]), index, metrics)
            ahead = {}
            march = partial(marched, self, length=length, reached=reached)
            for _, ends in each(march, {block: block for block in self.stems(length)}):
                ahead |= ends
                yield Done(len(ends))
            reached = ahead


@dataclass(frozen=True)
class _End:
    """A part as far as signals and warnings ask for its result."""

    band: object
    amount_lost: np.ndarray

    @property
    def crest(self):
        """Not known: the bands on the way are shared."""
        return np.full_like(self.amount_lost, np.nan)


class _Reading:
    """Reads blocks; remembers what closed form says of each passage, and each column's own peak."""

    def __init__(self, branches):
        self._branches = branches
        self._theories, self._columns = {}, {}

    def block(self, index, reached) -> dict:
        """Figures of one block. Its number and the stems before its last parts in."""
        cases = self._branches.blocks[index]
        ways = [self._branches.ways[case] for case in cases]
        ends = marched(self._branches, ways, len(ways[0]), reached)
        sound = [case for case, way in zip(cases, ways, strict=True) if not ends[way].failure]
        found = []
        if sound:
            held = [ends[self._branches.ways[case]] for case in sound]
            found.append((self._figures(sound, held), sound))
        for case, way in zip(cases, ways, strict=True):
            if case not in sound:
                found.append((not_computed(ends[way].failure), [case]))
        place = {case: at for at, case in enumerate(cases)}
        return gathered(
            [figures for figures, _ in found], [[place[case] for case in one] for _, one in found]
        )

    def _figures(self, cases, held):
        itineraries = [self._branches.itineraries[case] for case in cases]
        whole = joined(itineraries)
        passages = [(part, stream.over(len(whole.lanes))) for part, stream in whole.passages]
        fine, coarse = (Band.joined([getattr(one, n) for one in held]) for n in ("fine", "coarse"))
        lost = np.concatenate([one.lost for one in held])
        recorded = measure(fine, setting_of(passages))
        rough = measure(coarse, setting_of(passages))
        smooth = any(part.smooths for part, _ in passages)
        errors = discretisation.of_metrics(
            recorded,
            rough,
            discretisation.distance(fine, coarse),
            smooth,
            passages[-1][1].flow_rate,
        )
        recorded["amount_recovered"] = 1 - lost
        closed = [self._closed_form(self._branches.ways[case]) for case in cases]
        alone = {name: np.concatenate([own[name] for _, _, own in closed]) for name in closed[0][2]}
        parts = [_End(fine, np.zeros_like(lost))] * (len(passages) - 1) + [_End(fine, lost)]
        signal = signal_of(passages, parts, recorded, alone or None)
        del signal["concentration_in_cell"]  # of a band that other journeys share
        shape = len(cases), len(itineraries[0].lanes)
        groups = {
            "recorded": recorded,
            "numerical_error": errors,
            "column_alone": alone,
            "signal": signal,
            "theory": {
                name: np.concatenate([one[at] for one in closed])
                for at, name in enumerate(("mean", "variance"))
            },
        }
        figures = {
            f"{group}/{name}": np.reshape(values, shape)
            for group, measures in groups.items()
            for name, values in measures.items()
        }
        return figures | self._beside(cases, fine, lost, figures["signal/absorbance"])

    def _beside(self, cases, fine, lost, absorbance):
        """Pressure and warnings of each case."""
        said, drops, each = [], [], absorbance.shape[1]
        for at, case in enumerate(cases):
            pick = slice(at * each, (at + 1) * each)
            passages = [self._branches.pairs[number] for number in self._branches.ways[case]]
            itinerary = self._branches.itineraries[case]
            drops.append(pressure(passages))
            band = SimpleNamespace(values=fine.values[pick])
            end = _End(band, lost[pick])
            lines = [
                *warnings_of(passages, itinerary, end.amount_lost, end.band, drops[-1]),
                *too_dark({"absorbance": absorbance[at]}, itinerary.lanes),
            ]
            said.append("\n".join(lines))
        return {
            "pressure/total": np.array([one.total for one in drops]),
            "pressure/cell_inlet": np.array([one.cell_inlet for one in drops]),
            "computed": np.ones(len(cases), dtype=bool),
            "warnings": np.array(said),
        }

    def _closed_form(self, way):
        """Sums of means and of textbook variances, and the column's own peak, of one journey."""
        lanes = len(self._branches.itineraries[0].lanes)
        mean, variance, own = np.zeros(lanes), np.zeros(lanes), {}
        for number in way:
            part, stream = self._branches.pairs[number]
            arrival = mean.tobytes() if part.in_gradient else b""
            if (number, arrival) not in self._theories:
                met = part.met_at(mean, stream)
                self._theories[number, arrival] = met, KINDS[part.kind].theory(met, stream)
            met, said = self._theories[number, arrival]
            variance, _ = handed_on(met, stream, variance, np.zeros(lanes))
            mean, variance = mean + said.mean, variance + said.gaussian_variance
            if part.separates and not own:
                own = self._column_alone(number, arrival, met, stream)
        return mean, variance, own

    def _column_alone(self, number, arrival, met, stream):
        if (number, arrival) not in self._columns:
            resolution = self._branches.itineraries[0].resolution
            bands, _ = pass_through([(met, stream)], resolution)
            figures = measure(bands[0], setting_of([(met, stream)]))
            self._columns[number, arrival] = {
                name: figures[name] for name in (*KEPT, "peak_capacity") if name in figures
            }
        return self._columns[number, arrival]
