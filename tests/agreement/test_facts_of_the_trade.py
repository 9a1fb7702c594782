"""What every laboratory knows of peak broadening, reproduced by the shipped scenarios.

All of it is common practice, no source: directions and rough sizes, not digits.
"""

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

import tailrace
from tailrace.journey.hydraulics import pressure
from tailrace.journey.propagation import pass_through
from tailrace.measures import measure
from tailrace.signals import Resolution

FOLDER = Path(__file__).parents[2] / "scenarios"
NARROW, WIDE = "inherited-core-shell", "inherited-wide"
TUBES = ("tube to heater", "tube to cell")
# what is lowered: new values by the name of the part
LOWERED = {
    "bore of the connecting tubes": {name: {"bore": 0.12e-3} for name in TUBES},
    "volume of the needle seat": {"needle seat": {"bore": 0.12e-3}},
    "heater in the path": {"column heater": None},
    "volume of the cell": {"flow cell": {"volume": 2.5e-9}},
    "response of the detector": {"detector": {"time_constant": 0.02, "interval": 0.01}},
}
EVERYTHING = {name: new for change in LOWERED.values() for name, new in change.items()}


@cache
def loaded(scenario):
    return tailrace.load(FOLDER / f"{scenario}.toml").itinerary()


def changed(scenario, change):
    """Passages of a scenario with new values on some parts; None takes a part out."""
    itinerary = loaded(scenario)
    lanes = len(itinerary.lanes)
    kept = [pair for pair in itinerary.passages if change.get(pair[0].name, {}) is not None]
    return [
        (replace(part, **change.get(part.name, {})), passing.over(lanes)) for part, passing in kept
    ]


@cache
def figures_of(scenario, frozen):
    change = {name: None if new is None else dict(new) for name, new in frozen}
    return measure(pass_through(changed(scenario, change), Resolution())[0][-1])


def figures(scenario, change):
    frozen = tuple(
        (name, None if new is None else tuple(new.items())) for name, new in change.items()
    )
    return figures_of(scenario, frozen)


def plates(scenario, change):
    """Plates by half height, (solutes,) array."""
    return figures(scenario, change)["plates_half_height"]


def column_alone(scenario):
    columns = [pair for pair in changed(scenario, {}) if pair[0].kind == "column"]
    return measure(pass_through(columns, Resolution())[0][-1])["plates_half_height"]


def test_a_faster_detector_alone_gives_a_narrow_peak_many_plates_and_a_wide_one_none():
    faster = LOWERED["response of the detector"]
    narrow, wide = (plates(name, faster) / plates(name, {}) for name in (NARROW, WIDE))
    assert np.all(narrow > 1.03)
    assert narrow[0] > 1.2  # the narrowest peak gains most
    assert np.all(np.diff(narrow) < 0)
    assert np.all(np.abs(wide - 1) < 0.02)


@pytest.mark.parametrize("what", LOWERED)
def test_each_change_alone_gives_the_narrow_peak_more_plates(what):
    assert np.all(plates(NARROW, LOWERED[what]) > plates(NARROW, {}))


def test_all_changes_together_bring_most_of_the_loss_back():
    alone, before, after = column_alone(NARROW), plates(NARROW, {}), plates(NARROW, EVERYTHING)
    back = (after - before) / (alone - before)
    assert np.all(back > 0.5)
    assert np.all(after < alone)


def test_a_conventional_column_hides_the_unmodified_system():
    before, after = plates(WIDE, {}), plates(WIDE, EVERYTHING)
    assert np.all(np.abs(after / before - 1) < 0.05)


def test_the_same_changes_mean_far_more_to_the_narrow_column():
    gains = [plates(name, EVERYTHING) / plates(name, {}) - 1 for name in (NARROW, WIDE)]
    assert np.all(gains[0] > 10 * gains[1])


def test_a_large_peak_passes_a_cell_unchanged_and_one_of_its_size_does_not():
    # the retained peak of the wide column is some hundreds of microlitres wide, the cell 13
    none = {"flow cell": None}
    kept = plates(WIDE, {}) / plates(WIDE, none)
    assert np.all(kept > 0.98)
    # a cell of the peak's own volume at half height
    flow = loaded(NARROW).passages[0][1].flow_rate
    peak = figures(NARROW, none)["width_half"][0] * flow
    wide = figures(NARROW, {"flow cell": {"volume": float(peak)}})
    assert wide["width_half"][0] * flow > 1.3 * peak


def test_plates_and_symmetry_fall_with_the_gap_of_a_cut_that_is_not_square():
    # below half a millimetre it is too small to tell: symmetry then changes by less than 2e-4
    gaps = [5e-4, 2e-3, 5e-3]
    rows = [
        figures(NARROW, EVERYTHING | {"column inlet connection": {"gap_length": gap}})
        for gap in gaps
    ]
    falling = np.array([row["plates_half_height"] for row in rows])
    tailing = np.array([row["tailing_5"] for row in rows])
    assert np.all(np.diff(falling, axis=0) < 0)
    assert np.all(np.diff(tailing, axis=0) > 0)


@pytest.mark.parametrize("length", [3e-4, 1.5e-3, 3e-3])
def test_plates_fall_with_the_share_of_a_gap_that_is_not_swept(length):
    # the widest gap of the trade; on the conventional instrument the detector's tail is longer
    rows = {}
    for modified, before in enumerate(({}, EVERYTHING)):
        gaps = (
            {"gap_bore": 1.6e-3, "gap_length": length, "unswept": share}
            for share in (0.0, 0.2, 0.5, 0.7, 0.9)
        )
        rows[modified] = [
            figures(NARROW, before | {"column inlet connection": gap}) for gap in gaps
        ]
        assert np.all(np.diff([row["plates_half_height"] for row in rows[modified]], axis=0) < 0)
    assert np.all(np.diff([row["tailing_5"] for row in rows[1]], axis=0) > 0)


def test_narrower_tubes_cost_pressure():
    # pressure goes with the fourth power of the bore
    before, after = (
        pressure(changed(NARROW, change))
        for change in ({}, LOWERED["bore of the connecting tubes"])
    )
    assert after.total > before.total
    for name in TUBES:
        assert after.parts[name] / before.parts[name] == pytest.approx((0.17 / 0.12) ** 4, rel=1e-9)
    assert after.cell_inlet == pytest.approx(before.cell_inlet)
