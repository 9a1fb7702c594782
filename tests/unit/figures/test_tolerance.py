"""Pictures of a tolerance study: drawn from its record, told in words, nothing over anything."""

from dataclasses import replace

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from reference.studies import made_up

import tailrace
from tailrace.figures.style import MOST_PANELS as MOST
from tailrace.figures.tolerance import (
    ANSWERS,
    draw_distributions,
    draw_importance,
    draw_regions,
    draw_widths,
)


def draw_one_width(study):
    return draw_widths(replace(study, widenings=study.widenings[:1]))


DRAWN = [draw_distributions, draw_importance, draw_widths, draw_one_width, draw_regions]


@pytest.fixture(scope="module")
def study():
    return made_up(tailrace.load("scenarios/improved-core-shell.toml"))


@pytest.mark.parametrize("draw", DRAWN)
def test_the_same_study_gives_the_same_bytes_and_says_what_is_to_be_seen(study, draw):
    picture = draw(study)
    svg = picture.svg()
    assert svg == draw(study).svg()
    assert b"<desc>" in svg
    assert len(picture.description) > 60
    assert picture.png()[:4] == b"\x89PNG"


@pytest.mark.parametrize("draw", DRAWN)
def test_titles_labels_and_keys_do_not_lie_on_each_other(study, draw):
    """Keys, titles and labels of axes, as boxes in pixels."""
    figure = draw(study).figure
    figure.draw_without_rendering()
    renderer = FigureCanvasAgg(figure).get_renderer()
    outer = [text for legend in figure.legends for text in legend.get_texts()]
    outer += [one for one in (figure._supxlabel, figure._supylabel) if one is not None]
    outer += [one for panel in figure.axes for one in (panel.title, panel._left_title)]
    outer += [label for panel in figure.axes for label in (panel.xaxis.label, panel.yaxis.label)]
    boxes = {one: one.get_window_extent(renderer) for one in dict.fromkeys(outer) if one.get_text()}
    for one, box in boxes.items():
        for other, beside in boxes.items():
            if one is not other:
                apart = box.x1 <= beside.x0 + 1 or beside.x1 <= box.x0 + 1
                apart = apart or box.y1 <= beside.y0 + 1 or beside.y1 <= box.y0 + 1
                assert apart, (one.get_text(), other.get_text())
        assert box.x0 >= -1
        assert box.x1 <= figure.bbox.x1 + 1, one.get_text()


def test_limits_and_units_are_drawn(study):
    figure = draw_distributions(study).figure
    labels = [panel.get_xlabel() for panel in figure.axes]
    assert labels == ["plates", "s", "bar"]
    plates, width, pressure = figure.axes
    assert 11000 in {line.get_xdata()[0] for line in plates.lines}
    assert 3.3 in {line.get_xdata()[0] for line in width.lines}
    assert not [patch for patch in pressure.patches if patch.get_hatch() == "////"]


def test_what_does_not_vary_is_said_so(study):
    still = replace(study.outcomes[0], values=np.full(400, 12000.0))
    figure = draw_distributions(replace(study, outcomes=(still,))).figure
    assert "does not vary: 12000" in [text.get_text() for text in figure.axes[0].texts]


def test_bars_are_as_long_as_the_indices(study):
    figure = draw_importance(study).figure
    bars = [one for one in figure.axes[0].containers if one.__class__.__name__ == "BarContainer"]
    first, total = bars
    np.testing.assert_allclose([bar.get_width() for bar in first], study.indices.first[0])
    np.testing.assert_allclose([bar.get_width() for bar in total], study.indices.total[0])


def test_every_place_of_a_map_has_the_colour_of_its_answer(study):
    from matplotlib.colors import to_hex

    one = study.maps[0]
    cells = draw_regions(study).figure.axes[0].patches[: one.allowed.size]
    colours = [to_hex(cell.get_facecolor()) for cell in cells]
    assert colours == [ANSWERS[int(word)][1] for word in one.allowed.ravel()]


def test_more_figures_than_can_be_read_are_cut_and_told(study):
    many = tuple(replace(study.outcomes[0], name=f"plates of {k}") for k in range(MOST + 3))
    picture = draw_distributions(replace(study, outcomes=many))
    assert len(picture.figure.axes) == MOST
    assert f"The first {MOST} of {MOST + 3}" in picture.figure.get_supxlabel()
