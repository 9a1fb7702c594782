"""Staircase, frontiers and peaks: what they draw, and that it can be read."""

from dataclasses import replace
from itertools import combinations as pairs
from xml.etree import ElementTree

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from reference.improvements import NAMES, combinations, improvement

from tailrace.figures.improvement import (
    demands_that_tell,
    draw_before_after,
    draw_frontiers,
    draw_staircase,
    frontier_finding,
    staircase_finding,
)
from tailrace.figures.style import styled

LONG = "a name as long as the file allows it to be, that is to say eighty characters, no"
DRAWN = [draw_staircase, draw_frontiers]


def made(kind):
    """Answers of several kinds."""
    whole = improvement()
    rows = combinations()
    nowhere = np.full(len(rows.value), np.nan)
    satisfied = np.arange(len(rows.value)) <= 5
    return {
        "whole": whole,
        "long names": improvement(names=(LONG, LONG[1:], LONG[2:], LONG[3:])),
        "stopped": replace(whole, stop_after=1),
        "not worth it": replace(whole, stop_after=0, outcome="small"),
        "no ceiling": replace(whole, combinations=replace(rows, ceiling=nowhere)),
        "no price": replace(whole, combinations=replace(rows, pressure=nowhere)),
        "broken": replace(whole, combinations=replace(rows, satisfied=satisfied)),
        "uncertain": replace(
            whole,
            steps=(
                whole.steps[0],
                *(
                    replace(one, gain_low=0.5 * one.gain, gain_high=1.9 * one.gain)
                    for one in whole.steps[1:]
                ),
            ),
        ),
        "no step": replace(whole, steps=whole.steps[:1], best=0, stop_after=0),
    }[kind]


KINDS = (
    "whole",
    "long names",
    "stopped",
    "not worth it",
    "no ceiling",
    "no price",
    "broken",
    "uncertain",
    "no step",
)


@pytest.mark.parametrize("draw", DRAWN)
@pytest.mark.parametrize("kind", KINDS)
def test_nothing_overlaps_and_nothing_is_cut(draw, kind):
    picture = draw(made(kind))
    with styled():
        figure = picture.figure
        renderer = FigureCanvasAgg(figure).get_renderer()
        figure.draw(renderer)
        boxes = [panel.get_tightbbox(renderer) for panel in figure.axes]
        boxes += [legend.get_window_extent(renderer) for legend in figure.legends]
        boxes.append(figure._suptitle.get_window_extent(renderer))
        for box in boxes:
            # Half a dot of slack: extents are of outlines, and lines have a width.
            assert box.x0 >= figure.bbox.x0 - 0.5
            assert box.x1 <= figure.bbox.x1 + 0.5
            assert box.y0 >= figure.bbox.y0 - 0.5
            assert box.y1 <= figure.bbox.y1 + 0.5
        for one, other in pairs(boxes, 2):
            assert not one.padded(-0.5).overlaps(other.padded(-0.5))
        for panel in figure.axes:
            labels = [text.get_window_extent(renderer) for text in panel.texts]
            for one, other in pairs(labels, 2):
                assert not one.padded(-0.5).overlaps(other.padded(-0.5))


@pytest.mark.parametrize("draw", DRAWN)
def test_the_same_answer_gives_the_same_bytes(draw):
    one, other = draw(improvement()), draw(improvement())
    assert one.svg() == other.svg()
    assert one.png() == other.png()


def test_the_staircase_rises_from_the_start_to_the_last_step():
    panel = draw_staircase(improvement()).figure.axes[0]
    bars = [bar for bar in panel.patches if bar.get_height() > 0]
    ends = sorted({round(bar.get_x() + bar.get_width()) for bar in bars})
    # 2 000 000 over 200, 140, 110, 100; see reference/improvements.py.
    assert ends == [10000, 14286, 18182, 20000]
    ceiling = [line for line in panel.lines if line.get_label() == "the column alone"]
    assert ceiling[0].get_xdata()[0] == 20_000
    assert panel.get_xlim()[0] == 0


def test_steps_behind_the_stop_are_hatched():
    panel = draw_staircase(improvement(stop_after=1)).figure.axes[0]
    hatched = [bar for bar in panel.patches if bar.get_hatch() and bar.get_height() > 0]
    assert len(hatched) == 2


def test_the_findings():
    assert staircase_finding(improvement()) == (
        "3 steps take plates of cohumulone from 10000 to 20000; the column alone would give 20000"
    )
    assert staircase_finding(improvement(stop_after=1)).startswith(
        "The first of 3 steps takes plates of cohumulone"
    )
    assert staircase_finding(made("not worth it")).startswith("Not worth it: plates of cohumulone")
    assert staircase_finding(improvement(stop_after=0)).startswith("No step brings 2 %: plates of")
    assert frontier_finding(improvement()) == (
        "Half of the gain costs 960 of 960 and takes 55 of 55 min of work"
    )
    assert frontier_finding(made("no step")).startswith("Nothing within the constraints")


def test_a_frontier_goes_through_its_points():
    panel = draw_frontiers(improvement()).figure.axes[0]
    line = panel.lines[0]
    assert line.get_xdata().tolist() == [0, 0, 60, 960]
    assert line.get_ydata() == pytest.approx([0, 526.3, 2500, 10000], abs=0.1)


def test_what_is_the_same_of_all_combinations_is_neither_drawn_nor_told():
    whole, rows = improvement(), combinations()
    nothing = np.zeros(len(rows.value))
    alike = replace(rows, cost=nothing, effort=nothing, pressure=nothing + 3e7)
    assert "cost" in demands_that_tell(whole)
    same = replace(whole, combinations=replace(alike, signal_to_noise=nothing + 1))
    assert demands_that_tell(same) == []
    assert "of 0" not in frontier_finding(same)


def test_panels_share_the_axis_of_the_gain():
    first, *others = draw_frontiers(improvement()).figure.axes
    assert all(panel.get_ylim() == first.get_ylim() for panel in others)


def test_a_combination_that_breaks_a_constraint_is_marked_by_its_shape():
    panel = draw_frontiers(made("broken")).figure.axes[0]
    labels = [one.get_label() for one in panel.collections]
    assert "breaks a constraint" in labels
    whole = draw_frontiers(improvement()).figure.axes[0]
    assert "breaks a constraint" not in [one.get_label() for one in whole.collections]


def test_the_peaks_of_each_state_are_drawn(make_result):
    before, after = make_result(lanes=("a", "b")), make_result(lanes=("a", "b"))
    picture = draw_before_after({"as it is": before, "after step 2, the last": after})
    renderer = FigureCanvasAgg(picture.figure).get_renderer()
    text = picture.figure._supxlabel
    label = text.get_window_extent(renderer)
    lines = picture.figure.get_supxlabel().rstrip().count("\n") + 1
    text_end = label.y1 - lines * 1.3 * text.get_fontsize() / 72 * picture.figure.dpi
    assert picture.figure.legends[0].get_window_extent(renderer).y1 <= text_end
    panel = picture.figure.axes[0]
    assert [line.get_label() for line in panel.lines] == ["as it is", "after step 2, the last"]
    assert len({line.get_linestyle() for line in panel.lines}) == 2
    assert len(picture.figure.axes) == 2
    assert "as it is" in picture.description


def test_a_single_state_is_drawn_and_said(make_result):
    picture = draw_before_after({"as it is": make_result()})
    assert picture.description.startswith("No change is worth making")


@pytest.mark.parametrize("draw", DRAWN)
def test_words_for_those_who_cannot_see_it(draw):
    picture = draw(improvement(names=("a <b> & c", *NAMES[1:])))
    root = ElementTree.fromstring(picture.svg())
    assert root.get("role") == "img"
    assert root[1].text == picture.description
    if draw is draw_staircase:
        assert "a <b> & c" in picture.description
        assert "14290" in picture.description
