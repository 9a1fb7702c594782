"""The instrument that a figure shows, with one solute, and what may be changed on it."""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from importlib import resources
from typing import Any

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.journey.itinerary import Itinerary
from tailrace.parts.base import ALIKE
from tailrace.quantities.arrays import FloatArray
from tailrace.scenario.problems import unknown
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.target import StudyError
from tailrace.signals.resolution import Resolution
from tailrace.studies.batch import PRODUCT
from tailrace.wording import word

ARTICLES = {"column": "a column", "cell": "a flow cell", "tube": "a tube"}


@dataclass(frozen=True, kw_only=True)
class Asked:
    """Of what a figure is asked for.

    Parameters
    ----------
    scenario : Scenario, optional
        Left out: the gallery's own.
    solute, tube : str, optional
        Names on it; left out: the least retained solute, the first tube.
    values : (values,) array, SI, optional
        Of what the figure varies.
    engine : str
        As of ``Runner``, where many paths are computed.
    """

    scenario: Scenario | None = None
    solute: str | None = None
    tube: str | None = None
    values: FloatArray | None = None
    engine: str = PRODUCT

    def called(self, name: str) -> str:
        """The name of a part or solute; one of the gallery's own in the language that holds."""
        return word(name) if self.scenario is None else name


@dataclass(frozen=True, kw_only=True)
class Instrument:
    """One solute on its way through an instrument.

    Parameters
    ----------
    passages : tuple of (part, Stream)
        As of ``Itinerary``, one lane.
    pressure_limit : float, Pa
    """

    solute: str
    passages: tuple[tuple[Any, Stream], ...]
    pressure_limit: float
    resolution: Resolution

    def itinerary(self) -> Itinerary:
        """Return the journey."""
        return Itinerary(
            lanes=(self.solute,),
            passages=self.passages,
            pressure_limit=self.pressure_limit,
            resolution=self.resolution,
        )

    @property
    def stream(self) -> Stream:
        """What is injected. Stream of one lane."""
        return self.passages[0][1]

    def place(self, capability: str) -> int:
        """Place on the path of the first part with a capability (str, such as "separates")."""
        return next(at for at, (part, _) in enumerate(self.passages) if getattr(part, capability))

    def part(self, capability: str) -> Any:
        """The first part with a capability (str)."""
        return self.passages[self.place(capability)][0]

    def with_part(self, which: int | str, **numbers: Any) -> "Instrument":
        """The same instrument with other numbers (SI) on a part: a place (int), or the first with
        a capability (str)."""
        at, passages = which if isinstance(which, int) else self.place(which), list(self.passages)
        part, stream = passages[at]
        passages[at] = replace(part, **numbers), stream
        return replace(self, passages=tuple(passages))

    def with_stream(self, **numbers: float) -> "Instrument":
        """The same instrument with other numbers (SI) of the stream, all the way."""
        changed = {name: np.atleast_1d(float(value)) for name, value in numbers.items()}
        passages = tuple((part, replace(stream, **changed)) for part, stream in self.passages)
        return replace(self, passages=passages)

    def with_last(self, part: Any) -> "Instrument":
        """The same instrument with one more part behind all others."""
        return replace(self, passages=(*self.passages, (part, self.stream)))

    def with_passages(self, chosen: Sequence[int]) -> "Instrument":
        """The same instrument with only the passages at these places (sequence of int)."""
        return replace(self, passages=tuple(self.passages[at] for at in chosen))


def rounded(value: float) -> float:
    """A number (float, any unit) to two digits, as a series of dimensions would be chosen."""
    return float(f"{value:.2g}")


def instrument_of(
    asked: Asked, figure: str = "", needs: Sequence[str] = (), counted: bool = True
) -> Instrument:
    """The instrument of a scenario with one solute.

    Raises StudyError for a scenario without a part that is needed or the solute, or with a gradient
    where plates are counted.

    Parameters
    ----------
    figure : str
        Who asks, for messages.
    needs : sequence of str
        Kinds of parts that must be on the path.
    counted : bool
        Whether plates of the column are counted, which say nothing with a gradient.
    """
    scenario = _own_scenario() if asked.scenario is None else asked.scenario
    if counted and scenario.document.gradient is not None:
        raise StudyError(
            f"{scenario.path}: expected a method without [gradient] for the figure {figure}, "
            "where plates are counted, found one; name another scenario or another figure"
        )
    itinerary = scenario.itinerary()
    kinds = [part.kind for part, _ in itinerary.passages]
    for kind in needs:
        if kind not in kinds:
            raise StudyError(
                f"{scenario.path}: expected {ARTICLES[kind]} on the path for the figure {figure}, "
                "found none; name another scenario or another figure"
            )
    lane = int(np.argmin([one.retention_factor or 0.0 for one in scenario.document.solutes]))
    if asked.solute is not None:
        if asked.solute not in itinerary.lanes:
            raise StudyError(f"{scenario.path}: {unknown('solute', asked.solute, itinerary.lanes)}")
        lane = itinerary.lanes.index(asked.solute)
    lanes = len(itinerary.lanes)
    own = [_named(part, asked) for part, _ in itinerary.passages]
    streams = [stream.over(lanes) for _, stream in itinerary.passages]
    return Instrument(
        solute=asked.called(itinerary.lanes[lane]),
        passages=tuple(
            (_one(part, lane, lanes), _one(stream, lane, lanes))
            for part, stream in zip(own, streams, strict=True)
        ),
        pressure_limit=itinerary.pressure_limit,
        resolution=itinerary.resolution,
    )


def _named(part: Any, asked: Asked) -> Any:
    return replace(part, name=asked.called(part.name))


def _own_scenario() -> Scenario:
    source = resources.files("tailrace.studies.gallery") / "instrument.toml"
    with resources.as_file(source) as path:
        return Scenario.load(path)


def _one(record: Any, lane: int, lanes: int) -> Any:
    """One lane of a part or a stream: of every number that there is one a lane."""
    numbers = {field.name: getattr(record, field.name) for field in fields(record)}
    mine = {
        name: values[lane : lane + 1]
        for name, values in numbers.items()
        if np.shape(values) == (lanes,) and name not in ALIKE
    }
    return replace(record, **mine)
