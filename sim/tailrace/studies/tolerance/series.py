"""Series of injections on one instrument: how far retention times and areas spread within it.

Inputs of ``kind = "injection"`` are small: a metric goes with each in a straight line, so that the
injections of a series are normal about the instrument's own, and n of them have a variance that is
chi-squared with n - 1 degrees of freedom over its expectation.
"""

from collections.abc import Mapping, Sequence
from zlib import crc32

import numpy as np

from tailrace.measures.registry import APEX, AREA, METRICS
from tailrace.quantities.arrays import AnyArray, FloatArray
from tailrace.scenario.accept import SERIES
from tailrace.scenario.criteria import Criterion
from tailrace.scenario.inputs import Input, inputs_of
from tailrace.scenario.reading import Reading
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.target import where_is
from tailrace.studies.samples import Samples

STREAM = 10
STEP = 5.0
"""Standard deviations of an input over which a change is taken, far above what grids do: powers of
the input are exact, whatever the step."""
AREA_GOES_WITH = {"injection.volume": 1.0, "method.flow": -1.0}
"""Powers with which the area of a recorded concentration goes beside what is recovered."""

NO_BAND = (("detector", "noise"),)
"""Places of fields that change no band: injections on an instrument spread alike whatever they
are."""


def varying(scenario: Scenario, criteria: Sequence[Criterion]) -> tuple[Input, ...]:
    """What varies from one injection to the next; nothing where no criterion is of a series."""
    asked = any(one.repeated for one in criteria)
    return inputs_of(scenario, injections=True) if asked else ()


def moved(samples: Samples, scenario: Scenario, one: Input) -> Samples:
    """The samples with one input STEP of its standard deviations further, whatever else it does."""
    places = [row.target.place for row in samples.inputs]
    own = np.full(len(samples), one.nominal)
    if one.target.place in places:
        own = samples.values()[:, places.index(one.target.place)]
    where = where_is(scenario.document, one.target.place)
    return samples.further(one, where, STEP * deviations(one, own))


def deviations(one: Input, own: FloatArray) -> FloatArray:
    """Standard deviations of injections about each instrument's own value, its SI unit."""
    deviation = one.mean_and_deviation()[1]
    with_value = one.distribution.relative or one.distribution.word == "lognormal"
    return deviation * (own / one.nominal if with_value else np.ones_like(own))


def changes(
    one: Input, at: FloatArray, before: Mapping[str, AnyArray], after: Mapping[str, AnyArray]
) -> dict[str, FloatArray]:
    """Relative change of retention time and area for a standard deviation of an input.

    ``at``: values of the input as ``moved``, (samples,) array, its SI unit; ``before``, ``after``:
    metrics of samples as they are and so. (samples, lanes) arrays, 1.
    """
    unit = deviations(one, np.array([one.nominal]))[0]
    own = at - STEP * unit
    if one.distribution.relative or one.distribution.word == "lognormal":
        own = at / (1 + STEP * unit / one.nominal)
    size = deviations(one, own)
    powers = bool(np.all(own > 0))
    per = size / own / np.log(at / own) if powers else np.full(at.shape, 1 / STEP)
    power = AREA_GOES_WITH.get(".".join(map(str, one.target.place)), 0.0)
    found = {}
    for name in (APEX, AREA):
        old, new = (np.asarray(metrics[f"recorded/{name}"], float) for metrics in (before, after))
        beside = power * size / own if power and name == AREA else np.zeros_like(own)
        found[name] = np.log(new / old) * per[:, None] + beside[:, None]
    return found


def spread_within(
    lanes: Sequence[str],
    metrics: Mapping[str, AnyArray],
    found: Sequence[Mapping[str, FloatArray]],
    readings: Sequence[Reading],
) -> dict[str, FloatArray]:
    """RSD of a great many injections on each instrument, by the keys of metrics.

    ``found``: as of ``changes``, of each input; ``readings``: of ``[[reading]]``, which are added.
    (samples, lanes) arrays, 1.
    """
    spreads = {}
    for name in (APEX, AREA):
        values = np.asarray(metrics[f"recorded/{name}"], dtype=float)
        square = np.sum([one[name] ** 2 for one in found], axis=0) + np.zeros_like(values)
        for at, lane in enumerate(lanes):
            reading = reading_of(readings, METRICS[name].label, lane)
            if reading is not None:
                share = 1.0 if reading.relative else values[:, at]
                square[:, at] += (reading.deviation / share) ** 2
        spreads[f"{SERIES}/rsd_{name}"] = np.sqrt(square)
    return spreads


def reading_of(readings: Sequence[Reading], measure: str, label: str) -> Reading | None:
    """How a metric of a solute or pair is read: its own row, that of all, or None."""
    names = (label, "")
    own = [one for one in readings if one.measure == measure and one.of in names]
    return min(own, key=lambda one: names.index(one.of), default=None)


def judged_series(criterion: Criterion, values: FloatArray, *seed: int) -> FloatArray:
    """RSD of a series of some injections on each instrument, (samples,) array, 1.

    ``values``: of a great many, as of ``spread_within``; others are given back as they are.
    """
    if not criterion.repeated:
        return values
    stream = (STREAM, crc32(criterion.name.encode()), len(values))
    random = np.random.Generator(np.random.PCG64(np.random.SeedSequence(seed, spawn_key=stream)))
    freedom = criterion.injections - 1
    return np.asarray(values * np.sqrt(random.chisquare(freedom, len(values)) / freedom))


def series_range(injections: int, share: float = 0.95) -> tuple[float, float]:
    """RSD of a series over that of a great many injections: ends of the middle share of series."""
    from scipy.special import chdtri

    freedom, tail = injections - 1, (1 - share) / 2
    low, high = (float(np.sqrt(chdtri(freedom, at) / freedom)) for at in (1 - tail, tail))
    return low, high


def own_limits(injections: int, share: float) -> float:
    """Standard deviations of a first series to either side of its mean that hold a share of the
    next injections on the same instrument, on average (a prediction interval, Student's t)."""
    from scipy.special import stdtrit

    return float(stdtrit(injections - 1, (1 + share) / 2) * np.sqrt(1 + 1 / injections))
