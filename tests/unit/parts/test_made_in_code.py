"""Objects made in code are checked where they are made: one sentence that names the field."""

import numpy as np
import pytest

from tailrace.eluent.stream import Stream
from tailrace.errors import PartError
from tailrace.parts.cell.part import Cell
from tailrace.parts.chamber.part import Chamber
from tailrace.parts.column.part import Column
from tailrace.parts.detector.part import Detector
from tailrace.parts.fitting.part import Fitting
from tailrace.parts.injector.part import Injector
from tailrace.parts.tube.part import Tube

BED = {"name": "bed", "bore": 2.1e-3, "length": 0.1, "particle_diameter": 2.7e-6}
SIGNAL = {"shape": "signal", "signal_heights": np.array([0.0, 1.0, 0.0])}

REFUSED = {
    "a negative length": (lambda: Tube(name="t", bore=1e-4, length=-0.1), "t: length: .*below"),
    "no length": (lambda: Tube(name="t", bore=1e-4, length=np.nan), "t: length: .*NaN"),
    "millimetres as metres": (lambda: Tube(name="t", bore=0.12, length=0.1), "which is 120 mm"),
    "a text": (lambda: Tube(name="t", bore="0.12 mm", length=0.1), "t: bore: .*a str"),
    "a list": (lambda: Tube(name="t", bore=[1e-4, 2e-4], length=0.1), "t: bore: .*a list"),
    "microlitres as cubic metres": (lambda: Chamber(name="c", volume=2.0), "c: volume: .*1e-9"),
    "a kind of particle": (lambda: Column(**BED, particle="porous"), "core-shell or fully porous"),
    "no bore": (lambda: Tube(name="t", bore=0.0, length=0.1), "t: bore: .*more than none"),
    "a bend that turns inward": (
        lambda: Tube(name="t", bore=1e-4, length=0.1, bend_radius=-0.1),
        "t: bend_radius: .*below zero",
    ),
    "a stretch of no length": (
        lambda: Tube(name="t", bore=1e-4, length=0.1, bends=((0.0, 0.01, False),)),
        "t: bends: expected a length",
    ),
    "stretches of text": (
        lambda: Tube(name="t", bore=1e-4, length=0.1, bends=("60 mm",)),
        "t: bends: expected stretches",
    ),
    "an inlet": (lambda: Tube(name="t", bore=1e-4, length=0.1, inlet="odd"), "mixed or carried"),
    "no tank": (lambda: Cell(name="c", volume=1e-9, tanks=0), "c: tanks: .*below one"),
    "tanks that are not known": (
        lambda: Chamber(name="c", volume=1e-9, tanks=np.nan),
        "c: tanks: .*NaN",
    ),
    "points all at once": (lambda: Detector(interval=0.0), "detector: interval: .*more than none"),
    "a filter of less than none": (lambda: Detector(time_constant=-1.0), "time_constant: .*below"),
    "a ring larger than its gap": (
        lambda: Fitting(name="f", gap_bore=1e-3, gap_length=1e-3, unswept=2.0),
        "f: unswept: .*1 or less",
    ),
    "plates below zero": (lambda: Column(**BED, plates=-5), "bed: plates: .*below zero"),
    "no flow": (lambda: Stream(flow_rate=0.0, diffusivity=1e-9), "stream: flow_rate: .*more than"),
    "a flow back": (lambda: Stream(flow_rate=-1e-8, diffusivity=1e-9), "flow_rate: .*below zero"),
    "millilitres a minute": (lambda: Stream(flow_rate=0.5, diffusivity=1e-9), "flow_rate: .*1e-6"),
    "no diffusion": (lambda: Stream(flow_rate=1e-8, diffusivity=0.0), "diffusivity: .*more than"),
    "a shape": (lambda: Injector(shape="square"), "plug or washout"),
    "a plug of nothing": (lambda: Injector(shape="plug"), "injection: volume: .*NaN"),
    "times that fall": (
        lambda: Injector(**SIGNAL, signal_times=np.array([0.0, 2.0, 1.0])),
        "signal_times: expected increasing",
    ),
    "too few times": (
        lambda: Injector(**SIGNAL, signal_times=np.array([0.0, 2.0])),
        "signal_times: .*one for each",
    ),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_no_part_has_is_refused_where_it_is_made(name):
    result, sentence = REFUSED[name]
    with pytest.raises(PartError, match=sentence) as refused:
        result()
    assert "\n" not in str(refused.value)


def test_lists_make_a_signal():
    result = Injector(shape="signal", signal_times=[0, 1, 2, 3], signal_heights=[0, 1, 1, 0])
    assert result.signal_times.dtype == float
