"""Derivatives of every metric of a linear path, and of its signal, with respect to its inputs.

The spectrum is a product, and each factor changes smoothly with the numbers of its part. So the
spectrum's slope with an input comes from journeys a little to either side of it, by a formula of
sixth order, on the frequencies of the path as it stands; through a column with a gradient, or
with a sample in a solvent of its own, every element of the band goes by itself, laid out in time as
on the path as it stands. The slopes of
apex, height, flanks and feet of tangents follow as implicit functions
(``measures/linearised.py``); those of moments, pressures and of whatever a metric takes beside the
peak come from closed forms at the same journeys. Metrics are read as always, by the registry, at
each of these journeys, from numbers that are exact to first order: what is made of metrics (a
resolution, an aim, the worst of all) has derivatives, too. They are right to 1e-6 (tests, against
solutions made elsewhere). Tubes that are bent, or that hand on a profile, are expanded about the
path as it stands (``Kind.beside``); those that are read from the table have the slopes of what is
read, to 2e-6, and are as near to other solutions as the table. Overload is not linear:
it has none.

The curve that the detector records counts, and not the points that it takes of it: how these happen
to lie about a peak adds to its metrics what no first-order law foresees.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TypeAlias

import numpy as np

from tailrace.errors import AccuracyError
from tailrace.journey.evaluation import OWN, columns_met, setting_behind
from tailrace.journey.gradients import setting_of
from tailrace.journey.itinerary import Itinerary
from tailrace.journey.migrated import Migrated
from tailrace.journey.migration import columns_of, not_by_products
from tailrace.journey.product import cumulants_of, curve, unresolved
from tailrace.journey.propagation import Stage, spread
from tailrace.journey.signal import signal_of
from tailrace.journey.windows import Window
from tailrace.measures import Moments, Peaks, Setting
from tailrace.measures.linearised import Moved, Wave, linearised
from tailrace.measures.outlines import Outlines
from tailrace.measures.peak import measured
from tailrace.measures.registry import PLATES, PLATES_OWN
from tailrace.parts import KINDS
from tailrace.parts.base import Part, Passages, joined_to
from tailrace.quantities.arrays import FloatArray, IntArray
from tailrace.signals.band import Band
from tailrace.studies.batch import Metrics, gathered
from tailrace.studies.cases import Build, joined, kin
from tailrace.studies.lanes import pressures_of

STEP, QUICK_STEP = 5e-4, 2.5e-4
"""Of an input's value: between the journeys from which a slope is taken; and by a formula of fourth
order. Numbers that are rounded to 1e-16 leave slopes 12 digits."""
OF_NONE = 1e-3
"""The same of the size of an input whose value is 0."""
TWO_SIDED = {-3: -1 / 60, -2: 3 / 20, -1: -3 / 4, 1: 3 / 4, 2: -3 / 20, 3: 1 / 60}
QUICKLY = {-2: 1 / 12, -1: -2 / 3, 1: 2 / 3, 2: -1 / 12}
"""Of fourth order, for a signal: good to 1e-7 of its height, with two thirds of the journeys."""
ONE_SIDED = {0: -49 / 20, 1: 6.0, 2: -15 / 2, 3: 20 / 3, 4: -15 / 4, 5: 6 / 5, 6: -1 / 6}
BEYOND = 1.5
"""Frequencies to which parts are expanded, over those that straight tubes in their place let
pass."""
_Way: TypeAlias = Callable[[Part, int], Part] | None
_Waves: TypeAlias = tuple[dict[int, Wave], Window]
_Group: TypeAlias = tuple[Sequence[int], Passages, Migrated]
"""Cases that are kin, and the path of all of them."""
_Groups: TypeAlias = tuple[Migrated, list[_Group]]


@dataclass(frozen=True, kw_only=True, eq=False)
class Derivatives:
    """Metrics of a path, and how they change with its inputs.

    Parameters
    ----------
    metrics : dict of str to array
        As of ``tailrace.studies.lanes.metrics_of``, of the path as it stands and of those beside
        it: exact to first order in the inputs.
    weights : (inputs, cases) array, over the unit of the input
    """

    metrics: Metrics
    weights: FloatArray

    def of(self, values: FloatArray) -> FloatArray:
        """Slopes of what is made of the metrics, (cases, …) array. (inputs, …) array."""
        return np.asarray(np.tensordot(self.weights, np.asarray(values, dtype=float), axes=1))

    def slopes(self, name: str) -> FloatArray:
        """Of a metric, by its name such as ``recorded/width_half``. (inputs, …) array."""
        return self.of(self.metrics[name])


@dataclass(frozen=True, kw_only=True, eq=False)
class SignalSlopes:
    """The recorded signal of a path, and how it changes with its inputs and in time.

    Parameters
    ----------
    values : (lanes, points) array, 1/s
        Of unit area, at the times asked for; 0 where nothing arrives yet or any more.
    slopes : (inputs, lanes, points) array, 1/s over the unit of the input
    turned : (lanes, points) array, 1/s^2
        Change in time; with a delay of the recording it changes by as much the other way.
    """

    values: FloatArray
    slopes: FloatArray
    turned: FloatArray


@dataclass(frozen=True, eq=False)
class _Beside:
    """A path, and journeys beside it: each a step away along one input."""

    itineraries: Sequence[Itinerary]
    weights: FloatArray
    which: IntArray
    steps: FloatArray

    @property
    def lanes(self) -> int:
        return len(self.itineraries[0].lanes)

    def passed(self, cut: Callable[[Passages], Passages]) -> _Groups:
        """Part of the path; as it stands, and of cases that are kin, laid out alike."""
        plain = cut(spread(self.itineraries[0]))
        ways = _expanded(plain)
        base, found = Migrated(_beside(plain, ways, 1)), list[_Group]()
        for cases in kin(self.itineraries):
            passages = cut(spread(joined([self.itineraries[case] for case in cases])))
            passages = _beside(passages, ways, len(cases))
            layouts = {at: one.over(len(cases)) for at, one in base.layouts.items()}
            found.append((cases, passages, Migrated(passages, layouts)))
        return base, found

    def waves(self, groups: _Groups, places: Sequence[int]) -> _Waves:
        """The curves behind some parts of a path, rising, and their slopes with the inputs."""
        base, cases_kin = groups
        window, omega = base.grid(places)
        shape = (len(places), len(self.itineraries), *omega.shape)
        whole, means = np.empty(shape, dtype=complex), np.empty(shape[:-1])
        for cases, _, path in cases_kin:
            found = path.spectra(np.tile(omega, (len(cases), 1)), places)
            whole[:, cases] = np.reshape(found, (len(places), len(cases), *omega.shape))
            sums = [path.sums[at].mean for at in places]
            means[:, cases] = np.reshape(sums, (len(places), len(cases), len(omega)))
        built = {}
        for at, rows, mean in zip(places, whole, means, strict=True):
            # how much later the band comes turns phases of 1e4 rad: by itself, in closed form
            later = mean - mean[0]
            slopes = np.tensordot(
                self.weights, rows * np.exp(1j * omega * later[..., None]), axes=1
            )
            slopes -= 1j * omega * rows[0] * np.tensordot(self.weights, later, axes=1)[..., None]
            band = Band(curve(rows[0], omega, window.start, window), window.start, window.step)
            built[at] = Wave(omega, rows[0], slopes, Outlines(band))
        return built, window

    def shifted(self, cases: Sequence[int], number: Moved) -> FloatArray:
        """A number of the path at some cases, to first order. (cases * lanes,) array."""
        value, slopes = number
        rows = [value + self.steps[case] * slopes[int(self.which[case])] for case in cases]
        return np.concatenate(rows)


def derivatives(
    build: Build,
    nominal: FloatArray,
    bounds: Sequence[tuple[float, float]],
    sizes: FloatArray | None = None,
) -> Derivatives:
    """Derivatives of all metrics of a path with respect to its inputs.

    Raises AccuracyError where a part is no factor of a product.

    Parameters
    ----------
    build : callable
        Makes the itinerary from an (inputs,) array.
    nominal : (inputs,) array, SI units of the inputs
    bounds : sequence of two float, SI units of the inputs
        Of each input. On one of them the slope is that from inside.
    sizes : (inputs,) array, SI units of the inputs, optional
        Change of an input that counts as one, where its value is 0.
    """
    near = beside(build, nominal, bounds, sizes)
    passages = _passages(near)
    count, groups = len(_columns(passages)), near.passed(_whole)
    waves, _ = near.waves(groups, _looked(passages))
    alone = near.passed(_columns) if count else groups
    own = near.waves(alone, (count - 1,))[0][count - 1] if count else None
    found = [
        _metrics(near, one, waves, None if own is None else (own, columns))
        for one, columns in zip(groups[1], alone[1], strict=True)
    ]
    places = [cases for cases, *_ in groups[1]]
    return Derivatives(metrics=gathered(found, places), weights=near.weights)


def of_signal(
    build: Build,
    nominal: FloatArray,
    bounds: Sequence[tuple[float, float]],
    times: FloatArray,
    sizes: FloatArray | None = None,
    steps: Sequence[float] = (),
) -> SignalSlopes:
    """The recorded signal at some times, and its derivatives with respect to the inputs.

    The sum of its frequencies, without samples between. A fit takes it as its Jacobian: with
    ``times`` those of the measured points less the delay, area A and residuals over the noise s,
    the columns are -A slopes / s for the inputs (times their sizes, where values are over sizes)
    and A turned / s for the delay, each without what the projection on signal and baseline takes.
    ``values`` are those of ``journey.product.multiplied`` at the same times, to 1e-7 of the height.
    Raises AccuracyError where a part is no factor of a product.

    Parameters
    ----------
    build, nominal, bounds, sizes
        As of ``derivatives``.
    times : (points,) array, s
        In any order, the same for all lanes.
    steps : (inputs,) sequence, 1
        Over the values; of an input to which the signal owes little a longer one leaves more.
    """
    near = beside(build, nominal, bounds, sizes, QUICKLY, steps or QUICK_STEP)
    last = len(_passages(near)) - 1
    waves, window = near.waves(near.passed(_whole), (last,))
    wave, inside = waves[last], np.zeros((near.lanes, len(times)), dtype=bool)
    found = np.zeros((2 + len(wave.slopes), *inside.shape))
    for lane in range(near.lanes):
        begin, length = window.start[lane], window.samples * window.step[lane]
        inside[lane] = (times >= begin) & (times < begin + length)
        turns = np.exp(1j * np.outer(wave.omega[lane], times[inside[lane]]))
        turns[0] /= 2
        own = wave.spectrum[lane]
        rows = np.array([own, 1j * wave.omega[lane] * own, *wave.slopes[:, lane]])
        found[:, lane, inside[lane]] = wave.omega[lane, 1] / np.pi * (rows @ turns).real
    return SignalSlopes(values=found[0], turned=found[1], slopes=found[2:])


def _passages(near: "_Beside") -> Passages:
    """Those of the path as it stands; raises AccuracyError where a part is no factor."""
    passages = spread(near.itineraries[0])
    if reason := not_derived(passages):
        raise AccuracyError(f"derivatives are those of products, and {reason}")
    return passages


def not_derived(passages: Passages) -> str:
    """Why a path has no derivatives: a clause; empty if it has."""
    reason = not_by_products(passages, many=True, bends=True)
    return reason or ("" if columns_of(passages) else unresolved(_plain(passages)))


def _whole(passages: Passages) -> Passages:
    return passages


def _looked(passages: Passages) -> list[int]:
    """Places behind which curves are read: those of cells, and the last."""
    last = len(passages) - 1
    cells = [at for at, (part, _) in enumerate(passages) if part.observes and not part.behind]
    return sorted({*cells, last})


def _plain(passages: Passages) -> Passages:
    """The path with straight tubes in place of bent ones, which spread a band as much."""
    return [part.as_factor(stream) if part.laminar else (part, stream) for part, stream in passages]


def _expanded(passages: Passages) -> list[_Way]:
    """Of each part, what makes cases beside it of theirs, where its transfer function is expanded
    for that: as far as what the path lets pass."""
    if not any(part.expands for part, _ in passages):
        return [None] * len(passages)
    path = Migrated(_plain(passages))
    reach = [path.grid(_looked(passages))[1], *(one.omega for one in path.layouts.values())]
    highest = BEYOND * np.max([one.max(axis=1) for one in reach], axis=0)
    return [
        KINDS[part.kind].beside(part, stream, joined_to(passages, at), highest)
        if part.expands
        else None
        for at, (part, stream) in enumerate(passages)
    ]


def _beside(passages: Passages, ways: Sequence[_Way], cases: int) -> Passages:
    each = zip(passages, ways, strict=True)
    return [(part if way is None else way(part, cases), to) for (part, to), way in each]


def _columns(passages: Passages) -> Passages:
    """The columns, each as a band meets it that is held up by none."""
    if not any(part.separates for part, _ in passages):
        return []
    return [pair for pair, _ in columns_met(passages, [one.mean for one in cumulants_of(passages)])]


def _metrics(
    near: _Beside, group: _Group, waves: dict[int, Wave], alone: tuple[Wave, _Group] | None
) -> Metrics:
    """Metrics of some journeys that are kin, to first order from those of the path."""
    cases, passages, path = group
    shifted, shape = partial(near.shifted, cases), (len(cases), near.lanes)
    lanes = shape[0] * shape[1]
    nothing, own, sums = np.zeros(lanes), None, path.sums
    if alone is not None:
        wave, (_, columns, passed) = alone
        peaks = _peaks(wave, lanes, shifted, setting_of(columns), passed.sums[-1])
        own = measured(peaks, OWN)
        own[PLATES_OWN] = own[PLATES]
    stages = [
        Stage(
            moments=one,
            lost=nothing,
            band=None,
            seen=shifted(waves[at].height) if at in waves else None,
        )
        for at, one in enumerate(sums)
    ]
    setting = setting_behind(passages, stages, (own, None))
    recorded = measured(_peaks(waves[len(sums) - 1], lanes, shifted, setting, sums[-1]))
    groups = {
        "recorded": recorded,
        "numerical_error": dict.fromkeys(recorded, nothing),
        "column_alone": own or {},
        "signal": signal_of(passages, stages, recorded, own),
    }
    metrics: Metrics = {
        f"{group}/{name}": np.reshape(values, shape)
        for group, rows in groups.items()
        for name, values in rows.items()
    }
    passed_on = {"computed": np.ones(shape[0], dtype=bool), "warnings": np.full(shape[0], "")}
    return metrics | pressures_of(passages, shape[0]) | passed_on


def _peaks(
    wave: Wave,
    lanes: int,
    shifted: Callable[[Moved], FloatArray],
    setting: Setting,
    known: Moments,
) -> Peaks:
    outlines = linearised(wave, lanes, shifted)
    peaks = Peaks(outlines.band, setting, known)
    peaks.__dict__["outlines"] = outlines
    return peaks


def beside(
    build: Build,
    nominal: FloatArray,
    bounds: Sequence[tuple[float, float]],
    sizes: FloatArray | None = None,
    within: Mapping[int, float] = TWO_SIDED,
    size: float | Sequence[float] = STEP,
) -> _Beside:
    """Journeys beside one; parameters as of ``derivatives``; ``within``: weights of steps away from
    where the value is none of the bounds; ``size``: of a step, over the value, of all or each."""
    shares = np.broadcast_to(size, len(nominal))
    values, weights = [nominal], [(0, 0, 0.0, 0.0)]
    for place, (low, high) in enumerate(bounds):
        at = float(nominal[place])
        step = float(shares[place]) * abs(at) or (
            OF_NONE * float(sizes[place]) if sizes is not None else np.nan
        )
        if not step > 0:
            raise AccuracyError(f"expected a size of input {place + 1}, which is 0, found none")
        sides = within
        if not low <= at - 3 * step <= at + 3 * step <= high:
            sides, step = ONE_SIDED, step if at + 6 * step <= high else -step
        for offset, weight in sides.items():
            if offset:
                moved = nominal.copy()
                moved[place] = at + offset * step
                weights.append((place, len(values), offset * step, weight / step))
                values.append(moved)
            else:
                weights.append((place, 0, 0.0, weight / step))
    table = np.zeros((len(nominal), len(values)))
    which, steps = np.zeros(len(values), dtype=int), np.zeros(len(values))
    for place, case, step, weight in weights:
        table[place, case] += weight
        if case:
            which[case], steps[case] = place, step
    return _Beside([build(one) for one in values], table, which, steps)
