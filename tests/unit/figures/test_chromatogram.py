"""The chromatogram: two panels, one scale, every peak numbered and named."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.text import Text

from tailrace.figures.peaks import MOST_NUMBERED, draw_chromatogram
from tailrace.figures.style import styled
from tailrace.records.provenance import Provenance
from tailrace.records.record import as_record

ABOUT = Provenance(title="t", scenario_sha256="00", scenario="", version="0")


def texts_of(figure):
    legend = [text.get_text() for one in figure.legends for text in one.get_texts()]
    numbers = [[text.get_text() for text in panel.texts] for panel in figure.axes]
    return legend, numbers


@pytest.mark.parametrize("count", [1, 2, 6])
@pytest.mark.parametrize("column", [True, False])
def test_nothing_overlaps_and_all_is_on_the_page(make_result, rows, count, column):
    names = [name for name in rows if name != "long" and (column or name != "column")]
    lanes = tuple(f"a rather long name of solute {k}" for k in range(count))
    figure = draw_chromatogram(make_result(lanes, [rows[name] for name in names])).figure
    assert len(figure.axes) == 1 + column
    with styled():
        renderer = FigureCanvasAgg(figure).get_renderer()
        figure.draw(renderer)
        boxes = [one.get_tightbbox(renderer) for one in figure.axes]
        boxes += [one.get_window_extent(renderer) for one in figure.legends]
        boxes += [figure._supxlabel.get_window_extent(renderer)]
        for box in boxes:
            assert box.x0 >= figure.bbox.x0 - 0.5
            assert box.x1 <= figure.bbox.x1 + 0.5
            assert box.y0 >= figure.bbox.y0 - 0.5
            assert box.y1 <= figure.bbox.y1 + 0.5
        for one, other in combinations(boxes, 2):
            assert not one.padded(-0.5).overlaps(other.padded(-0.5))
        for panel in figure.axes:
            numbers = [text.get_window_extent(renderer) for text in panel.texts]
            for one, other in combinations(numbers, 2):
                assert not one.padded(-0.5).overlaps(other.padded(-0.5))


def test_both_panels_have_one_scale_and_the_column_reaches_a_hundred(make_result):
    figure = draw_chromatogram(make_result(("a", "b"))).figure
    own, recorded = (panel.lines[-1].get_ydata().max() for panel in figure.axes)
    assert own == pytest.approx(100)
    assert recorded < own
    assert figure.axes[0].get_ylim() == figure.axes[1].get_ylim()
    assert figure.axes[0].get_xlim() == figure.axes[1].get_xlim()


def test_the_key_says_what_each_peak_keeps(make_result):
    signal = {
        "relative_signal": np.array([0.41, 0.5]),
        "signal_to_noise": np.array([43210, np.nan]),
    }
    result = replace(make_result(("first $x$", "b")), signal=signal)
    legend, numbers = texts_of(draw_chromatogram(result).figure)
    assert legend == [
        "1  first $x$, 41 % of the column's height, signal to noise 43000",
        "2  b, 50 % of the column's height",
    ]
    assert numbers == [["1", "2"]] * 2


def test_titles_say_resolution_and_pressure(make_result):
    picture = draw_chromatogram(make_result(("a", "b")))
    top, bottom = (panel.get_title("left") for panel in picture.figure.axes)
    assert top.startswith("The column's own")
    # 1 to 6 bar of the fixture's six parts.
    assert " ".join(bottom.split()).endswith("bar ± 20 % over the whole path")
    assert "resolution of the critical pair" in " ".join(bottom.split())
    assert "The critical pair is a and b." in picture.description


def test_very_many_peaks_are_not_numbered(make_result):
    lanes = tuple(f"s{k}" for k in range(MOST_NUMBERED + 1))
    figure = draw_chromatogram(make_result(lanes)).figure
    assert texts_of(figure) == ([], [[], []])


def test_a_record_is_drawn_like_its_result_and_twice_the_same(make_result):
    result = make_result(("a", "b"))
    one, other = draw_chromatogram(result), draw_chromatogram(as_record(result, ABOUT))
    assert one.svg() == other.svg()
    assert one.png() == other.png()


def test_times_of_a_gaussian_injection_are_from_its_middle(make_result):
    result = make_result(("a", "b"))
    for mean, point in ((1.0, "start"), (0.0, "middle")):
        injected = replace(result.parts[0], mean_closed_form=np.full(2, mean))
        figure = draw_chromatogram(replace(result, parts=(injected, *result.parts[1:]))).figure
        words = [" ".join(text.get_text().split()) for text in figure.findobj(Text)]
        assert any(f"Time from the {point} of the injection" in text for text in words)
