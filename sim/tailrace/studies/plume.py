"""What is in one tube of a path at given moments, with the signals at both its ends."""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from importlib import resources
from typing import Any

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.journey.itinerary import Itinerary
from tailrace.journey.plan import first_pulse
from tailrace.journey.propagation import pass_through
from tailrace.measures import moments
from tailrace.parts.tube.fields import tube_field
from tailrace.quantities.arrays import FloatArray
from tailrace.quantities.parse import shortened
from tailrace.scenario.problems import unknown
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.target import StudyError
from tailrace.signals.band import Band
from tailrace.signals.resolution import Resolution
from tailrace.studies.runner import Progress

MOMENTS = (0.1, 0.3, 0.55, 1.0, 2.0)
"""In residence times (and widths of the band that enters) from its entry: on the way, at the
outlet, and what stays behind at the wall."""
PASSAGE = 2.5
"""Residence times after the mean time of entry during which a tube is watched."""
STEPS_PER_SECTION = 1.5
"""Of an injected edge, in the time in which the stream on the axis crosses a section."""
FINEST = 64
"""Times finer than planned for a journey."""


@dataclass(frozen=True, kw_only=True)
class Plume:
    """What is in a tube.

    Parameters
    ----------
    title : str
        Of the scenario.
    part, solute : str
        Names of the tube and of the solute.
    bore, length : float, m
    residence : float, s
    fourier_number : float, 1
    times : (times,) array, s
        From the start of the injection.
    radii, lengths : (rings + 1,) and (sections + 1,) arrays, m
        Edges of the rings, from the axis to the wall, and of the sections, from inlet to outlet.
    concentration : (times, rings, sections) array, 1/m^3
        Mean over ring and section, over the amount injected.
    entered, left : (times,) array, 1
        Amount that has entered and left the tube by then, over that injected.
    inlet, outlet : Band
        Of the streams that enter and leave; the second up to the last moment or ``until``.
    recorded : Band or None
        What is recorded at the end of the path, where it was asked for and is not ``outlet``.
    plane : (times, 2 rings, sections) array, 1/m^3, or None
        Concentration in the plane of a bend, from the inner wall to the outer one; None of a tube
        that is straight and mixed at its inlet.
    across : (times, places, points, points) array, 1/m^3, or None
        Over its section at ``PLACES``, outward to the right; NaN outside.
    """

    title: str
    part: str
    solute: str
    bore: float
    length: float
    residence: float
    fourier_number: float
    times: FloatArray
    radii: FloatArray
    lengths: FloatArray
    concentration: FloatArray
    entered: FloatArray
    left: FloatArray
    inlet: Band
    outlet: Band
    recorded: Band | None = None
    plane: FloatArray | None = None
    across: FloatArray | None = None

    @property
    def volumes(self) -> FloatArray:
        """Volumes of the rings in each section, (rings, sections) array, m^3."""
        return np.pi * np.outer(np.diff(self.radii**2), np.diff(self.lengths))

    @property
    def flow_rate(self) -> float:
        """Volume of the tube over the residence time, m^3/s."""
        return np.pi / 4 * self.bore**2 * self.length / self.residence

    @property
    def held(self) -> FloatArray:
        """Amount in the tube, over that injected: concentration times volume. (times,) array, 1."""
        return np.tensordot(self.concentration, self.volumes, 2)


def plume(
    scenario: Scenario | None = None,
    part: str | None = None,
    solute: str | None = None,
    times: FloatArray | Sequence[float] | int | None = None,
    rings: int = 40,
    sections: int = 200,
    until: float | None = None,
    recorded: bool = False,
    progress: Progress | None = None,
) -> Plume:
    """Compute what is in a tube of a scenario's path.

    Values are means over a ring and a section (``tailrace.parts.tube.fields``), so that the amount
    in the tube is the plain sum of concentration times volume. Along the tube nothing diffuses.
    Raises StudyError for a path without such a tube, no such solute, or no times.
    Raises BudgetError or AccuracyError as of ``tube_field`` and of the journey to the tube.

    Parameters
    ----------
    scenario : Scenario, optional
        Left out: a brief injection into one tube.
    part, solute : str, optional
        Names of a tube on the path and of a solute; by default the first.
    times : (times,) array, s, or int, optional
        From the start of the injection; or their number, evenly; left out: five on the band's way.
    rings, sections : int
        Equal steps of the radius and of the length.
    until : float, s, optional
        Up to when the outlet signal is wanted, if longer than the last moment.
    recorded : bool
        Send the band to the end of the path, too.
    progress : callable, optional
        Called as ``progress(done, total)``.
    """
    scenario = _own_scenario() if scenario is None else scenario
    itinerary, place, lane = _found(scenario, part, solute)
    where, grid = (place, lane), (rings, sections)
    built = _plume(scenario.title, itinerary, where, times, grid, until, progress)
    return replace(built, recorded=_end(itinerary, place, lane)) if recorded else built


def _end(itinerary: Itinerary, place: int, lane: int) -> Band | None:
    """The band behind the whole path; None where the tube is the last part."""
    if place + 1 == len(itinerary.passages):
        return None
    return pass_through(_passages(itinerary), itinerary.resolution)[0][-1].lane(lane)


def _plume(
    title: str,
    itinerary: Itinerary,
    where: tuple[int, int],
    times: Any,
    grid: tuple[int, int],
    until: float | None,
    progress: Progress | None,
) -> Plume:
    """What is in the tube; where: its place and the lane, grid: rings and sections."""
    (place, lane), (rings, sections) = where, grid
    passages = _passages(itinerary)
    tube, stream = passages[place][0], _one(passages[place][1], lane)
    residence = float(tube.residence(stream)[0])
    inlet = _inlet(passages[:place], itinerary.resolution, lane, residence / sections)
    chosen, last = _moments(inlet, residence, times)
    late = last if until is None else until
    field = tube_field(tube, stream, inlet, chosen, rings, sections, late, progress)
    scale = float(np.max(stream.flow_rate))
    return Plume(
        title=title,
        part=tube.name,
        solute=itinerary.lanes[lane],
        bore=float(tube.bore),
        length=float(tube.length),
        residence=residence,
        fourier_number=float(tube.fourier_number(stream)[0]),
        times=field.times,
        radii=np.linspace(0.0, float(tube.bore) / 2, rings + 1),
        lengths=np.linspace(0.0, float(tube.length), sections + 1),
        concentration=field.values / scale,
        plane=None if field.plane is None else field.plane / scale,
        across=None if field.across is None else field.across / scale,
        entered=field.entered,
        left=field.left,
        inlet=inlet,
        outlet=field.outlet,
    )


def passage(scenario: Scenario, part: str | None = None, solute: str | None = None) -> float:
    """How long a tube is watched where moments are asked for by number (float, s); see `plume`."""
    itinerary, place, lane = _found(scenario, part, solute)
    passages = _passages(itinerary)
    residence = float(passages[place][0].residence(passages[place][1])[lane])
    inlet = pass_through(passages[:place], itinerary.resolution)[0][-1].lane(lane)
    return float(np.ptp(_moments(inlet, residence, 2)[0]))


def goes_on(scenario: Scenario, part: str | None = None) -> bool:
    """Whether anything is behind a tube, the detector too; as of ``plume``."""
    itinerary = scenario.itinerary()
    return _place(scenario, itinerary, part) + 1 < len(itinerary.passages)


def _found(scenario: Scenario, part: str | None, solute: str | None) -> tuple[Itinerary, int, int]:
    """The journey, the place of the tube in it and the lane of the solute."""
    itinerary = scenario.itinerary()
    return itinerary, _place(scenario, itinerary, part), _lane(scenario, itinerary, solute)


def _passages(itinerary: Itinerary) -> list[tuple[Any, Stream]]:
    lanes = len(itinerary.lanes)
    return [(part, stream.over(lanes)) for part, stream in itinerary.passages]


def _place(scenario: Scenario, itinerary: Itinerary, name: str | None) -> int:
    found = {k: part for k, (part, _) in enumerate(itinerary.passages) if part.shows_inside}
    tubes = [part.name for part in found.values()]
    if not tubes:
        raise StudyError(
            f"{scenario.path}: expected a tube on the path, found none; name another scenario"
        )
    if name is not None and name not in tubes:
        raise StudyError(f"{scenario.path}: {unknown('tube', name, tubes)}")
    named = [k for k, part in found.items() if name in (None, part.name)]
    return named[0]


def lane_named(scenario: Scenario, name: str | None) -> int:
    """The lane of a solute; the first without a name. Raises StudyError."""
    return _lane(scenario, scenario.itinerary(), name)


def _lane(scenario: Scenario, itinerary: Itinerary, name: str | None) -> int:
    if name is None:
        return 0
    if name not in itinerary.lanes:
        raise StudyError(f"{scenario.path}: {unknown('solute', name, itinerary.lanes)}")
    return itinerary.lanes.index(name)


def _inlet(
    before: list[tuple[Any, Stream]], resolution: Resolution, lane: int, crossing: float
) -> Band:
    """The band that enters; ``crossing`` (s) is the mean time in one section.

    An injection that no tube or column has smoothed is written finely enough for the edges that
    the sections can show, which what leaves the tube would not need.
    """
    if not any(part.smooths for part, _ in before):
        step = float(first_pulse(before, resolution).step[lane])
        finer = np.clip(step * STEPS_PER_SECTION / (crossing / 2), 1.0, FINEST)
        resolution = replace(resolution, refinement=resolution.refinement * float(finer))
    return pass_through(before, resolution)[0][-1].lane(lane)


def _moments(inlet: Band, residence: float, times: Any) -> tuple[FloatArray, float]:
    """The moments, (times,) array, s, and up to when the tube is watched, s."""
    entry = moments(inlet)
    mean, width = float(entry.mean[0]), float(np.sqrt(entry.variance[0]))
    end = mean + PASSAGE * residence + 3 * width
    if times is None:
        return mean - width + np.array(MOMENTS) * (residence + 1.5 * width), end
    if isinstance(times, int) and times > 0:
        return np.linspace(max(float(inlet.start[0]), mean - 5 * width), end, times), end
    chosen = np.asarray([] if isinstance(times, int) else times, dtype=float)
    if chosen.ndim != 1 or chosen.size == 0 or not np.isfinite(chosen).all():
        raise StudyError(
            f"times: expected moments in s, or how many, found {shortened(times)}; "
            "give at least one"
        )
    return chosen, float(chosen.max())


def _one(stream: Stream, lane: int) -> Stream:
    """One lane of a stream."""
    picked = {one.name: getattr(stream, one.name)[lane : lane + 1] for one in fields(stream)}
    return replace(stream, **picked)


def _own_scenario() -> Scenario:
    source = resources.files("tailrace.studies") / "plume.toml"
    with resources.as_file(source) as path:
        return Scenario.load(path)
