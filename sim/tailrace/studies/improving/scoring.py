"""The figure that is aimed at, of every journey: simulated, by textbook variances, and at best."""

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from tailrace.journey.signal import compared
from tailrace.measures.chromatogram import half_height_resolution, half_height_resolution_error
from tailrace.measures.shape import GAUSSIAN_WIDTH
from tailrace.parts import part_class
from tailrace.scenario.target import StudyError
from tailrace.studies.improving.aims import AIMS, Aim


@dataclass(frozen=True, kw_only=True)
class Scores:
    """The aim's figure of every journey; arrays of (journeys,), as of ``Combinations``."""

    figure: np.ndarray
    error: np.ndarray
    of: np.ndarray
    ceiling: np.ndarray
    theory: np.ndarray
    signal: np.ndarray
    noise: np.ndarray
    signal_to_noise: np.ndarray


def aim_for(scenario, key, of) -> Aim:
    """Return the aim, or say why there is none.

    Parameters
    ----------
    scenario : Scenario
    key : str
        One of AIMS.
    of : str
        Solute or pair ``a/b``; empty: the worst counts.

    Raises
    ------
    StudyError
        For an aim, a solute or a pair that is not known; for one that the scenario cannot have.
    """
    document = scenario.document
    if key not in AIMS:
        raise StudyError(f"expected an aim of {', '.join(AIMS)}, found {key}; write one of them")
    names = [one.name for one in document.solutes]
    pairs = [f"{one}/{other}" for one, other in combinations(names, 2)]
    turned = [f"{other}/{one}" for one, other in combinations(names, 2)]
    what, known = ("pair", pairs) if key == "resolution" else ("solute", names)
    if of and of not in (*known, *(turned if key == "resolution" else ())):
        listed = ", ".join(known[:6]) or "none"
        raise StudyError(
            f"aim {key}: expected a {what} such as {listed}, found {of}; correct the {what}"
        )
    if key == "resolution" and len(names) < 2:
        raise StudyError(
            "aim resolution: expected two solutes or more, found one; choose another aim"
        )
    if key == "signal" and document.detector is None:
        raise StudyError(
            "expected a [detector], whose noise the signal is held against, found none; add one "
            "or choose another aim"
        )
    figure, remark = _figure(document, key)
    return Aim(key=key, of=of, figure=figure, remark=remark)


def _figure(document, key):
    """The aim's figure in words, and what must be known of it."""
    if key == "plates" and document.gradient is not None:
        return (
            "peak capacity",
            "with a gradient there are no plates; the peak capacity takes their place",
        )
    if key == "plates" and all(not part_class(one.part).separates for one in document.path):
        return "plates", (
            "there is no column on the path, and plates from the half height of a tailing peak "
            "flatter: aim at tailing as well"
        )
    if key != "signal":
        return key, ""
    absolute = all(one.amount and one.absorptivity for one in document.solutes) and (
        document.detector is not None and document.detector.noise is not None
    )
    lit = any(getattr(one, "light_path", None) for one in document.path)
    return "signal-to-noise ratio" + ("" if absolute and lit else " over the start's"), ""


def scored(figures, first, lanes, aim) -> Scores:
    """Read the aim's figure off the figures of journeys.

    Parameters
    ----------
    figures : dict of str to array
        As of ``tailrace.studies.improving.readings.Branches``.
    first : dict of str to array
        Those of the start alone: (1, solutes) arrays.
    lanes : tuple of str
        Names of the solutes.
    aim : Aim
    """
    lanes_meant = _lanes_meant(lanes, aim)
    own = {name: values[:, lanes_meant] for name, values in figures.items() if values.ndim == 2}
    base = {name: values[:, lanes_meant] for name, values in first.items() if values.ndim == 2}
    read = {"plates": _plates, "resolution": _resolution, "tailing": _tailing, "signal": _signal}
    names = np.array(lanes)[lanes_meant]
    of, figure, error, ceiling, theory = read[aim.key](own, base, names, aim)
    # a peak without such a figure is the worst of all: then there is none
    worst = np.argmax(np.where(np.isnan(figure), np.inf, -aim.sign * figure), axis=1)
    rows = np.arange(len(figure))
    most = np.min if aim.sign > 0 else np.max
    ratios = _ratios(figures, first)
    return Scores(
        figure=figure[rows, worst],
        error=error[rows, worst],
        of=of[rows, worst],
        ceiling=most(ceiling, axis=1),
        theory=most(theory, axis=1),
        signal=np.min(ratios["signal"], axis=1),
        noise=np.max(ratios["noise"], axis=1),
        signal_to_noise=np.min(ratios["signal_to_noise"], axis=1),
    )


def _lanes_meant(lanes, aim):
    """Places of the solutes that count."""
    if not aim.of:
        return list(range(len(lanes)))
    if aim.key != "resolution":
        return [lanes.index(aim.of)]
    numbered = list(enumerate(lanes))
    return next(
        [at, place]
        for at, one in numbered
        for place, other in numbered
        if at != place and f"{one}/{other}" == aim.of
    )


def _ratios(figures, first):
    names = ("concentration_recorded", "light_path", "relative_noise")
    return compared(
        {name: figures[f"signal/{name}"] for name in names},
        {name: first[f"signal/{name}"] for name in names},
    )


def _alone(figures, name):
    nowhere = np.full_like(figures["recorded/apex"], np.nan)
    return figures.get(f"column_alone/{name}", nowhere)


def _plates(figures, first, names, aim):
    sigma = np.sqrt(figures["theory/variance"])
    if aim.figure == "peak capacity":
        key = "peak_capacity"
        # 1 + time / (4 sigma): the time follows from what was recorded
        recorded = figures[f"recorded/{key}"]
        time = (recorded - 1) * figures["recorded/width_half"] / GAUSSIAN_WIDTH
        theory = 1 + time / sigma
    else:
        key, theory = "plates_half_height", np.square(figures["theory/mean"] / sigma)
    return (
        np.broadcast_to(names, sigma.shape),
        figures[f"recorded/{key}"],
        figures[f"numerical_error/{key}"],
        _alone(figures, key),
        theory,
    )


def _tailing(figures, first, names, aim):
    figure = figures["recorded/tailing_5"]
    nothing = np.full_like(figure, np.nan)  # a Gaussian has none, whatever the variances
    alone, error = _alone(figures, "tailing_5"), figures["numerical_error/tailing_5"]
    return np.broadcast_to(names, figure.shape), figure, error, alone, nothing


def _signal(figures, first, names, aim):
    height, error = figures["recorded/height"], figures["numerical_error/height"]
    gaussian = 1 / np.sqrt(2 * np.pi * figures["theory/variance"]) / height
    relative = error / height
    if aim.figure == "signal-to-noise ratio":
        figure = figures["signal/signal_to_noise"]
    else:
        figure = _ratios(figures, first)["signal_to_noise"]
        before = 1 / np.sqrt(2 * np.pi * first["theory/variance"]) / first["recorded/height"]
        gaussian = gaussian / before
        relative = relative + first["numerical_error/height"] / first["recorded/height"]
    nothing = np.full_like(figure, np.nan)  # light path and noise change: no ceiling
    return (
        np.broadcast_to(names, figure.shape),
        figure,
        figure * relative,
        nothing,
        figure * gaussian,
    )


def _resolution(figures, first, names, aim):
    apex, width = figures["recorded/apex"], figures["recorded/width_half"]
    order = np.argsort(apex, axis=1, kind="stable")
    figure = _neighbours(apex, width)
    error = half_height_resolution_error(
        *(
            np.take_along_axis(figures[f"{group}/{name}"], order, axis=1)
            for group in ("recorded", "numerical_error")
            for name in ("apex", "width_half")
        )
    )
    gaussian = GAUSSIAN_WIDTH * np.sqrt(figures["theory/variance"])
    ordered = np.array(names, dtype=object)[order]
    return (
        ordered[:, :-1] + "/" + ordered[:, 1:],
        figure,
        error,
        _neighbours(_alone(figures, "apex"), _alone(figures, "width_half")),
        _neighbours(figures["theory/mean"], gaussian),
    )


def _neighbours(times, widths):
    """Resolution of neighbours, (journeys, pairs) array, 1."""
    order = np.argsort(times, axis=1, kind="stable")
    return half_height_resolution(
        np.take_along_axis(times, order, axis=1), np.take_along_axis(widths, order, axis=1)
    )
