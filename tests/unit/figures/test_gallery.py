"""The figures of the gallery at every size: nothing overlaps, letters fit, same bytes."""

import io
import warnings
from functools import cache
from itertools import combinations

import matplotlib
import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from PIL import Image
from reference.exhibits import NAMES, exhibit_of

from tailrace.figures.families import colours
from tailrace.figures.gallery import draw
from tailrace.figures.sizes import SIZES, size_of
from tailrace.figures.style import sized, styled
from tailrace.wording import speaking


@cache
def picture_of(name, size="page"):
    return draw(exhibit_of(name), size)


@pytest.fixture(params=[(name, size) for name in NAMES for size in SIZES], ids="-".join)
def drawn(request):
    return *request.param, picture_of(*request.param)


def shown_texts(figure):
    for text in figure.findobj(matplotlib.text.Text):
        if text.get_text().strip() and text.get_visible():
            yield text


def clear(one, other):
    # Half a dot of slack: extents are of outlines, and lines have a width.
    return not one.padded(-0.5).overlaps(other.padded(-0.5))


def test_nothing_overlaps_or_leaves_the_page(drawn):
    _, _, picture = drawn
    figure = picture.figure
    with styled():
        # Everything has its place already: a Picture is laid out when it is made.
        renderer = FigureCanvasAgg(figure).get_renderer()
        panels = [panel.get_tightbbox(renderer) for panel in figure.axes if panel.axison]
        legends = [legend.get_window_extent(renderer) for legend in figure.legends]
        titles = [one.get_window_extent(renderer) for one in figure.texts if one.get_text()]
    page = figure.bbox.padded(0.5)
    for box in (*panels, *legends, *titles):
        assert page.x0 <= box.x0 and box.x1 <= page.x1
        assert page.y0 <= box.y0 and box.y1 <= page.y1
    for one, other in combinations((*panels, *legends, *titles), 2):
        assert clear(one, other)


@pytest.mark.parametrize("name", NAMES)
def test_longer_words_of_another_language_stay_on_a_narrow_page(name):
    with speaking("de"):
        figure = draw(exhibit_of(name), "column").figure
    with styled():
        renderer = FigureCanvasAgg(figure).get_renderer()
        words = [*figure.texts, *(text for panel in figure.axes for text in panel.texts)]
        words += [axis.label for panel in figure.axes for axis in (panel.xaxis, panel.yaxis)]
        boxes = [one.get_window_extent(renderer) for one in words if one.get_text()]
    page = figure.bbox.padded(0.5)
    assert all(page.x0 <= box.x0 and box.x1 <= page.x1 for box in boxes)


def test_tick_labels_stand_apart(drawn):
    _, _, picture = drawn
    with styled():
        renderer = FigureCanvasAgg(picture.figure).get_renderer()
        for panel in picture.figure.axes:
            for axis in (panel.xaxis, panel.yaxis):
                low, high = sorted(axis.get_view_interval())
                labels = [
                    tick.label1.get_window_extent(renderer)
                    for tick in (*axis.get_major_ticks(), *axis.get_minor_ticks())
                    if tick.label1.get_visible()
                    and tick.label1.get_text()
                    and low <= tick.get_loc() <= high
                ]
                for one, other in combinations(labels, 2):
                    assert clear(one, other)


def test_a_legend_inside_a_panel_covers_no_data(drawn):
    _, _, picture = drawn
    with styled():
        renderer = FigureCanvasAgg(picture.figure).get_renderer()
        for panel in picture.figure.axes:
            legend = panel.get_legend()
            if legend is None or not panel.axison:
                continue
            box = legend.get_window_extent(renderer)
            for line in panel.get_lines():
                marks = panel.transData.transform(line.get_xydata())
                inside = np.all((marks > box.p0) & (marks < box.p1), axis=1)
                assert not inside.any(), line.get_label()


def test_letters_can_be_read_at_every_size(drawn):
    # 7 pt is a common lower bound in print, 12 pt on a slide of 10 in (common practice, no source).
    _, size, picture = drawn
    least = 12.0 if size == "slide" else 7.0
    assert min(text.get_fontsize() for text in shown_texts(picture.figure)) >= least


def test_axes_name_their_units(drawn):
    _, _, picture = drawn
    words = " ".join(text.get_text() for text in shown_texts(picture.figure))
    assert any(
        unit in words
        for unit in (", s", "µm", "mL/min", "Plates left", "residence time", "X = πDL/F")
    )


def test_the_size_is_the_one_asked_for(drawn):
    _, size, picture = drawn
    width, height = picture.figure.get_size_inches()
    assert width == SIZES[size].width
    if size == "slide":
        assert height == SIZES[size].height


def test_a_slide_is_16_to_9_to_the_picture_element():
    """Projectors and their programs have 16 to 9: any other picture leaves a margin."""
    slide = Image.open(io.BytesIO(picture_of("noise", "slide").png()))
    assert slide.size == (1600, 900)


@pytest.mark.parametrize("text", ["84mm", "84mm x 60mm", "3.3in", "8.4cm x 6cm"])
def test_a_size_by_its_width(text):
    size = size_of(text, 8.0)
    assert size.width == pytest.approx(84 / 25.4, rel=3e-3)
    assert size.font == 8.0
    assert 1.5 < size.height < size.width


@pytest.mark.parametrize("text", ["84", "84mmx", "84mm x 60mm x 2mm", "1e9mm", "", "xmm", "1m"])
def test_other_widths_are_refused(text):
    with pytest.raises(ValueError, match="a width such as"):
        size_of(text)


@pytest.mark.parametrize("name", ["plume", "joint", "staircase"])
def test_the_same_exhibit_gives_the_same_bytes(name):
    one, other = (draw(exhibit_of(name), "column") for _ in range(2))
    first = one.svg(), one.pdf(), one.png()
    assert first == (other.png(), other.pdf(), other.svg())[::-1]


def test_no_file_knows_when_it_was_written():
    picture = picture_of("staircase")
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        files = picture.svg(), picture.pdf(), picture.png()
    # Keys of the metadata: Dublin Core in SVG, ISO 32000-1 14.3.3 in PDF, W3C's tIME in PNG.
    assert b"<dc:date>" not in files[0]
    assert b"CreationDate" not in files[1] and b"ModDate" not in files[1]
    assert b"tIME" not in files[2]
    assert b"/Title" in files[1] and b"/Subject" in files[1]


def test_description_is_the_alt_text():
    shown = exhibit_of("staircase")
    assert picture_of("staircase").description == shown.alt
    assert shown.alt.encode() in picture_of("staircase").svg()


def grey(colour):
    # Rec. 709 luma, ITU-R BT.709: weights of red, green and blue.
    return np.dot(matplotlib.colors.to_rgb(colour), [0.2126, 0.7152, 0.0722])


def test_curves_of_a_family_differ_in_grey_and_are_seen_on_white():
    shades = [grey(colour) for colour in colours(6)]
    assert np.diff(shades).min() > 0.05
    assert shades[-1] < 0.75


def test_lines_of_one_panel_differ_in_more_than_colour():
    for name in ("time-constants", "cell-volumes", "retention", "plate-height", "joint"):
        for panel in picture_of(name).figure.axes:
            looks = {
                (str(line.get_linestyle()), str(line._dash_pattern), line.get_marker())
                for line in panel.get_lines()
                if len(line.get_xdata()) > 2
            }
            assert len(looks) == sum(len(line.get_xdata()) > 2 for line in panel.get_lines())


def test_a_size_leaves_the_settings_as_they_were():
    before = dict(matplotlib.rcParams)
    with sized(SIZES["slide"]) as size:
        assert matplotlib.rcParams["font.size"] == size.font
        assert (
            matplotlib.rcParams["axes.prop_cycle"] == matplotlib.rcParamsDefault["axes.prop_cycle"]
        )
    assert dict(matplotlib.rcParams) == before
