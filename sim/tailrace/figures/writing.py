"""Figures placed and written, each drawn as seldom as can be."""

import io
import re
from typing import Any

import matplotlib
import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.text import Text
from matplotlib.ticker import FixedFormatter, Formatter, FuncFormatter, NullFormatter
from matplotlib.transforms import ScaledTranslation

from tailrace.wording import comma, number


def micro(label: str) -> str:
    """A label with µL and µm as in print."""
    return re.sub(r"\bu(?=[Lm]\b)", "µ", label)


def scale(figure: Figure, by: float) -> None:
    """A figure laid out for letters of 10 pt, with all its sizes multiplied."""
    figure.set_size_inches(*(by * figure.get_size_inches()))
    for text in figure.findobj(Text):
        text.set_fontsize(by * float(text.get_fontsize()))
    for line in figure.findobj(Line2D):
        line.set_linewidth(by * line.get_linewidth())
        line.set_markersize(by * line.get_markersize())
    for panel in figure.axes:
        panel.tick_params(labelsize=9 * by, which="both")
        title = panel.get_title(loc="left")
        for text in panel.findobj(Text):
            if title and text.get_text() == title:
                ends = (one.transform((0, 1))[1] for one in (text.get_transform(), panel.transAxes))
                above = by * np.subtract(*ends) / figure.dpi
                offset = ScaledTranslation(0, above, figure.dpi_scale_trans)
                text.set_transform(panel.transAxes + offset)


class _Comma(Formatter):
    """Another formatter, with decimal commas."""

    def __init__(self, own: Formatter) -> None:
        self.own = own

    def set_locs(self, locs: Any) -> None:
        """Where the ticks are."""
        self.own.set_locs(locs)

    def __call__(self, x: float, pos: int | None = None) -> str:
        """The label of one tick."""
        return number(self.own(x, pos))


def in_language(figure: Figure) -> None:
    """Numbers at the ticks as the language has them; labels that are set as texts stay."""
    for panel in figure.axes if comma() else ():
        for axis in (panel.xaxis, panel.yaxis):
            own = axis.get_major_formatter()
            if not isinstance(own, (FixedFormatter, FuncFormatter, NullFormatter, _Comma)):
                axis.set_major_formatter(_Comma(own))
                own.set_axis(axis)


def placed(figure: Figure) -> None:
    """Place everything; later nothing moves. Matplotlib measures twice, which does but for panels
    of their own shape and bars of colours: beside these, once more while it draws."""
    in_language(figure)
    odd = [one for one in figure.axes if one.get_aspect() != "auto" or one.get_label() == COLOURS]
    if (engine := figure.get_layout_engine()) and figure.axes:
        engine.execute(figure)
        if not odd:
            figure.set_layout_engine("none")
    if odd:
        figure.draw_without_rendering()
    figure.set_layout_engine("none")


COLOURS = "<colorbar>"
"""How matplotlib labels a bar of colours."""

PRINTED: dict[str, Any] = {
    "svg": lambda figure: FigureCanvasSVG(figure).print_svg,
    "png": lambda figure: FigureCanvasAgg(figure).print_png,
}
"""By form, what writes it."""


def printed(
    figure: Figure, form: str, sink: io.BytesIO, dpi: float | None, words: dict[str, str | None]
) -> None:
    """As ``savefig``, which would draw everything twice."""
    canvas, before, usual = figure.canvas, figure.dpi, matplotlib.rcParams["savefig.dpi"]
    figure.dpi = dpi or (before if usual == "figure" else usual)
    try:
        PRINTED[form](figure)(sink, metadata=words)
    finally:
        figure.dpi = before
        figure.set_canvas(canvas)
