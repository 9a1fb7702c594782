"""From a tube and what flows through it to stretches, one list a lane."""

from collections.abc import Callable
from dataclasses import fields, replace

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.parts.tube.bent.stretch import Stretch
from tailrace.parts.tube.part import Tube
from tailrace.quantities.arrays import BoolArray, FloatArray
from tailrace.signals.band import Band


def chains(tube: Tube, stream: Stream) -> list[list[Stretch]]:
    """Stretches of a tube, for each lane."""
    lanes = (stream.lanes,)
    fourier = np.broadcast_to(tube.fourier_number(stream), lanes)
    residence = np.broadcast_to(tube.residence(stream), lanes)
    schmidt = np.broadcast_to(stream.viscosity / (stream.density * stream.diffusivity), lanes)
    found: list[list[Stretch]] = [[] for _ in range(stream.lanes)]
    for share, radius, turned in tube.stretches:
        deans = np.broadcast_to(tube.dean_number(stream, radius), lanes)
        for lane, dean in enumerate(deans):
            found[lane].append(
                Stretch(
                    dean=float(dean),
                    strength=float(dean**2 * schmidt[lane]) if dean else 0.0,
                    length=float(share * fourier[lane]),
                    residence=float(share * residence[lane]),
                    turned=turned,
                )
            )
    return found


def each_its_way(
    tube: Tube,
    stream: Stream,
    band: Band,
    straight: Callable[[Tube, Stream, Band], Band],
    bent: Callable[[list[list[Stretch]], Band], Band],
) -> Band:
    """March straight lanes as straight tubes, and the others as bent ones."""
    stream = stream.over(band.lanes)
    is_bent = tube.bent_lanes(band.lanes)
    if np.all(is_bent):
        return bent(chains(tube, stream), band)
    ends = []
    for which in (is_bent, ~is_bent):
        some, flows = _picked(tube, stream, which)
        entering = Band(band.values[which], band.start[which], band.step[which])
        ends.append(
            bent(chains(some, flows), entering)
            if which is is_bent
            else straight(some, flows, entering)
        )
    count = max(one.values.shape[1] for one in ends)
    values, start, step = np.zeros((band.lanes, count)), band.start.copy(), band.step.copy()
    for which, one in zip((is_bent, ~is_bent), ends, strict=True):
        values[which, : one.values.shape[1]] = one.values
        start[which], step[which] = one.start, one.step
    return Band(values, start, step)


def _picked(tube: Tube, stream: Stream, which: BoolArray) -> tuple[Tube, Stream]:
    def some(value: object) -> FloatArray:
        return np.asarray(np.broadcast_to(np.asarray(value, float), which.shape)[which])

    flows = replace(stream, **{one.name: some(getattr(stream, one.name)) for one in fields(stream)})
    part = replace(
        tube,
        bore=some(tube.bore),
        length=some(tube.length),
        bend_radius=some(tube.bend_radius),
    )
    return part, flows
