"""The three figures: what they draw, that it can be read, and that the bytes are the same."""

import io
import struct
import subprocess
import sys
import xml.etree.ElementTree as ElementTree
import zlib
from functools import cache
from itertools import combinations

import matplotlib
import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg

from tailrace.figures.path import draw_sources, draw_stages
from tailrace.figures.peaks import draw_peaks
from tailrace.figures.style import WAYS, Picture, chosen_lanes, sheet, styled
from tailrace.records.provenance import Provenance
from tailrace.records.record import as_record

DRAWN = [draw_stages, draw_sources, draw_peaks]
SVG = "{http://www.w3.org/2000/svg}"
LONG_NAMES = ("a rather long name of one solute (isomer 2)", "b", "third, with $x$ & <y>", "d")


def paths(rows):
    """Short, long, without column, without detector, and with a part of a very long name."""
    whole = [rows[name] for name in rows if name != "long"]
    return {
        "whole": whole,
        "long": [*whole[:2], rows["long"], *whole[2:], *(("x" + r[0], *r[1:]) for r in whole[1:4])],
        "no column": [rows["injection"], rows["needle seat"]],
        "no detector": whole[:-1],
        "column only": [rows["injection"], rows["column"]],
    }


@pytest.fixture(params=["whole", "long", "no column", "no detector", "column only"])
def path(request, rows):
    return paths(rows)[request.param]


@pytest.mark.parametrize("draw", DRAWN)
@pytest.mark.parametrize("count", [1, 3, 4])
def test_every_path_is_drawn_and_nothing_overlaps(make_result, path, draw, count):
    picture = draw(make_result(lanes=LONG_NAMES[:count], rows=path))
    with styled():
        figure = picture.figure
        # Everything has its place already: a Picture is laid out when it is made.
        renderer = FigureCanvasAgg(figure).get_renderer()
        panels = [panel.get_tightbbox(renderer) for panel in figure.axes]
        legends = [legend.get_window_extent(renderer) for legend in figure.legends]
        page = figure.bbox
        for box in (*panels, *legends):
            # Half a dot of slack: extents are of outlines, and lines have a width.
            assert box.x0 >= page.x0 - 0.5
            assert box.x1 <= page.x1 + 0.5
            assert box.y0 >= page.y0 - 0.5
            assert box.y1 <= page.y1 + 0.5
        for one, other in combinations((*panels, *legends), 2):
            assert not one.padded(-0.5).overlaps(other.padded(-0.5))
        for panel in figure.axes:
            texts = [one for one in (*panel.texts, panel._left_title) if one.get_text()]
            boxes = [text.get_window_extent(renderer) for text in texts]
            legend = panel.get_legend()
            if legend is not None:
                boxes += [legend.get_window_extent(renderer)]
                assert not boxes[-1].padded(-0.5).overlaps(panel.bbox)
            for one, other in combinations(boxes, 2):
                assert not one.padded(-0.5).overlaps(other.padded(-0.5))


@pytest.fixture(scope="module")
def two(make_result):
    """The result of two solutes."""
    return make_result(lanes=("a", "b"))


@pytest.fixture(scope="module")
def usual(two):
    """Function of what draws: the picture of two solutes, drawn once."""
    return cache(lambda draw: draw(two))


@pytest.mark.parametrize("draw", DRAWN)
def test_the_same_result_gives_the_same_bytes(make_result, usual, draw):
    one, other = usual(draw), draw(make_result(lanes=("a", "b")))
    first = one.svg(), one.png()
    # The other way round: neither form may leave a trace in the figure.
    second = other.png(), other.svg()
    assert first == second[::-1]


@pytest.mark.parametrize("draw", DRAWN)
def test_a_record_is_drawn_like_its_result(two, usual, draw):
    about = Provenance(title="t", scenario_sha256="00", scenario="", version="0")
    assert draw(as_record(two, about)).svg() == usual(draw).svg()


@pytest.mark.parametrize("draw", DRAWN)
def test_settings_of_the_user_neither_matter_nor_change(two, usual, draw):
    plain = usual(draw).svg()
    with matplotlib.rc_context({"font.size": 31.0, "axes.facecolor": "red"}):
        before = dict(matplotlib.rcParams)
        assert draw(two).svg() == plain
        assert dict(matplotlib.rcParams) == before


def test_no_window_system_is_touched(tmp_path):
    code = (
        "import sys; import tailrace.figures.path, tailrace.figures.path;"
        "import tailrace.figures.peaks; sys.exit('matplotlib.pyplot' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], cwd=tmp_path).returncode == 0


@pytest.fixture(scope="module")
def odd(make_result):
    """Function of what draws: the picture of a solute whose name has all that could go wrong."""
    return cache(lambda draw: draw(make_result(lanes=("a <b> & c costs $2 or $3",))))


@pytest.mark.parametrize("draw", DRAWN)
def test_the_svg_has_words_for_those_who_cannot_see_it(odd, draw):
    # title and desc as first children, role img: W3C, SVG 1.1 chapter 5.4, and SVG-AAM 1.0.
    picture = odd(draw)
    root = ElementTree.fromstring(picture.svg())
    assert root.get("role") == "img"
    assert [child.tag for child in root[:2]] == [f"{SVG}title", f"{SVG}desc"]
    assert root[0].text == picture.title
    assert root[1].text == picture.description
    assert "a <b> & c" in picture.description


@pytest.mark.parametrize("draw", DRAWN)
def test_text_in_the_svg_is_text(odd, draw):
    root = ElementTree.fromstring(odd(draw).svg())
    texts = "".join("".join(node.itertext()) for node in root.iter(f"{SVG}text"))
    assert "costs $2 or $3" in texts
    assert ", s" in texts


@pytest.mark.parametrize("draw", DRAWN)
def test_the_png_carries_its_description(usual, draw):
    # Chunks as in the PNG specification (W3C, third edition), 5.3 and 11.3.3.
    picture = usual(draw)
    content = io.BytesIO(picture.png())
    assert content.read(8) == b"\x89PNG\r\n\x1a\n"
    texts = b""
    while header := content.read(8):
        length, kind = struct.unpack(">I4s", header)
        body, check = content.read(length), content.read(4)
        assert struct.unpack(">I", check)[0] == zlib.crc32(kind + body)
        texts += body if kind in (b"tEXt", b"iTXt") else b""
        assert kind != b"tIME"
    assert picture.title.encode() in texts
    assert b"Description" in texts


def bars(panel):
    """Lengths of the bars: one row for each of the three ways."""
    return np.array([[bar.get_width() for bar in group] for group in panel.containers])


def test_bars_are_as_long_as_the_variances(result):
    drawn = bars(draw_sources(result).figure.axes[0])
    expected = [
        [getattr(part, f"variance_{way}")[0] for part in result.parts]
        for way in ("gaussian_theory", "exact", "simulated")
    ]
    np.testing.assert_allclose(drawn, np.nan_to_num(expected), rtol=1e-12)


def test_a_long_bar_of_the_column_is_cut_and_says_so(make_result, rows):
    column = ("column", "column", 1e-7, 56.0, float("nan"), 40.0, 40.0, 40.0)
    path = [rows["injection"], column, rows["detector"]]
    panel = draw_sources(make_result(rows=path)).figure.axes[0]
    texts = [text.get_text() for text in panel.texts]
    assert "40 s² (bar cut)" in texts
    assert panel.get_xlim()[1] < 1.0
    # 0.0033 of 0.0033 + 0.2513 by hand.
    assert "1.3 %" in texts
    assert "98.7 %" in texts


def test_stages_say_the_width_at_half_height(make_result, rows):
    # The injected band of the fixture is nearly Gaussian: W = 2.355 sigma, and a little less.
    panel = draw_stages(make_result(rows=[rows["injection"]])).figure.axes[0]
    shown = float(panel.texts[0].get_text().removesuffix(" s"))
    assert shown == pytest.approx(2.355 * np.sqrt(0.0033), rel=0.07)


def test_peaks_say_plates_and_tailing(result):
    figure = draw_peaks(result).figure
    name, *lines = figure.axes[0].get_title(loc="left").split("\n")
    plates, own = (
        float(f"{values['plates_half_height'][0]:.3g}")
        for values in (result.recorded, result.column_alone)
    )
    assert name == result.lanes[0]
    said = " ".join(lines).replace("\u00a0", " ")
    assert said == f"{plates:.0f} of {own:.0f} plates, tailing 1.25"
    texts = [text.get_text() for text in figure.legends[0].get_texts()]
    assert texts == ["column alone", "recorded"]


@pytest.mark.parametrize("draw", DRAWN)
def test_solutes_can_be_chosen(make_result, draw):
    result = make_result(lanes=("a", "b", "c"))
    picture = draw(result, solutes=["c"])
    texts = picture.figure.findobj(matplotlib.text.Text)
    shown = {text.get_text().split("\n")[0] for text in texts}
    assert {"a", "b", "c"} & shown == {"c"}
    with pytest.raises(ValueError, match="no solute 'x'"):
        draw(result, solutes=["x"])


def test_the_worst_solutes_are_drawn_where_there_are_many():
    names = tuple("abcdef")
    assert chosen_lanes([5, 0, 1, 2, 3, 4], names, None) == [5, 0, 1, 2]
    with pytest.raises(ValueError, match="choose 1 to 4"):
        chosen_lanes(list(range(6)), names, names)


@pytest.mark.parametrize("draw", DRAWN)
@pytest.mark.parametrize(("lanes", "reported"), [("abcdef", True), ("abcd", False)])
def test_a_figure_says_that_solutes_are_left_out(make_result, rows, draw, lanes, reported):
    few = [rows[name] for name in ("injection", "column", "detector")]
    label = draw(make_result(lanes=tuple(lanes), rows=few)).figure.get_supxlabel()
    assert ("The 4 of 6 solutes that lose most" in label) is reported


def test_the_three_kinds_of_bars_differ_in_grey():
    # Rec. 709 luma, ITU-R BT.709: weights of red, green and blue.
    def grey(colour):
        return np.dot(matplotlib.colors.to_rgb(colour), [0.2126, 0.7152, 0.0722])

    shades = sorted(grey(look["facecolor"]) for look in WAYS.values())
    assert np.diff(shades).min() > 0.2


def test_a_name_in_a_script_that_the_font_lacks_draws_without_a_warning():
    with styled():
        figure = sheet(2, 1)
        figure.text(0.5, 0.5, "流")
    assert Picture(figure, "A title", "A name.").png().startswith(b"\x89PNG")
