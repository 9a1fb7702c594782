"""How metrics are read from signals with noise: simulated, and read as measured ones are."""

from dataclasses import replace

import numpy as np

from tailrace.journey import travel
from tailrace.measurements.evening import Even
from tailrace.measurements.measuring import NOISE_WIDTHS, read_plainly
from tailrace.measurements.noise import Noise, range_near
from tailrace.measures.chromatogram import overlaid
from tailrace.measures.registry import APEX, HEIGHT, METRICS, WIDTH
from tailrace.quantities.arrays import FloatArray
from tailrace.scenario.accept import MEASURES
from tailrace.scenario.reading import Reading, readings_of
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.target import StudyError
from tailrace.signals.cubic import sample
from tailrace.studies.lanes import band_of

STREAM, SEED = 11, 1
ROOM = 1.5
"""Blank signal behind the last peak, over the widths that the noise is looked at."""
MOSTLY = 0.95
"""Of the signals, in which every peak has to stand out."""
READ = ("signal_to_noise", *(row.name for row in METRICS.values() if row.read is not None))


def resolved(scenario: Scenario) -> tuple[Reading, ...]:
    """The readings of a scenario, those from simulated noise simulated.

    Raises StudyError for what is not read off a signal, and where the scenario lacks what the noise
    or the height follows from.
    """
    readings = readings_of(scenario.document.reading)
    asked = [one for one in readings if one.simulated]
    for one in asked:
        metric = MEASURES[one.measure].metric
        if metric.of_pair is None and metric.name not in READ:
            raise StudyError(
                f"[[reading]] of {one.measure}: expected a metric that is read off the signal "
                "beside simulated, found another; give standard_deviation, relative or repeats"
            )
    if not asked:
        return readings
    read = _read(scenario, max(one.simulated for one in asked))
    return tuple(_with_spread(scenario, one, read) if one.simulated else one for one in readings)


def _read(scenario: Scenario, count: int) -> dict[str, FloatArray]:
    """Metrics of every solute as read off noisy signals, (signals, solutes) arrays."""
    itinerary = scenario.itinerary()
    result, detector = travel(itinerary), itinerary.passages[-1][0]
    interval = float(np.max(getattr(detector, "interval", np.nan)))
    heights, noise = (result.signal[name] for name in ("absorbance", "noise"))
    if not np.isfinite([interval, *heights, *noise]).all():
        raise StudyError(
            "[[reading]] simulated: expected what the noise is and how high peaks stand above it, "
            "found something missing; give noise, noise_time_constant and interval in [detector], "
            "light_path of the cell, amount and absorptivity of every solute, or another reading"
        )
    apex, widths = result.recorded[APEX], result.recorded[WIDTH]
    trace = overlaid(band_of(result), heights / result.recorded[HEIGHT])
    end = float(trace.times[0, -1] + ROOM * NOISE_WIDTHS * widths.max())
    times = np.arange(int(end / interval) + 1) * np.float64(interval)
    clean = sample(trace, times[None])[0]
    constant = float(np.max(getattr(detector, "time_constant", 0.0)))
    keep = float(np.exp(-interval / constant)) if constant else 0.0
    unit = Noise(deviation=1.0, correlation=keep, peak_to_peak=0.0)
    drawn = unit.drawn((count, clean.size), np.random.default_rng([SEED, STREAM]))
    # the noise that is stated is the mean range over so many widths
    points, whole = int(NOISE_WIDTHS * widths.mean() / interval), [(0, clean.size)]
    size = np.mean([range_near(one, whole, points, clean.size // 2)[0] for one in drawn])
    signals = clean + drawn * (float(np.max(noise)) / size)
    evens = (Even(start=0.0, step=interval, values=one, even=True) for one in signals)
    rows = [_of_solutes(read_plainly(one), apex, widths) for one in evens]
    return {name: np.array([row[name] for row in rows]) for name in READ}


def _of_solutes(
    found: dict[str, FloatArray], apex: FloatArray, widths: FloatArray
) -> dict[str, FloatArray]:
    """Metrics of the peak nearest to each solute's; NaN where none is within a width."""
    readings = {name: np.full(apex.shape, np.nan) for name in READ}
    for lane in range(apex.size if found else 0):
        near = int(np.argmin(np.abs(found[APEX] - apex[lane])))
        if abs(found[APEX][near] - apex[lane]) < widths[lane]:
            for name in readings:
                readings[name][lane] = found[name][near] if name in found else np.nan
    return readings


def _with_spread(scenario: Scenario, one: Reading, read: dict[str, FloatArray]) -> Reading:
    """A reading whose standard deviation is that of the signals, of the worst of several."""
    metric = MEASURES[one.measure].metric
    if metric.of_pair is not None:
        order = np.argsort(np.nanmean(read[APEX], axis=0))
        values = metric.of_pair({name: rows[:, order] for name, rows in read.items()})
    else:
        names = [row.name for row in scenario.document.solutes]
        values = read[metric.name][:, [names.index(one.of)] if one.of else slice(None)]
    values = values[: one.simulated]
    if not values.size or np.isfinite(values).mean(axis=0).min() < MOSTLY:
        raise StudyError(
            f"[[reading]] of {one.measure}: expected peaks that stand out of the noise in nearly "
            "every signal, and a metric that they have, found too few; inject more, or give "
            "relative"
        )
    spread = np.nanstd(values, axis=0, ddof=1) / np.abs(np.nanmean(values, axis=0))
    return replace(one, deviation=float(spread.max()), relative=True, freedom=one.simulated - 1.0)
