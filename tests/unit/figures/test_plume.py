"""The plume as a figure and as frames."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg

from tailrace.figures.film import _Stage, film_size, frames, nearest_rate, palette, write_gif
from tailrace.figures.plume import COLOURS, across, along, draw, seconds, title_of
from tailrace.figures.sizes import SIZES
from tailrace.figures.style import Picture, sized
from tailrace.studies.plume import plume


@pytest.fixture(scope="module")
def shown():
    return plume(rings=8, sections=30)


def drawn(shown, size):
    with sized(SIZES[size]) as chosen:
        return Picture(draw(shown, chosen), title_of(shown), "")


def as_bent(shown):
    """The same as if it had been bent: what is drawn where, not what it holds."""
    values = shown.concentration
    plane = np.concatenate([values[:, ::-1], values], axis=1)
    return replace(shown, plane=plane, across=np.full((len(values), 5, 9, 9), values.max()))


@pytest.mark.parametrize("bent", [False, True])
@pytest.mark.parametrize("size", SIZES)
def test_nothing_overlaps_at_any_size(shown, size, bent):
    figure = drawn(as_bent(shown) if bent else shown, size).figure
    renderer = FigureCanvasAgg(figure).get_renderer()
    page, boxes = figure.bbox, []
    for panel in figure.axes:
        for text in (panel.xaxis.label, panel.yaxis.label, *_ticks(panel), *panel.texts):
            if text.get_visible() and text.get_text().strip():
                boxes.append((text.get_text(), text.get_window_extent(renderer)))
    assert len(boxes) > 20
    for text, box in boxes:
        assert page.x0 - 1 <= box.x0 and box.x1 <= page.x1 + 1, text
        assert page.y0 - 1 <= box.y0 and box.y1 <= page.y1 + 1, text
    crossed = [
        (one, other)
        for index, (one, box) in enumerate(boxes)
        for other, against in boxes[index + 1 :]
        if box.shrunk(0.9, 0.9).overlaps(against.shrunk(0.9, 0.9))
    ]
    assert crossed == []


def _ticks(panel):
    """Labels of ticks that are drawn."""
    for axis in (panel.xaxis, panel.yaxis):
        low, high = sorted(axis.get_view_interval())
        for tick in axis.get_major_ticks():
            if low <= tick.get_loc() <= high:
                yield from (one for one in (tick.label1, tick.label2) if one.get_visible())


def test_same_plume_same_bytes(shown):
    assert drawn(shown, "column").png() == drawn(shown, "column").png()


def test_colours_darken_evenly():
    # lightness by the weights of ITU-R BT.709 (from memory); a step back would show as a ring
    light = COLOURS(np.linspace(0, 1, 200))[:, :3] @ [0.2126, 0.7152, 0.0722]
    assert light[0] == pytest.approx(1.0)
    assert np.all(np.diff(light) < 1e-3)
    assert light[-1] < 0.2


def test_the_whole_section_is_shown(shown):
    whole = along(shown, 0)
    assert whole.shape == (16, 30)
    assert np.array_equal(whole, whole[::-1])
    assert 90 < whole.max() < 101


def test_sections_move_in_a_film(ended):
    bent = as_bent(ended)
    with sized(SIZES["page"]):
        stage = _Stage(bent, film_size("page"), 10.0, rest=4)
        stage.frame(1, 0)
        assert len(stage.sections) == 5
        assert np.array_equal(stage.sections[0].get_array(), across(bent, 1)[0])


def test_seconds_have_useful_digits():
    assert [seconds(1.23456, span) for span in (0.03, 0.8, 5.0, 300.0)] == [
        "1.2346",
        "1.235",
        "1.23",
        "1",
    ]


def test_a_moment_before_the_start_by_rounding_has_no_sign():
    assert seconds(-1e-9, 0.8) == "0.000"


@pytest.mark.parametrize(
    ("text", "points"),
    [
        ("slide", (1280, 720)),
        ("page", (840, 504)),
        ("640x480", (640, 480)),
        ("641X481", (640, 480)),
    ],
)
def test_sizes_are_even(text, points):
    size = film_size(text)
    assert (round(120 * size.width), round(120 * size.height)) == points


@pytest.mark.parametrize("text", ["", "large", "640", "x480", "640x", "-640x480", "640x480x2"])
def test_other_sizes_are_refused(text):
    with pytest.raises(ValueError, match="no size"):
        film_size(text)


@pytest.fixture(scope="module")
def ended(shown):
    return replace(shown, recorded=shown.outlet)


def test_frames_move_and_then_hold(ended):
    pictures = list(frames(ended, film_size("400x360"), 10.0, rest=3, hold=2))
    assert len(pictures) == 5 + 3 + 2
    assert {one.shape for one in pictures} == {(360, 400, 3)}
    changed = [np.any(one != other) for one, other in pairwise(pictures)]
    assert changed == [True] * 7 + [False] * 2


def test_a_tube_that_stands_still_while_the_peak_is_recorded_says_of_when_it_is(shown):
    late = replace(shown.outlet, start=shown.outlet.start + 1e3)
    with sized(SIZES["page"]):
        stage = _Stage(replace(shown, recorded=late), film_size("page"), 10.0, rest=4)
        stage.frame(len(shown.times) - 1, 2)
        assert stage.clock.get_text().endswith(f"tube at {shown.times[-1]:.2f} s")


def test_while_the_peak_is_recorded_the_tube_is_that_of_the_same_moment(ended):
    with sized(SIZES["page"]):
        stage = _Stage(ended, film_size("page"), 10.0, rest=40)
        stage.frame(len(ended.times) - 1, 1)
        now = stage.end.times[0] + np.ptp(stage.end.times) / 40
        assert ended.times[1] <= now < ended.times[2]
        assert "tube at" not in stage.clock.get_text()
        assert np.array_equal(stage.image.get_array(), along(ended, 1))


def test_without_a_recorded_peak_the_plume_is_all(shown):
    assert len(list(frames(shown, film_size("400x360"), 10.0, rest=3, hold=1))) == 6


def test_few_colours_and_white_is_white(ended, tmp_path):
    from PIL import Image

    colours = palette()
    assert len(colours) <= 256
    file = tmp_path / "one.gif"
    white = np.full((4, 4, 3), 255, np.uint8)
    write_gif(file, iter([white, white // 2]), 10.0, colours)
    with Image.open(file) as stored:
        assert stored.convert("RGB").getpixel((0, 0)) == (255, 255, 255)
        assert stored.n_frames == 2
        assert stored.info["duration"] == 100


@pytest.mark.parametrize(("asked", "given"), [(20, 20), (25, 25), (30, 100 / 3), (60, 50), (1, 1)])
def test_rates_that_a_gif_can_have(asked, given):
    assert nearest_rate(asked) == pytest.approx(given)
