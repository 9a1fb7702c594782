"""Parts behind the cell in which the signal is recorded: only their pressure counts."""

from collections.abc import Mapping, Sequence

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.parts.base import Part, Passage, Passages
from tailrace.quantities.arrays import FloatArray, Number
from tailrace.signals.band import Band


class Behind(Part):
    """What a part loses once it stands behind the recording; the rest is that of its kind.

    It keeps volume, residence time and pressure drop, and a cell its limit of pressure.
    """

    behind = True
    separates = False
    in_gradient = False
    focuses = False
    smooths = False
    laminar = False
    shows_inside = False

    def fourier_number(self, stream: Stream) -> FloatArray:
        """NaN: nothing that is recorded travels in it. (lanes,) array, 1."""
        return np.full(stream.lanes, np.nan)

    def shortest_time(self, stream: Stream) -> Number:
        """None that matters. Scalar, s."""
        return 0.0

    def met_at(self, time: FloatArray, stream: Stream) -> "Behind":
        """The same at any time, (lanes,) array, s."""
        return self

    def variance_passed(self, stream: Stream, variance: Number = 0.0) -> Number:
        """All of it. 1."""
        return 1.0

    def left_out(self, stream: Stream, diffusivity: Mapping[str, float]) -> dict[str, FloatArray]:
        """Nothing: it adds nothing."""
        return {}

    def cautions(self, stream: Stream) -> list[str]:
        """None: its numbers are not used."""
        return []

    def cautions_behind(self, band: Band) -> list[str]:
        """None: it is not the part that makes the band."""
        return []


_KINDS: dict[type[Part], type[Part]] = {}


def _of(kind: type[Part]) -> type[Part]:
    if kind not in _KINDS:
        _KINDS[kind] = _made(kind)
    return _KINDS[kind]


def _made(kind: type[Part]) -> type[Part]:
    return type(f"{kind.__name__}Behind", (Behind, kind), {"__reduce__": _reduced})


def _reduced(part: Part) -> tuple[object, ...]:
    """For copies in another process, which does not know the class."""
    return _remade, (type(part).__mro__[2], dict(vars(part)))


def _remade(kind: type[Part], fields: dict[str, object]) -> Part:
    return _of(kind)(**fields)


def behind(part: Part) -> Part:
    """The part as it is behind the recording."""
    return part if part.behind else _of(type(part))(**vars(part))


def recording_cell(parts: Sequence[Part], name: str | None = None) -> int | None:
    """Which part the signal is recorded in; None: at the end of the path.

    ``name``: of a cell; by default, or where there is none of that name, the last cell.
    """
    cells = [at for at, part in enumerate(parts) if part.observes]
    named = [at for at in cells if parts[at].name == name]
    found = named or cells[-1:]
    return found[0] if found else None


def up_to_cell(passages: Passages, name: str | None = None) -> tuple[Passage, ...]:
    """The passages, with what lies behind the recording cell as ``Behind``.

    ``name``: as for ``recording_cell``. A detector is never behind it: it takes what the cell sees.
    """
    last = recording_cell([part for part, _ in passages], name)
    return tuple(
        (behind(part), stream)
        if last is not None and at > last and part.carries_flow
        else (part, stream)
        for at, (part, stream) in enumerate(passages)
    )
