"""Figures of tubes and joints: what is in them and what leaves them, exact and simulated."""

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from typing import Any

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.journey import travel
from tailrace.journey.itinerary import Itinerary
from tailrace.journey.result import Result
from tailrace.measures.registry import APEX, PLATES, VARIANCE, WIDTH
from tailrace.parts.fitting.part import EXCHANGE, Fitting
from tailrace.parts.injector.part import Injector
from tailrace.parts.tube.part import Tube
from tailrace.parts.tube.theory import reduced_cumulants
from tailrace.quantities.arrays import FloatArray
from tailrace.signals.band import Band
from tailrace.signals.cubic import sample
from tailrace.signals.resolution import Resolution
from tailrace.studies.gallery.captions import of_outlets
from tailrace.studies.gallery.curves import curve_errors, points_of, travelled
from tailrace.studies.gallery.exhibit import ERROR, Exhibit, table_of
from tailrace.studies.gallery.instrument import Asked
from tailrace.studies.lanes import band_of
from tailrace.studies.plume import plume as plume_of
from tailrace.threads import in_threads
from tailrace.wording import say

THROUGH, LONG = 1e-8, 0.5
"""m^3/s and m; the shape of what leaves does not depend on them."""
BRIEF = 0.002
"""Standard deviation of the injected Gaussian over the residence time."""
ACCURACY, ACCURACY_WHERE_CHEAP = 1.5e-4, 2e-5
"""Finer than by default, since these figures are held against exact curves."""
CHEAP = 0.1, 10.0
"""Fourier numbers between which a tube empties soon, and gives no narrow signal."""


def pulse(fourier: float) -> Itinerary:
    """The journey of a Gaussian of standard deviation BRIEF through one tube, 1 s long.

    Parameters
    ----------
    fourier : float, 1
        Fourier number pi D L / F.
    """
    accuracy = ACCURACY_WHERE_CHEAP if CHEAP[0] <= fourier <= CHEAP[1] else ACCURACY
    stream = Stream(flow_rate=THROUGH, diffusivity=fourier * THROUGH / (np.pi * LONG))
    bore = float(np.sqrt(4 * THROUGH / (np.pi * LONG)))
    return Itinerary(
        lanes=(f"X = {fourier:g}",),
        passages=(
            (Injector(shape="gaussian", sigma=BRIEF), stream),
            (Tube(name="tube", bore=bore, length=LONG), stream),
        ),
        resolution=Resolution.for_accuracy(accuracy),
    )


@lru_cache(maxsize=32)
def _behind(fourier: float) -> Result:
    """What a pulse becomes; two figures show some of them."""
    return travel(pulse(fourier))


FOURIER_NUMBERS = (0.01, 0.03, 0.1, 0.3, 1.0, 3.0, 10.0)
LATEST = 3.0
"""Residence times; a tail at 0.01 goes on beyond."""
OUTLET_COLUMNS = {
    "fourier_number": ("1", "Fourier number of the tube, pi D L / F"),
    "time": ("1", "time from the injection over the residence time"),
    "signal": ("1", "simulated signal times the residence time"),
    "long_tube_theory": ("1", "Gaussian of Taylor's variance, in the same measure"),
    ERROR: ("1", "of the simulated curve, largest over its height"),
}


def outlet_signals(asked: Asked) -> Exhibit:
    """Compute the figure; it shows no instrument."""
    numbers = FOURIER_NUMBERS if asked.values is None else asked.values.tolist()
    itineraries = [pulse(fourier) for fourier in numbers]
    results = in_threads(_behind, numbers)
    errors = curve_errors(itineraries, results)
    pieces = [
        _outlet(fourier, band_of(result), error)
        for fourier, result, error in zip(numbers, results, errors, strict=True)
    ]
    crests = [float(one.recorded[APEX][0]) for one in results]
    return Exhibit(
        name="outlet-signals",
        title=say("What leaves a tube after a brief injection"),
        caption=of_outlets(numbers, crests),
        alt=say(
            "{count} panels, one a Fourier number X, with the signal and, dashed, the Gaussian of "
            "long-tube theory around the residence time. The smaller X, the earlier and sharper "
            "the front of the signal, the longer its tail, and the wider and flatter the Gaussian. "
            "Maximum of the signal: {crests}.",
            count=len(numbers),
            crests="; ".join(map(_crest, pieces)),
        ),
        table=table_of(OUTLET_COLUMNS, pieces),
    )


def _outlet(fourier: float, band: Band, error: float) -> dict[str, Any]:
    picked, _ = points_of(band, 1e-4)
    times = np.union1d(picked[picked <= LATEST], np.linspace(0, LATEST, 151))
    spread = 1 / np.sqrt(24 * fourier)
    with np.errstate(under="ignore"):
        theory = np.exp(-(((times - 1) / spread) ** 2) / 2) / (spread * np.sqrt(2 * np.pi))
    return {
        "fourier_number": fourier,
        "time": times,
        "signal": sample(band, times[None])[0],
        "long_tube_theory": theory,
        ERROR: error,
    }


def _crest(piece: dict[str, Any]) -> str:
    """Where the signal of a panel is highest, and how high the Gaussian is, in words."""
    highest = int(np.argmax(piece["signal"]))
    return say(
        "{signal:.2f} at {time:.2f} residence times for X = {fourier:g} (Gaussian: {theory:.2f})",
        fourier=piece["fourier_number"],
        time=piece["time"][highest],
        signal=piece["signal"][highest],
        theory=piece["long_tube_theory"].max(),
    )


SIMULATED = (
    *(0.003, 0.01, 0.02, 0.03, 0.06, 0.1, 0.15, 0.2, 0.25, 0.3, 0.4, 0.6),
    *(1.0, 2.0, 4.0, 10.0, 30.0, 100.0),
)
EXACT = np.geomspace(0.002, 150, 120)
NAN = float("nan")
FOURIER_COLUMNS = {
    "fourier_number": ("1", "Fourier number of the tube, pi D L / F"),
    "variance_exact": ("1", "variance that the tube adds over Taylor's, closed form"),
    "variance_simulated": ("1", "the same, simulated"),
    "skewness_exact": ("1", "skewness that the tube adds, closed form"),
    "skewness_simulated": ("1", "the same, simulated"),
    "plates_ratio": ("1", "plates by half height over plates by moments, simulated"),
    ERROR: ("1", "the largest of the three simulated figures', over the figure"),
}
FOURIER_ALT = (
    "Three panels over Fourier numbers from {low:g} to {high:g} on a logarithmic scale, circles on "
    "lines. The variance ratio rises from {variance_first:.2f} at {low:g} through {share:.2f} at "
    "0.1 to {variance_last:.2f} at {high:g}. The skewness falls from {skewness_first:.2f} to "
    "{skewness_last:.2f}. The plate ratio falls from {many:.0f} at {low:g} below 1, to "
    "{least:.2f} at {dip:g}, where the signal has two humps and its width at half height spans "
    "both, and comes back to {late:.2f} at {high:g}."
)


def fourier_number(asked: Asked) -> Exhibit:
    """Compute the figure; it shows no instrument."""
    results = in_threads(_behind, SIMULATED)
    variance, skewness = _exact(EXACT)
    curve = {
        "fourier_number": EXACT,
        "variance_exact": variance,
        "skewness_exact": skewness,
        **dict.fromkeys(("variance_simulated", "skewness_simulated", "plates_ratio", ERROR), NAN),
    }
    points = [_point(fourier, result) for fourier, result in zip(SIMULATED, results, strict=True)]
    ratio = {point["fourier_number"]: float(point["plates_ratio"]) for point in points}
    share = float(_exact(np.array([0.1]))[0][0])
    return Exhibit(
        name="fourier-number",
        title=say("How far a tube's peak is from a Gaussian"),
        caption=say(
            "Variance that a tube adds over that of long-tube theory, its skewness, and plates "
            "counted at half height over plates from moments, against the Fourier number X; lines "
            "are closed forms, circles simulated. At X = 0.1 the long-tube formula counts the "
            "variance {over:.2g} times too high, and plates read at half height are {ratio:.0f} "
            "times those of the moments.",
            over=1 / share,
            ratio=ratio[0.1],
        ),
        alt=say(
            FOURIER_ALT,
            low=SIMULATED[0],
            high=SIMULATED[-1],
            share=share,
            **_ends("variance", points),
            **_ends("skewness", points),
            many=ratio[SIMULATED[0]],
            dip=min(ratio, key=lambda fourier: ratio[fourier]),
            least=min(ratio.values()),
            late=ratio[SIMULATED[-1]],
        ),
        table=table_of(FOURIER_COLUMNS, [curve, *points]),
    )


def _ends(name: str, points: Sequence[dict[str, Any]]) -> dict[str, float]:
    """The first and the last circle of a panel."""
    places = {"first": 0, "last": -1}
    return {f"{name}_{end}": float(points[at][f"{name}_simulated"]) for end, at in places.items()}


def _exact(fourier: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Variance over Taylor's X/24 and skewness, (points,) arrays, 1."""
    variance, third = reduced_cumulants(fourier)
    return variance / (fourier / 24), third / variance**1.5


def _point(fourier: float, result: Result) -> dict[str, Any]:
    tube, seen, error = result.parts[-1], result.recorded, result.numerical_error
    exact = _exact(np.array([fourier]))
    added = tube.variance_simulated[0]
    doubts = (
        error[VARIANCE][0] / added,
        error["skewness"][0] / tube.skewness_simulated[0],
        error[PLATES][0] / seen[PLATES][0],
    )
    return {
        "fourier_number": fourier,
        "variance_exact": exact[0],
        "variance_simulated": added * 24 * fourier,
        "skewness_exact": exact[1],
        "skewness_simulated": tube.skewness_simulated[0],
        "plates_ratio": (seen[PLATES] / seen["plates_moments"])[0],
        ERROR: max(doubts),
    }


LEAST = 1e-3
PLUME_COLUMNS = {
    "time": ("s", "from the start of the injection"),
    "radius": ("m", "from the axis, middle of a ring; empty for the signal"),
    "length": ("m", "from the inlet, middle of a section; empty for the signal"),
    "concentration": ("1/m^3", "mean over ring and section, over the amount injected"),
    "signal": ("1/s", "at the outlet, over the amount injected; empty for the field"),
    ERROR: ("1", "amount in the tube and left, less what has entered, over that injected"),
}

BALANCE = (
    "Largest difference between what has entered and what is in the tube or has left it: {error} "
    "of what is injected."
)

TONGUE = (
    "The liquid on the axis moves twice as fast as the mean",
    "A band that fills the tube's inlet is drawn out into a thin tongue along the axis, which "
    "reaches the outlet first; what is near the wall stays behind.",
)
VORTICES = (
    "The liquid in the middle is fastest, and the bend throws it outward",
    "A band that fills the tube's inlet is drawn out into a tongue that bends to the outer wall. "
    "Below each, round sections at five places: two vortices, mirror images of each other, wind "
    "the tongue up until it is even.",
)
EARLY, LATE = (
    ", so that the signal has its maximum {crest:.2g} s after the middle of what enters, before "
    "the residence time of {residence:.2g} s",
    ", but what enters lasts so long that the maximum of the signal, {crest:.2g} s after the "
    "middle of what enters, comes no sooner than the residence time of {residence:.2g} s",
)


PLUME_CAPTION = (
    "Concentration in the tube “{part}” (bore {bore:.3g} mm, length {length:g} mm, Fourier "
    "number {fourier:.2g}) at {moments} moments, and below it the signal at its outlet. "
    "{fast}{early}; at the last moment, {last:.3g} s, {behind:.2g} % are still on their "
    "way near the wall."
)


def plume(asked: Asked) -> Exhibit:
    """Compute the figure for a tube."""
    seen = plume_of(asked.scenario, asked.tube, asked.solute)
    seen = replace(seen, part=asked.called(seen.part), solute=asked.called(seen.solute))
    balance = np.abs(seen.held + seen.left - seen.entered)
    middles = ((edges[1:] + edges[:-1]) / 2 for edges in (seen.radii, seen.lengths))
    radius, length = (axis.ravel() for axis in np.meshgrid(*middles, indexing="ij"))
    cells = {"radius": radius, "length": length, "signal": NAN}
    pieces = [
        cells | {"time": time, "concentration": field.ravel(), ERROR: error}
        for time, field, error in zip(seen.times, seen.concentration, balance, strict=True)
    ]
    times, values = points_of(seen.outlet, LEAST)
    nothing = dict.fromkeys(("radius", "length", "concentration"), NAN)
    pieces.append(nothing | {"time": times, "signal": values, ERROR: balance.max()})
    # The mean of what left is that of what entered, later by the residence time.
    entered = np.average(seen.outlet.times[0], weights=seen.outlet.values[0]) - seen.residence
    crest = times[np.argmax(values)] - entered
    fast, shape = TONGUE if seen.across is None else VORTICES
    early = EARLY if crest < seen.residence else LATE
    return Exhibit(
        name="plume",
        title=say("A band in a tube: fast in the middle, slow at the wall"),
        caption=say(
            PLUME_CAPTION,
            part=seen.part,
            bore=1e3 * seen.bore,
            length=1e3 * seen.length,
            fourier=seen.fourier_number,
            moments=seen.times.size,
            fast=say(fast),
            early=say(early, crest=crest, residence=seen.residence),
            last=seen.times[-1],
            behind=100 - 100 * seen.left[-1],
        ),
        alt=say(
            "Sections through a tube, one below the other. {shape} Amount in the tube at the "
            "moments shown: {held}. Below, the signal at the outlet with lines at these moments: "
            "it begins at {begin:.2g} s, is highest at {high:.2g} s and has fallen to half of that "
            "at {half:.2g} s.",
            shape=say(shape),
            held=", ".join(map(_held, seen.times, seen.held)),
            **_course(times, values),
        ),
        table=table_of(PLUME_COLUMNS, pieces),
        subject=seen,
        about_error=BALANCE,
    )


def _held(time: float, held: float) -> str:
    """What is in a tube at a moment, in s."""
    return say("{held:.0f} % at {time:.2g} s", held=100 * held, time=time)


def _course(times: FloatArray, values: FloatArray) -> dict[str, float]:
    """When a signal begins (at a hundredth), is highest, and has fallen to a half, in s."""
    highest = int(np.argmax(values))
    seen = values >= values[highest] / 100
    half = highest + int(np.argmax(values[highest:] < values[highest] / 2))
    return {"begin": times[np.argmax(seen)], "high": times[highest], "half": times[half]}


FLOW, DIFFUSIVITY = 0.5e-6 / 60, 1e-9
SIGMA = 0.3
"""s, standard deviation of the peak that meets the joint."""
BORE, LENGTH, TINY = 1e-3, 1e-3, 1e-6
"""m, of the gap; a gap of TINY length does nothing that could be seen."""
UNSWEPT = 0.6
LEAST_OF_JOINT, LATEST_OF_JOINT = 1e-5, 12.0
"""Share of the height, and time in s, up to which tails are drawn."""
JOINT_COLUMNS = {
    "joint": ("", "which"),
    "unswept": ("1", "share of the gap that the stream does not sweep"),
    "exchange": ("1", "flow between stream and unswept part over the flow through the joint"),
    "time": ("s", "from the middle of the peak that meets the joint"),
    "signal": ("1/s", "behind the joint, over the amount injected"),
    WIDTH: ("s", "width at half height"),
    VARIANCE: ("s^2", "of the whole signal"),
    ERROR: ("1", "of the curve, largest over its height"),
}


def joint(asked: Asked) -> Exhibit:
    """Compute the figure; it shows no instrument."""
    unswept = 100 * UNSWEPT
    cases = {
        say("no gap"): (TINY, 0.0, 0.0),
        say("gap, all swept"): (LENGTH, 0.0, 0.0),
        say("{part:.0f} % unswept, stirred", part=unswept): (LENGTH, UNSWEPT, EXCHANGE),
        say("{part:.0f} % unswept, still", part=unswept): (LENGTH, UNSWEPT, 0.0),
    }
    itineraries = [_journey(*case) for case in cases.values()]
    results = travelled(itineraries)
    errors = curve_errors(itineraries, results)
    pieces = [
        _behind_joint(name, *cases[name][1:], result, error)
        for name, result, error in zip(cases, results, errors, strict=True)
    ]
    _, swept, stirred, still = (
        (100 * (one[WIDTH] / pieces[0][WIDTH] - 1), one[VARIANCE] / pieces[0][VARIANCE])
        for one in pieces
    )
    return Exhibit(
        name="joint",
        title=say("A gap in a joint, and a pocket that the stream does not sweep"),
        caption=say(
            "A Gaussian peak of {sigma:g} s at {flow:g} mL/min behind a joint with a gap of "
            "{bore:g} mm bore and {length:g} mm length, swept by the stream in full or in part, on "
            "a logarithmic and on a linear scale. The swept gap widens the half height by "
            "{swept:.2g} % and a pocket of {part:.0f} % of it, stirred by the passing jet, by "
            "{stirred:.2g} %, with {variance:.3g} times the variance; if diffusion alone filled "
            "the pocket, it would be {still:.2g} % only, but {tail:.2g} times the variance, by a "
            "tail that lasts far longer than the peak.",
            sigma=SIGMA,
            flow=FLOW * 60e6,
            bore=1e3 * BORE,
            length=1e3 * LENGTH,
            swept=swept[0],
            part=unswept,
            stirred=stirred[0],
            variance=stirred[1],
            still=still[0],
            tail=still[1],
        ),
        alt=_alt_of_joint(pieces),
        table=table_of(JOINT_COLUMNS, pieces),
    )


def _alt_of_joint(pieces: Sequence[dict[str, Any]]) -> str:
    peaks = [
        say(
            "{name}: {high:.2f} 1/s at {time:.2f} s",
            name=one["joint"],
            high=one["signal"].max(),
            time=abs(one["time"][np.argmax(one["signal"])]),
        )
        for one in pieces
    ]
    return say(
        "Two panels with the same four peaks. On the logarithmic scale all fall straight down but "
        "the one with a still pocket, which leaves a tail, still {tail:.1g} % of its height after "
        "{latest:.3g} s. On the linear one they nearly coincide; maxima: {peaks}.",
        tail=100 * pieces[-1]["signal"][-1] / pieces[-1]["signal"].max(),
        latest=pieces[-1]["time"][-1],
        peaks="; ".join(peaks),
    )


def _journey(length: float, unswept: float, exchange: float) -> Itinerary:
    stream = Stream(flow_rate=FLOW, diffusivity=DIFFUSIVITY)
    joint = Fitting(
        name="joint", gap_bore=BORE, gap_length=length, unswept=unswept, exchange=exchange
    )
    passages = (Injector(shape="gaussian", sigma=SIGMA), stream), (joint, stream)
    return Itinerary(lanes=("a small molecule",), passages=passages)


def _behind_joint(
    name: str, unswept: float, exchange: float, result: Result, error: float
) -> dict[str, Any]:
    times, values = points_of(band_of(result), LEAST_OF_JOINT, LATEST_OF_JOINT)
    return {
        "joint": name,
        "unswept": unswept,
        "exchange": exchange,
        "time": times,
        "signal": values,
        WIDTH: result.recorded[WIDTH][0],
        VARIANCE: result.recorded[VARIANCE][0],
        ERROR: error,
    }
