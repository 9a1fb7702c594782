"""Figure of a detector: what a time constant takes from the noise, and what from the peak."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from tailrace.journey.result import Result
from tailrace.measures.registry import APEX, HEIGHT, VARIANCE, WIDTH
from tailrace.parts.detector.part import Detector
from tailrace.quantities.arrays import FloatArray
from tailrace.signals.cubic import sample
from tailrace.studies.gallery.branches import branched
from tailrace.studies.gallery.captions import of_noise
from tailrace.studies.gallery.curves import metrics_of, travelled
from tailrace.studies.gallery.exhibit import ERROR, Exhibit, table_of
from tailrace.studies.gallery.instrument import Asked, instrument_of
from tailrace.studies.lanes import band_of
from tailrace.wording import say

SHARES = np.geomspace(0.05, 10, 19)
"""Time constants over the standard deviation of the peak that meets the detector."""
SHOWN = (0, 8, 14)
"""Which of them are drawn as traces; the first by half an order below any loss."""
VIEW = -7.0, 13.0
"""Of a trace, standard deviations from the mean of the peak that meets the detector."""
POINTS = 400
CLEAR = 8.0
"""Height over the noise's standard deviation at the first time constant."""
SEED = 6
NOISE_COLUMNS = {
    "time_constant": ("s", "of the first-order filter"),
    "time": ("s", "from the start of the injection"),
    "signal": ("1/s", "recorded, over the amount injected"),
    "noisy": ("1/s", "the same with white noise from a fixed seed"),
    "height_kept": ("1", "height over that without a filter"),
    "plates_kept": ("1", "plates at half height over those without a filter"),
    "clear": ("1", "height over the noise's standard deviation, over the best"),
    ERROR: ("1", "of the height, over it"),
}


NOISE_ALT = (
    "Left, noisy traces of the same peak, one below the other for each time constant: with a "
    "longer one the noise becomes weaker and slower, the peak lower, later and wider. Right, "
    "lines of height kept, plates kept and signal over noise (of its best) over the time constant "
    "on a logarithmic scale: {shares}. A line marks the best signal over noise, at {best:.2g} s."
)


def noise(asked: Asked) -> Exhibit:
    """Compute the figure for the instrument asked for."""
    instrument = instrument_of(asked, "noise", counted=False)
    path = [at for at, (part, _) in enumerate(instrument.passages) if not part.records]
    before = instrument.with_passages(path)
    (bands,) = travelled([before.itinerary()])
    width, mean = float(np.sqrt(bands.recorded[VARIANCE][0])), float(bands.recorded["mean"][0])
    constants = SHARES * width if asked.values is None else np.sort(asked.values)
    results, _ = branched(
        [before.with_last(Detector(time_constant=one)).itinerary() for one in constants]
    )
    height = metrics_of(results, "recorded", HEIGHT)
    clear = height * np.sqrt(constants)
    sharp = metrics_of([bands, *results], "recorded", APEX)
    sharp = np.square(sharp / metrics_of([bands, *results], "recorded", WIDTH))
    kept = sharp[1:] / sharp[0]
    piece = {
        "time_constant": constants,
        **dict.fromkeys(("time", "signal", "noisy"), np.nan),
        "height_kept": height / bands.recorded[HEIGHT][0],
        "plates_kept": kept,
        "clear": clear / clear.max(),
        ERROR: metrics_of(results, "numerical_error", HEIGHT) / height,
    }
    times = mean + width * np.linspace(*VIEW, POINTS)
    last = len(constants) - 1
    drawn = list(SHOWN if asked.values is None else dict.fromkeys((0, last // 2, last)))
    scale = height[0] / CLEAR * np.sqrt(constants[0])
    traces = [_trace(results[at], times, float(constants[at]), scale) for at in drawn]
    best = int(np.argmax(clear))
    return Exhibit(
        name="noise",
        title=say("Less noise, until the peak itself is lost"),
        caption=of_noise(piece, drawn, instrument.solute, width),
        alt=say(NOISE_ALT, best=constants[best], shares=_shares(piece, [0, best, -1])),
        table=table_of(NOISE_COLUMNS, [piece, *traces]),
    )


def _shares(piece: dict[str, Any], places: Sequence[int]) -> str:
    """The three lines at some time constants, in words."""
    text = "{height:.0f} %, {plates:.0f} % and {clear:.0f} % at {constant:.2g} s"
    names = {"height": "height_kept", "plates": "plates_kept", "clear": "clear"}
    return "; ".join(
        say(
            text,
            constant=piece["time_constant"][at],
            **{word: 100 * piece[name][at] for word, name in names.items()},
        )
        for at in places
    )


def _trace(result: Result, times: FloatArray, constant: float, scale: float) -> dict[str, Any]:
    """Rows of one noisy trace."""
    curve = sample(band_of(result), times[None])[0]
    noisy = curve + scale * filtered(times, constant)
    own = {"time_constant": constant, "time": times, "signal": curve, "noisy": noisy}
    return dict.fromkeys(NOISE_COLUMNS, np.nan) | own


def filtered(times: FloatArray, constant: float) -> FloatArray:
    """White noise of spectral density 2, as a filter of first order records it, in s^-1/2.

    ``times``: (points,) array, s, even; ``constant``: float, s. Its variance is 1 over the time
    constant, exactly; the same seed gives the same noise at each constant.
    """
    random = np.random.default_rng(SEED).standard_normal(times.size)
    decay = float(np.exp(-(times[1] - times[0]) / constant))
    found = np.empty_like(random)
    held = random[0]
    for at, one in enumerate(random):
        held = decay * held + np.sqrt(1 - decay**2) * one if at else held
        found[at] = held
    return np.asarray(found / np.sqrt(constant))
