"""Where the physics or the grid stops being sure: warnings in plain words."""

import numpy as np

from tailrace.eluent.pressure import LAMINAR_LIMIT

LEAST_FOURIER, MOST_FOURIER = 0.003, 100.0
"""Fourier numbers between which the tube is checked against the exact solution."""
LEAST_PECLET = 1000.0
MOST_LOST = 1e-6
LEAST_POINTS = 10
NEAR = 0.8
"""Share of a limit from which it is near: a packed bed meets its estimate within about 20 %
(common practice, no source)."""
PRESSURE_CAUTION = (
    "Do not run it: stay within the limits in the instrument's and the column's manuals, "
    "release the pressure before opening a joint, and ask a qualified person if in doubt."
)
NEAR_CAUTION = "Stay within the limits in the manuals of the instrument and the column."


def warnings_of(passages, itinerary, parts, pressures):
    """Everything that the reader of the figures must know.

    Parameters
    ----------
    passages : list of (part, Stream)
    itinerary : Itinerary
    parts : tuple of PartResult
    pressures : Pressure

    Returns
    -------
    list of str
    """
    said = []
    for part, stream in passages:
        if part.kind == "tube":
            said += _tube(part, stream)
    said += _pressure(passages, itinerary, pressures)
    lost = sum(part.amount_lost for part in parts)
    if np.any(np.abs(lost) > MOST_LOST):
        said.append(f"time windows cut off {np.max(np.abs(lost)):.1e} of the amount injected")
    return said + _recording(passages, parts)


def _tube(tube, stream):
    fourier, peclet = tube.fourier_number(stream), tube.peclet_number(stream)
    reynolds = np.max(tube.reynolds_number(stream))
    said = []
    if fourier.min() < LEAST_FOURIER or fourier.max() > MOST_FOURIER:
        said.append(
            f"{tube.name}: Fourier number {fourier.min():.2g} is outside {LEAST_FOURIER} to "
            f"{MOST_FOURIER:g}, where the tube is checked against the exact solution"
        )
    if peclet.min() < LEAST_PECLET:
        said.append(
            f"{tube.name}: Peclet number {peclet.min():.0f} is below {LEAST_PECLET:.0f}: diffusion "
            f"along the tube, about {192 / peclet.min() ** 2:.1g} of its long-tube variance, is "
            "left out of the simulation"
        )
    if reynolds > LAMINAR_LIMIT:
        said.append(
            f"{tube.name}: Reynolds number {reynolds:.0f} is above {LAMINAR_LIMIT:.0f}: the flow "
            "may be turbulent, then neither the variance nor the pressure drop holds"
        )
    return said


def _pressure(passages, itinerary, pressures):
    checks = [("pressure", pressures.total, itinerary.pressure_limit)]
    checks += [
        (f"{part.name}: pressure at the inlet", pressures.cell_inlet, part.pressure_limit)
        for part, _ in passages
        if part.kind == "cell"
    ]
    said = []
    for where, found, limit in checks:
        both = f"{where}: {found / 1e5:.3g} bar, the limit is {limit / 1e5:.3g} bar"
        if found > limit:
            said.append(f"{both}. {PRESSURE_CAUTION}")
        elif found >= NEAR * limit:
            said.append(f"{both}: near it, since pressures are estimates. {NEAR_CAUTION}")
    return said


def _recording(passages, parts):
    detector = passages[-1][0]
    if detector.kind != "detector" or np.isnan(detector.interval).all():
        return []
    band = parts[-1].band
    points = np.sum(band.values > 0.5 * band.values.max(axis=1, keepdims=True), axis=1).min()
    if points >= LEAST_POINTS:
        return []
    return [
        f"{detector.name}.interval: points above half the height of the narrowest peak: "
        f"{points:.0f}; {LEAST_POINTS} or more are usual (common practice, no source), and with "
        "fewer the figures depend on where the points happen to fall"
    ]
