"""A path of linear parts as a product of their transfer functions, instead of a march.

The window follows from the cumulants, which ``theory.py`` of each part gives (``windows.py``). The
spectrum is followed until what is left of it is below REST of the height. What both leave out is
looked at afterwards and reported (``bound``).
"""

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial

import numpy as np
from scipy.fft import irfft

from tailrace.errors import AccuracyError
from tailrace.journey.discretisation import of_product, with_apices, with_points
from tailrace.journey.evaluation import (
    column_alone,
    of_curve,
    part_results,
    result_of,
    setting_behind,
)
from tailrace.journey.itinerary import Itinerary
from tailrace.journey.lanes import Alike, picked
from tailrace.journey.points import over_points, step_of, turns_around
from tailrace.journey.propagation import Stage, spread
from tailrace.journey.result import Result
from tailrace.journey.windows import (
    MOST_FREQUENCIES,
    POINTS,
    Window,
    frequencies,
    quick,
    reach_of,
    shorter,
    window_over,
)
from tailrace.measures import Moments, Peaks
from tailrace.measures.peak import measured
from tailrace.parts import KINDS
from tailrace.parts.base import Part, Passage, Passages, joined_to
from tailrace.quantities.arrays import BoolArray, ComplexArray, FloatArray, IntArray
from tailrace.signals.band import Band
from tailrace.signals.cumulants import Cumulants

REST = 2e-8
"""Of the peak's height, that may be left in the frequencies beyond the last."""
NOTHING = 1e-11
"""Of the spectrum, around one turn an interval: sums over points are then those of the curve."""
WRAPPED = 1e-7
"""Of the height, at the window's ends; above, the window is made longer."""
UNRESOLVED = 0.01
"""Of the height, that is not known of a product: with more a march says more; our own choice."""
SHARPER = 2.0
"""Times the last band's highest frequency, from which on another is computed by itself."""
ROOM = (1.15, 2.0, 4.0)
"""By which the tails of single parts are stretched, until a window holds the band."""
CLOSE = 5e-5
"""Fourth derivative of a curve times interval^4, over its height: a cubic through its points is
within some millionths then."""
MOST_SAMPLES = 1 << 21
"""Over all lanes that are computed at once."""
FIRST, STEP, PROBES = 4.0, 1.3, 10
"""Frequencies, over 1 / standard deviation, at which the spectrum is looked at first."""
FARTHEST = 1e5
LANES = 512
"""Of one block, as a rule: its arrays stay near the processor, and calls cost little a lane."""


def not_multiplied(passages: Passages, many: bool = False) -> str:
    """Why a journey on a path is marched: a clause; empty if it is a product. ``many``: of so many
    alike that transfer functions may be solved for beforehand."""
    return no_factor(passages, many) or ("" if smoothed(passages) else "nothing smooths it")


def no_factor(passages: Passages, many: bool = False) -> str:
    """Which part is no factor of a product, or none that pays: a clause; empty if all are."""
    for part, stream in passages:
        if part.behind:
            continue
        if reason := part.no_transfer(stream):
            return reason
        if not many and part.solving_seconds(stream) > 0:
            return (
                f"{part.name} has bends that would be solved for, which takes longer than a march"
            )
    return ""


def smoothed(passages: Passages) -> bool:
    """Whether no edge of what is injected is left."""
    edged = any(part.edged for part, _ in passages)
    return not edged or any(part.smooths for part, _ in passages if not part.behind)


def cumulants_of(passages: Passages) -> list[Cumulants]:
    """What closed form says of each part, every number a (lanes,) array."""
    lanes = (passages[0][1].lanes,)
    if isinstance(passages, Alike):
        return [_said_of(*passages.few(at)) for at in range(len(passages))]
    cumulants = [
        KINDS[part.kind].theory(part, stream, joined_to(passages, at))
        for at, (part, stream) in enumerate(passages)
    ]
    return [
        Cumulants(
            mean=np.broadcast_to(one.mean, lanes),
            gaussian_variance=np.broadcast_to(one.gaussian_variance, lanes),
            variance=np.broadcast_to(one.variance, lanes),
            third=np.broadcast_to(one.third, lanes),
        )
        for one in cumulants
    ]


def _said_of(few: Passage, back: IntArray) -> Cumulants:
    (one,) = cumulants_of([few])
    return Cumulants(**{name: row[back] for name, row in vars(one).items()})


def spectrum(passages: Passages, omega: FloatArray) -> ComplexArray:
    """Product of all transfer functions at (lanes, frequencies) omega, rad/s."""
    return spectra(passages, omega, (len(passages) - 1,))[0]


def spectra(passages: Passages, omega: FloatArray, places: Sequence[int]) -> list[ComplexArray]:
    """Products of all transfer functions up to some places on the path, rising."""
    whole, found = np.ones(omega.shape, dtype=complex), list[ComplexArray]()
    uniform = whole
    for at, (part, stream) in enumerate(passages):
        if part.carries_over:
            joined = joined_to(passages, at)
            whole = uniform * KINDS[part.kind].transfer(part, stream, omega, joined)
        elif not part.behind and not (part.records and part.idle):
            if at + 1 < len(passages) and passages[at + 1][0].carries_over:
                uniform = whole.copy()
            if isinstance(passages, Alike):
                whole *= passages.factor(at, omega, _factor)
            else:
                whole *= _factor((part, stream), omega)
        if at in places:
            found.append(whole if at == len(passages) - 1 else whole.copy())
    return found


def _factor(passage: Passage, omega: FloatArray) -> ComplexArray:
    part, stream = passage
    return KINDS[part.kind].transfer(part, stream, omega)


def multiplied(
    passages: Passages, cumulants: Sequence[Cumulants] | None = None
) -> tuple[Band, FloatArray]:
    """The band behind a path whose first part injects.

    ``passages``: every number of the streams a (lanes,) array; nothing said by ``not_multiplied``;
    ``cumulants``: of each part, where they are known already.

    Returns
    -------
    Band
        Behind a detector that takes points, the points.
    bound : (lanes,) array, 1
        What window and frequencies leave out, and how well the factors are known, over the height.
    """
    bands, bound = multiplied_to(passages, (len(passages) - 1,), cumulants)
    return bands[-1], bound


def unresolved(passages: Passages) -> str:
    """Why a path is better marched than multiplied though it is a product: a clause; else empty."""
    if np.all(multiplied(passages)[1] <= UNRESOLVED):
        return ""
    return f"{MOST_FREQUENCIES} frequencies do not resolve the edge that is left"


def multiplied_to(
    passages: Passages, places: Sequence[int], cumulants: Sequence[Cumulants] | None = None
) -> tuple[list[Band], FloatArray]:
    """As ``multiplied``: the bands behind some parts of a path, rising, of which the last is one.

    They have the last one's frequencies in common, unless one asks for far more.
    """
    cumulants = cumulants_of(passages) if cumulants is None else cumulants
    behind = [cumulants[: at + 1] for at in places]
    deviation = np.array([np.sqrt(np.sum([one.variance for one in few], 0)) for few in behind])
    highest = _highest(lambda omega: spectra(passages, omega, places), deviation)
    sharp = [np.any(one > SHARPER * highest[-1]) for one in highest]
    if any(sharp):
        few = [at for at, alone in zip(places, sharp, strict=True) if not alone]
        others, bound = multiplied_to(passages, few, cumulants)
        found = iter(others)
        return [
            multiplied(passages[: at + 1], cumulants[: at + 1])[0] if alone else next(found)
            for at, alone in zip(places, sharp, strict=True)
        ], bound
    most, lanes = highest.max(axis=0), deviation.shape[1]
    wide = passages.widest(most) if isinstance(passages, Alike) else most
    for room in ROOM:
        starts, length, window = _windows(passages, behind, wide, room)
        apart = shorter(window, length, wide)
        if apart.any():
            alike = passages.some if isinstance(passages, Alike) else partial(picked, passages)
            return _in_two(alike, places, cumulants, apart)
        if window.samples * lanes > MOST_SAMPLES and lanes > 1:
            half = np.arange(lanes) < lanes // 2
            return _in_two(partial(picked, passages), places, cumulants, half)
        omega = frequencies(window, length, most)
        bands, bound, wrapped = _inverted(passages, places, starts, (window, omega), deviation[-1])
        if not np.any(wrapped > WRAPPED):
            break
    return bands, bound


def _windows(
    passages: Passages,
    behind: Sequence[Sequence[Cumulants]],
    highest: FloatArray,
    room: float,
) -> tuple[list[FloatArray], FloatArray, Window]:
    """Begin of the window behind each place and how long it has to be, (lanes,) arrays, s; and the
    last one. ``highest``: frequency at any place, (lanes,) array, rad/s."""
    reach = [reach_of(so_far, room) for so_far in behind]
    starts = [
        np.sum([one.mean for one in so_far], axis=0) - before
        for so_far, (before, _) in zip(behind, reach, strict=True)
    ]
    length = np.max([one + other for one, other in reach], axis=0)
    if isinstance(passages, Alike):
        length = passages.widest(length)
    recorder = passages[-1][0] if passages else None
    return starts, length, window_over(starts[-1], length, highest, recorder)


def grid_behind(
    behind: Sequence[Sequence[Cumulants]], of: Callable[[FloatArray], Sequence[ComplexArray]]
) -> tuple[Window, FloatArray]:
    """A window with room for the curve behind some places of a path and for ones much like it.

    Its (lanes, frequencies) frequencies, rad/s, reach as far as that of any place. Without regard
    to the points that are taken off the last curve.

    Parameters
    ----------
    behind : sequence of sequence of Cumulants
        Of all that lies before each place.
    of : callable
        Gives the spectra at the places.
    """
    deviation = np.array([np.sqrt(np.sum([one.variance for one in few], 0)) for few in behind])
    highest = _highest(of, deviation).max(axis=0)
    _, length, window = _windows((), behind, highest, ROOM[1])
    return window, frequencies(window, length, highest)


def _in_two(
    picked: Callable[[IntArray], Passages],
    places: Sequence[int],
    cumulants: Sequence[Cumulants],
    first: BoolArray,
) -> tuple[list[Band], FloatArray]:
    """As ``multiplied_to``, some lanes by themselves and all others by themselves."""
    groups = [np.flatnonzero(first), np.flatnonzero(~first)]
    halves = [
        multiplied_to(
            picked(rows),
            places,
            [
                Cumulants(**{name: row[rows] for name, row in vars(one).items()})
                for one in cumulants
            ],
        )
        for rows in groups
    ]
    bands, bounds = zip(*halves, strict=True)
    back = np.argsort(np.concatenate(groups))
    whole = [Band.joined(pair).picked(back) for pair in zip(*bands, strict=True)]
    return whole, np.concatenate(bounds)[back]


def stages_of(passages: Passages, cumulants: Sequence[Cumulants]) -> tuple[list[Stage], FloatArray]:
    """What stands behind each part, in closed form; the last with its band, and its bound."""
    nothing, last = np.zeros(passages[0][1].lanes), len(passages) - 1
    looked = [at for at, (part, _) in enumerate(passages) if part.observes and not part.behind]
    places = [*(at for at in looked if at < last), last]
    bands, bound = multiplied_to(passages, places, cumulants)
    found: list[Stage] = []
    for at, sums in enumerate(stage_sums(cumulants)):
        seen = None
        if at in places[:-1]:
            seen = Stage(moments=sums, lost=nothing, band=bands[places.index(at)]).crest
        band = bands[-1] if at == last else None
        found.append(Stage(moments=sums, lost=nothing, band=band, seen=seen))
    return found, bound


def _highest(
    of: Callable[[FloatArray], Sequence[ComplexArray]], deviation: FloatArray
) -> FloatArray:
    """Frequency from which on what is left is below REST of the height.

    (places, lanes) array, rad/s; ``deviation`` is one, s; ``of`` gives the spectra at the places.
    """
    reduced = np.asarray(FIRST * STEP ** np.arange(PROBES), dtype=float)
    while True:
        omega = reduced / deviation[-1][:, None]
        sizes = np.abs(of(omega))
        above = sizes * omega * deviation[:, :, None] > REST
        if reduced[-1] > FARTHEST or not above[..., -2:].any():
            last = reduced.size - 1 - np.argmax(above[..., ::-1], axis=-1)
            beyond = np.where(above.any(axis=-1), np.minimum(last + 1, reduced.size - 1), 0)
            return np.asarray(reduced[beyond] / deviation[-1])
        reduced = np.append(reduced, reduced[-1] * STEP ** np.arange(1, PROBES + 1))


def _inverted(
    passages: Passages,
    places: Sequence[int],
    starts: Sequence[FloatArray],
    laid_out: tuple[Window, FloatArray],
    deviation: FloatArray,
) -> tuple[list[Band], FloatArray, FloatArray]:
    """Bands in their windows, what may be wrong with the last, what stands at the windows' ends."""
    window, omega = laid_out
    bands, wrapped = list[Band](), np.zeros_like(deviation)
    for start, whole in zip(
        [*starts[:-1], window.start], spectra(passages, omega, places), strict=True
    ):
        cut = np.abs(whole[:, -1]) * omega[:, -1] * deviation
        values = curve(whole, omega, start, window)
        ends = np.abs(values[:, [0, 1, -2, -1]]).max(axis=1) / values.max(axis=1)
        wrapped = np.maximum(wrapped, ends)
        bands.append(Band(values, start, window.step))
    taken_of = None
    if _coarsely(passages[-1][0], whole, omega):
        taken_of = _closely(whole, omega, window)
    points = np.ascontiguousarray(bands[-1].values[:, :: window.every])
    bands[-1] = Band(points, window.start, window.step * window.every, curve=taken_of)
    known = sum(part.known(stream) for part, stream in passages)
    return bands, known + cut + ends, wrapped


def _coarsely(recorder: Part, whole: ComplexArray, omega: FloatArray) -> bool:
    """Whether figures hang on where points fall: the curve's fourth derivative says."""
    if not recorder.by_points:
        return False
    sizes = np.abs(whole)
    bent = np.einsum("lf,lf->l", sizes, omega**4) / sizes.sum(axis=1)
    return bool(np.any(recorder.interval**4 * bent > CLOSE))


def _closely(whole: ComplexArray, omega: FloatArray, window: Window) -> Band:
    """The curve of a spectrum in the window, by as many samples as one without points has."""
    length = window.samples * window.step
    samples = POINTS * float(np.max(omega[:, -1] * length)) / (2 * np.pi)
    samples = quick(max(min(samples, MOST_SAMPLES / length.size), window.samples))
    close = Window(window.start, length / samples, samples)
    return Band(curve(whole, omega, close.start, close), close.start, close.step)


def curve(whole: ComplexArray, omega: FloatArray, start: FloatArray, window: Window) -> FloatArray:
    """The curve of a spectrum in a window that begins at ``start``, (lanes,) array, s."""
    turned = whole * np.exp(1j * omega * start[:, None])
    return np.asarray(irfft(turned, window.samples, axis=-1) / window.step[:, None])


def _with_moments(passages: Passages) -> tuple[Band, Moments]:
    """The band behind some passages, and its moments in closed form."""
    cumulants = cumulants_of(passages)
    return multiplied(passages, cumulants)[0], stage_sums(cumulants)[-1]


def stage_sums(cumulants: Sequence[Cumulants]) -> list[Moments]:
    """Moments of the band behind each part, from what closed form says of each."""
    rows = np.cumsum([(one.mean, one.variance, one.third) for one in cumulants], axis=0)
    return [Moments(np.ones_like(row[0]), *row) for row in rows]


def _recorded(passages: Passages, curve: Moments) -> Moments:
    """Moments by sums over the points that are recorded, where these are points."""
    recorder, stream = passages[-1]
    if not (recorder.records and recorder.by_points):
        return curve
    interval, phase = (
        np.broadcast_to(np.asarray(one, dtype=float), (stream.lanes,))
        for one in (recorder.interval, recorder.sampling_phase)
    )
    deviation = np.sqrt(curve.variance)
    first = 2 * np.pi / interval - 4 * step_of(interval, deviation)
    if not np.any(np.abs(spectrum(passages, first[:, None])) > NOTHING):
        return curve
    highest = _highest(lambda omega: [spectrum(passages, omega)], deviation[None])[0]
    whole, around = turns_around(interval, highest, deviation)
    return over_points(curve, spectrum(passages, around), whole, interval, phase)


def _passages(itinerary: Itinerary) -> Passages:
    passages = spread(itinerary)
    if not itinerary.versions or any(part.carries_over for part, _ in passages):
        return passages
    return Alike(passages, itinerary.versions, itinerary.solutes)


def multiply(itinerary: Itinerary) -> Result:
    """Make a journey by multiplying, as ``travel`` does by marching.

    What each part adds is said in closed form; discretisation errors are what window, frequencies
    and tables leave open. Raises AccuracyError: of paths of which ``not_multiplied`` says
    something.
    """
    passages = _passages(itinerary)
    reason = not_multiplied(passages, many=True)
    if reason:
        raise AccuracyError(f"this path is no product of transfer functions: {reason}; march it")
    cumulants = cumulants_of(passages)
    stages, bound = stages_of(passages, cumulants)
    last = stages[-1].band
    assert last is not None
    whole = stages[-1].moments
    stages[-1] = replace(stages[-1], moments=_recorded(passages, whole))
    parts = part_results(passages, stages)
    peak = column_alone(
        passages,
        [part.mean_closed_form for part in parts],
        itinerary.resolution,
        lambda columns, _: _with_moments(columns),
    )
    peaks = Peaks(last, setting_behind(passages, stages, peak), stages[-1].moments)
    recorded = measured(peaks)
    errors = of_product(recorded, bound, passages[0][1].flow_rate)
    errors = with_apices(errors, recorded, peaks, bound)
    errors = with_points(errors, recorded, of_curve(passages, stages, peak, whole))
    return result_of(itinerary, stages, parts, peak, (recorded, errors))
