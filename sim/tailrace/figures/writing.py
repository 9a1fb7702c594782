"""Figures placed and written, each drawn as seldom as can be."""

import io
from typing import Any

import matplotlib
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure


def placed(figure: Figure) -> None:
    """Place everything, the second time beside labels as they are; later nothing moves."""
    figure.draw_without_rendering()
    figure.draw_without_rendering()
    figure.set_layout_engine("none")


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
