"""From tolerances to a table of what to measure, with limits, guard bands and risks.

Instruments are the samples of the study. A reading of one is its metric with an error after
``[[reading]]``: the risks of a wrong decision are counted, not modelled.
"""

from dataclasses import dataclass, replace

import numpy as np

from tailrace.journey.itinerary import Itinerary
from tailrace.measures.registry import APEX, METRICS, WIDTH
from tailrace.quantities.arrays import BoolArray, FloatArray, IntArray
from tailrace.scenario.criteria import Criterion
from tailrace.scenario.reading import Reading
from tailrace.studies.samples import Samples
from tailrace.studies.tolerance.judging import ACCEPTED, Demand, clopper_pearson
from tailrace.studies.tolerance.models import Answer, JourneyModel, measured
from tailrace.studies.tolerance.result import Check, Interval
from tailrace.studies.tolerance.series import reading_of
from tailrace.studies.tolerance.statistics import wilks_rank

MISSED = 0.05
"""What lies beyond the limit passes with at most this probability: the guard band is that quantile
of a reading's error (JCGM 106:2012, clause 8.3)."""
NAN = float("nan")
STREAM = 6


@dataclass(frozen=True, kw_only=True)
class Seen:
    """One metric of many instruments.

    Parameters
    ----------
    nominal : float, SI unit of the metric
    true : (samples,) array, SI unit of the metric
        Of the instrument.
    reading : Reading or None
        How it is read; None: exactly, as far as is known.
    scores : (samples,) array, 1
        Errors of readings over their standard deviation.
    """

    criterion: Criterion
    nominal: float
    true: FloatArray
    reading: Reading | None = None
    scores: FloatArray | float = 0.0

    @property
    def read(self) -> FloatArray:
        """As measured, (samples,) array, SI unit of the metric."""
        if self.reading is None:
            return self.true
        size = self.reading.deviation
        return self.true + size * self.scores * (self.true if self.reading.relative else 1.0)


def checks_of(
    model: JourneyModel, samples: Samples, answer: Answer, nominal: Answer, demand: Demand | None
) -> tuple[Check, ...]:
    """What to measure on an instrument; nothing without criteria.

    ``samples``: the instruments, the first of the study; ``answer``, ``nominal``: of all samples of
    the study, and of the scenario as it stands.
    """
    if demand is None:
        return ()
    true = answer.part(slice(0, len(samples)))
    readings = model.readings
    noise = np.random.Generator(
        np.random.PCG64(np.random.SeedSequence(samples.seed, spawn_key=(STREAM,)))
    )

    def seen(criterion: Criterion, expected: float, values: FloatArray) -> Seen:
        reading = reading_of(readings, criterion.measure, criterion.label)
        return Seen(
            criterion=criterion,
            nominal=expected,
            true=values,
            reading=reading,
            scores=np.zeros(len(values)) if reading is None else reading.errors(len(values), noise),
        )

    rows = [
        direct(seen(one, float(nominal.values[row, 0]), values), demand)
        for row, (one, values) in enumerate(zip(model.criteria, true.values, strict=True))
    ]
    lane = next((one.of[0] for one in model.criteria if one.of), 0)
    label = model.scenario.document.solutes[lane].name
    if any(part.separates for part, _ in model.scenario.itinerary().passages):
        states = demand.judged(true.values, true.errors)
        width = Criterion(measure=METRICS[WIDTH].label, of=(0,), label=label)
        bare = model.altered((width,), without_column, lane)
        still = samples.part(slice(0, 1)).scaled(np.zeros(len(samples.inputs)))
        expected = float(bare(still, "union-nominal").values[0, 0])
        rows.append(
            of_union(seen(width, expected, bare(samples, "union").values[0]), states, demand)
        )
    time = Criterion(measure=METRICS[APEX].label, of=(lane,), label=label)
    at, here = (measured(time, one.metrics)[0] for one in (nominal, true))
    rows.append(of_peak(seen(time, float(at[0]), here), demand))
    return tuple(rows)


def without_column(itinerary: Itinerary) -> Itinerary:
    """The same journey with nothing in place of the column."""
    left = tuple(pair for pair in itinerary.passages if not pair[0].separates)
    return replace(itinerary, passages=left)


def direct(seen: Seen, demand: Demand) -> Check:
    """The row of a criterion itself."""
    one = seen.criterion
    how = "pump" if one.asked.of == "run" else "column standard"
    return _row(seen, how, one.at_least, one.at_most, "asked", demand)


def of_union(seen: Seen, states: IntArray, demand: Demand) -> Check:
    """The row of the width with a union in place of the column.

    Parameters
    ----------
    states : (samples,) array of int, 1
        How the same instruments do with the column, all criteria together.
    """
    limit, basis = _union_limit(seen.true, states, demand)
    return _row(seen, "union", NAN, limit, basis, demand)


def of_peak(seen: Seen, demand: Demand) -> Check:
    """The row of the retention time: two limits between which instruments in tolerance lie."""
    values = np.sort(seen.read[np.isfinite(seen.read)])
    rank = wilks_rank(len(values), demand.required, demand.confidence, 2)
    # The limits are of what is read, so its uncertainty is in them already.
    seen = replace(seen, true=seen.read, reading=None)
    if rank is None:
        return _row(seen, "peak standard", NAN, NAN, "few samples", demand)
    low, high = float(values[rank]), float(values[-1 - rank])
    row = _row(seen, "peak standard", low, high, "control", demand)
    hits = round(float(np.mean((seen.read < low) | (seen.read > high))) * len(seen.read))
    return replace(
        row,
        rule="control limits",
        consumer_risk=NAN,
        consumer_risk_interval=Interval(low=NAN, high=NAN),
        producer_risk=hits / len(seen.read),
        producer_risk_interval=_interval(hits, len(seen.read)),
    )


def _union_limit(true: FloatArray, states: IntArray, demand: Demand) -> tuple[float, str]:
    """The greatest width below which instruments meet the criteria, and what it rests on.

    ``assures``: of instruments with this width or less the required share meet all criteria.
    ``holds``: that share meets them whatever the width, and of those that do that share lies below.
    ``accepted``: the latter alone, which assures nothing. ``few accepted``: not even that.
    """
    there = np.isfinite(true)
    order = np.argsort(true[there])
    widths, good = true[there][order], (states[there] == ACCEPTED)[order]
    counts = np.arange(1, len(widths) + 1)
    assured = np.array(
        [
            clopper_pearson(int(hits), int(count), demand.confidence, sides=1)[0] >= demand.required
            for hits, count in zip(np.cumsum(good), counts, strict=True)
        ]
    )
    if assured.any() and not assured[-1]:
        return float(widths[int(np.flatnonzero(assured)[-1])]), "assures"
    rank = wilks_rank(int(good.sum()), demand.required, demand.confidence, 1)
    if rank is None:
        return NAN, "few accepted"
    return float(widths[good][-1 - rank]), "holds" if assured.any() else "accepted"


def _row(
    seen: Seen, how: str, at_least: float, at_most: float, basis: str, demand: Demand
) -> Check:
    known = [end for end in (at_least, at_most) if not np.isnan(end)]
    about = max(map(abs, known or [seen.nominal]))
    deviation = seen.reading.size(about) if seen.reading else 0.0
    guard = seen.reading.quantile(1 - MISSED) * deviation if seen.reading else 0.0
    inside = (at_least + guard, at_most - guard)
    consumer, producer = _risks(seen, (at_least, at_most), inside)
    none = bool(np.isnan([at_least, at_most]).all()) or seen.reading is None
    consumer, producer = ((0, 0) if none else one for one in (consumer, producer))
    return Check(
        what=seen.criterion.name,
        how=how,
        unit=seen.criterion.unit,
        kind=seen.criterion.kind,
        expected=float(seen.nominal),
        at_least=float(at_least),
        at_most=float(at_most),
        measurement=deviation,
        guard=guard,
        accept_at_least=float(inside[0]),
        accept_at_most=float(inside[1]),
        rule="series" if seen.criterion.repeated else _rule(guard, inside),
        consumer_risk=NAN if none else _share(*consumer),
        producer_risk=NAN if none else _share(*producer),
        consumer_risk_interval=_interval(*consumer),
        producer_risk_interval=_interval(*producer),
        basis=basis,
        content=demand.required,
        confidence=demand.confidence,
    )


def _rule(guard: float, inside: tuple[float, float]) -> str:
    if np.isnan(inside).all():
        return "no limit"
    if np.isfinite(inside).all() and inside[0] >= inside[1]:
        return "guard bands meet"
    return "simple" if guard == 0 else "guarded"


def _risks(
    seen: Seen, limits: tuple[float, float], inside: tuple[float, float]
) -> tuple[tuple[int, int], tuple[int, int]]:
    """Wrong instruments passed and right ones failed, each of how many."""
    there = np.isfinite(seen.true) & np.isfinite(seen.read)
    true, read = seen.true[there], seen.read[there]

    def within(values: FloatArray, ends: tuple[float, float]) -> BoolArray:
        return ~((values < ends[0]) | (values > ends[1]))

    passed, right = within(read, inside), within(true, limits)
    count = int(there.sum())
    return (int((passed & ~right).sum()), count), (int((right & ~passed).sum()), count)


def _share(hits: int, count: int) -> float:
    return hits / count if count else NAN


def _interval(hits: int, count: int) -> Interval:
    low, high = clopper_pearson(hits, count, 0.95) if count else (NAN, NAN)
    return Interval(low=low, high=high)
