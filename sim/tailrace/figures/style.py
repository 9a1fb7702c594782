"""How every figure looks: colours, lines, type, size, panels; and its forms as files."""

import contextlib
import io
import logging
import math
import re
import textwrap
import warnings
from collections.abc import Iterator, Sequence
from contextvars import ContextVar
from dataclasses import dataclass, field, replace
from typing import Any, TypeAlias
from xml.sax.saxutils import escape

import matplotlib
import numpy as np
from matplotlib.figure import Figure
from matplotlib.layout_engine import ConstrainedLayoutEngine
from matplotlib.text import Text
from numpy.typing import NDArray

from tailrace.figures.writing import PRINTED, placed, printed, scale
from tailrace.quantities.kinds import plain
from tailrace.wording import number, say, word

ByteArray: TypeAlias = NDArray[np.uint8]
"""Picture elements."""
Look: TypeAlias = dict[str, Any]
"""Keywords of an artist, or settings."""
Dash: TypeAlias = str | tuple[float, tuple[float, ...]]
"""A line style."""

INK = "#1a1a1a"
FAINT = "#8c8c8c"
GRID = "#dcdcdc"
MARKED = "#f1ede2"
"""Ground behind what is set apart, the column."""

SERIES = ("#0b3c6f", "#d55e00", "#009e73", "#a8568f")
"""For curves side by side: blue, vermilion, bluish green and purple of Okabe and Ito, Color
Universal Design (2008; from memory), the first and the last darkened. Each has a dash of its own
as well, for print in grey."""

DASHES: tuple[Dash, ...] = ("-", (0, (5, 1.5)), (0, (1.2, 1.2)), (0, (6, 1.5, 1.2, 1.5)))

WAYS: dict[str, Look] = {
    "gaussian_theory": {"label": "Gaussian theory", "facecolor": "#ffffff", "hatch": "/////"},
    "exact": {"label": "exact closed form, where known", "facecolor": "#f2a65a"},
    "simulated": {"label": "simulated", "facecolor": "#0b3c6f"},
}
"""Three ways to the same variance: white and hatched, middle, dark."""

MOST_SOLUTES = 4
"""Panels or curves side by side that can still be told apart."""
LETTER = 0.082
"""in, mean width of a letter of 10 pt."""
BOLD = 0.85
"""Share of a line that bold letters leave room for."""
SMALLEST_PANEL = 2.4
"""in, with letters of 10 pt."""
MOST_PANELS = 12
"""Of one picture that can still be read."""

SETTINGS: Look = {
    # Comes with matplotlib: the same letters, and the same bytes, on every machine.
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans"],
    "font.size": 10.0,
    "axes.titlesize": 10.5,
    "axes.titleweight": "bold",
    "axes.titlelocation": "left",
    "axes.labelsize": 10.0,
    "axes.edgecolor": FAINT,
    "axes.labelcolor": INK,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": True,
    "axes.axisbelow": True,
    "axes.formatter.useoffset": False,
    "grid.color": GRID,
    "grid.linewidth": 0.6,
    "xtick.color": INK,
    "ytick.color": INK,
    "xtick.labelsize": 9.0,
    "ytick.labelsize": 9.0,
    "text.color": INK,
    # A dollar sign in a name is a dollar sign.
    "text.parse_math": False,
    "legend.frameon": False,
    "legend.fontsize": 9.5,
    "lines.linewidth": 1.8,
    "hatch.linewidth": 0.7,
    "figure.facecolor": "white",
    "figure.dpi": 160,
    "savefig.dpi": "figure",
    # Text stays text: it can be searched, read aloud, and changed on a slide.
    "svg.fonttype": "none",
    "svg.hashsalt": "tailrace",
    "pdf.fonttype": 42,
}


@contextlib.contextmanager
def styled() -> Iterator[None]:
    """Matplotlib with its own defaults and these settings, whatever the user's are; put back on
    leaving. Not for several threads at once."""
    settings: Any = {
        name: value
        for name, value in matplotlib.rcParamsDefault.items()
        if name != "backend" and not name.startswith("date.")
    }
    with matplotlib.rc_context(rc=settings | SETTINGS), warnings.catch_warnings():
        # a name in a script that the font lacks: boxes in PNG, the letters themselves in SVG
        warnings.filterwarnings("ignore", r"Glyph \d+ .* missing from font")
        yield


@dataclass(frozen=True)
class Size:
    """What a picture has to fill.

    Parameters
    ----------
    width, height : float, in
        A picture of several panels may be taller where it is narrow.
    font : float, pt
        Of ordinary letters.
    """

    width: float
    height: float
    font: float

    @property
    def narrow(self) -> bool:
        """Whether panels have to stand below each other."""
        return self.width < 5

    def fills(self, other: "Size") -> bool:
        """Whether it is as wide and high as another."""
        return (self.width, self.height) == (other.width, other.height)


SIZES = {
    "slide": Size(10.0, 5.6, 15.0),
    "column": Size(3.4, 2.7, 8.0),
    "page": Size(7.0, 4.2, 9.5),
}
"""A slide of 16 to 9, read from afar; one column of a page in print; its whole width."""


LEAST, GROWS = 7.0, 0.36
"""Points of a letter, and how many more for each inch of width, of a size given by its width."""
FLAT = {True: 0.8, False: 0.6}
"""Height over width of such a size, narrow or not."""
INCHES = {"mm": 1 / 25.4, "cm": 1 / 2.54, "in": 1.0}
WIDEST, NARROWEST = 40.0, 1.5
"""in"""


def size_of(text: str, font: float | None = None) -> Size:
    """A size by its name, or by its width and, after an x, its height: ``84mm``, ``84mm x 6cm``.

    ``font``: points of ordinary letters, in place of what suits the width. Raises ValueError for
    another text, or a width beyond 1.5 to 40 in.
    """
    if text in SIZES:
        size = SIZES[text]
    else:
        sides = [re.fullmatch(r"\s*(\d+\.?\d*)\s*(mm|cm|in)\s*", one) for one in text.split("x")]
        inches = [float(one[1]) * INCHES[one[2]] for one in sides if one is not None]
        if (
            len(inches) != len(sides)
            or len(sides) > 2
            or not all(NARROWEST <= one <= WIDEST for one in inches)
        ):
            raise ValueError(
                f"expected {', '.join(SIZES)} or a width such as 84mm or 84mm x 60mm, from "
                f"{NARROWEST:g} to {WIDEST:g} in, found {text[:40]!r}"
            )
        size = Size(inches[0], inches[-1], LEAST + GROWS * inches[0])
        if len(inches) == 1:
            size = replace(size, height=FLAT[size.narrow] * size.width)
    return size if font is None else replace(size, font=font)


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """How the pictures of a record are wanted: their size, and which solutes; None: as usual."""

    size: Size | None = None
    solutes: tuple[str, ...] | None = None


AS_USUAL = Wanted()
WANTED: ContextVar[Wanted] = ContextVar("WANTED", default=AS_USUAL)
"""What holds for pictures that are drawn within ``wanting``."""


def on_narrow() -> bool:
    """Whether the pictures of a record are wanted on a narrow sheet."""
    size = WANTED.get().size
    return size is not None and size.narrow


@contextlib.contextmanager
def wanting(size: Size | None, solutes: Sequence[str] = ()) -> Iterator[None]:
    """Pictures of records in this size and of these solutes, if any."""
    token = WANTED.set(Wanted(size=size, solutes=tuple(solutes) or None))
    try:
        yield
    finally:
        WANTED.reset(token)


@contextlib.contextmanager
def sized(size: Size) -> Iterator[Size]:
    """Matplotlib in the house's style, with the letters and lines of a size."""
    scale = size.font / 10
    letters: Any = {
        "font.size": size.font,
        "axes.titlesize": size.font,
        "axes.labelsize": size.font,
        "xtick.labelsize": 0.9 * size.font,
        "ytick.labelsize": 0.9 * size.font,
        "legend.fontsize": 0.9 * size.font,
        "figure.titlesize": 1.1 * size.font,
        "lines.linewidth": 1.6 * scale,
        "lines.markersize": 5 * scale,
        "axes.linewidth": 0.8 * scale,
        "grid.linewidth": 0.6 * scale,
        "hatch.linewidth": 0.7 * scale,
    }
    with styled(), matplotlib.rc_context(letters):
        yield size


@contextlib.contextmanager
def _no_transparency(form: str) -> Iterator[None]:
    """EPS has none; matplotlib says so to a log for each picture."""
    log = logging.getLogger("matplotlib.backends.backend_ps")
    before = log.level
    log.setLevel(logging.ERROR if form == "eps" else before)
    try:
        yield
    finally:
        log.setLevel(before)


def sheet(width: float, height: float) -> Figure:
    """An empty Figure (width and height in inches) that nothing else holds on to."""
    return Figure(figsize=(width, height), layout="constrained")


@contextlib.contextmanager
def panels(
    count: int,
    columns: int,
    width: tuple[float, float],
    height: tuple[float, float],
    *,
    across: str = "",
    upward: str = "",
    key: tuple[str, int] | None = None,
    **shared: Any,
) -> Iterator[Figure]:
    """A figure with panels side by side, in the house's style; labels and key are set on leaving.

    Parameters
    ----------
    columns : int
        At most as many beside each other.
    width, height : (float, float), in
        Of what stands around the panels, and of each of them.
    across, upward : str
        Labels of all panels together.
    key : (str, int)
        Where the key to the first panel stands outside of it, and its columns.
    """
    size = _small(WANTED.get().size)
    columns, width, height = _divided(size, count, columns, width, height)
    rows = math.ceil(count / columns)
    with styled():
        figure = sheet(width[0] + width[1] * columns, height[0] + height[1] * rows)
        axes = figure.subplots(rows, columns, squeeze=False, **shared).ravel()
        for spare in axes[count:]:
            spare.remove()
        yield figure
        figure.supxlabel(across, fontsize=10)
        figure.supylabel(upward, fontsize=10)
        if key is not None:
            handles, labels = axes[0].get_legend_handles_labels()
            place: Any = f"outside {key[0]}"
            wide = size is None or size.fills(SIZES["slide"])
            ncols = min(key[1], len(labels)) if wide else columns
            if across and key[0].startswith("lower"):  # the label stands above the key
                rows = -(-len(labels) // ncols)
                figure.supxlabel(across + "\n" * (1 + rows + rows // 4), fontsize=10)
            figure.legend(handles, labels, loc=place, ncols=ncols)
        if size is not None:
            _fold(figure, width)
            scale(figure, size.font / 10)


def _small(size: Size | None) -> Size | None:
    """On a slide, a record's pictures have smaller letters: they have more panels."""
    return replace(size, font=12.0) if size == SIZES["slide"] else size


Span: TypeAlias = tuple[float, float]  # in, of what stands around panels and of each


def _divided(
    size: Size | None, count: int, columns: int, width: Span, height: Span
) -> tuple[int, Span, Span]:
    """Columns, and width and height as of ``panels`` on a sheet; letters count as 10 pt."""
    if size is not None:
        natural = size.width / (size.font / 10)
        around = min(width[0], natural / 3)
        slide = size.fills(SIZES["slide"])
        fit = int((natural - width[0]) / ((0.6 if slide else 1) * SMALLEST_PANEL))
        most = max(3, columns) if slide and columns > 1 else columns
        columns = max(1, min(most, fit, count))
        if slide:  # fills it, whatever it would have been
            height = height[0], (10 * size.height / size.font - height[0]) / -(-count // columns)
        return columns, (around, (natural - around) / columns), height
    if (count, columns) == (3, 2):  # below each other, with no empty place
        return 1, (width[0] + 0.6 * width[1], width[1]), (height[0], 0.75 * height[1])
    return min(2 if (count, columns) == (4, 3) else columns, count), width, height


def _fold(figure: Figure, width: tuple[float, float]) -> None:
    """Titles and labels in lines as long as the sheet, or as one panel; width as of ``panels``."""
    columns = int(figure.get_size_inches()[0] / width[1])
    whole = width[0] + columns * width[1]
    texts = [(one, whole * (BOLD if one.get_fontweight() == "bold" else 1)) for one in figure.texts]
    for panel in figure.axes:
        title, key = panel.get_title(loc="left"), panel.get_legend()
        heads = [one for one in panel.findobj(Text) if str(one.get_text()) == title != ""]
        texts += [(one, BOLD * width[1]) for one in heads]
        beside = width[1] + (width[0] / 2 if columns == 1 else 0.0)
        texts += [(one, beside) for one in (key.get_texts() if key else ())]
    for text, room in texts:
        lines = text.get_text().split("\n")  # those at the end leave room for a key
        if text in figure.texts and text.get_fontweight() == "bold":  # the heading
            lines = [" ".join(lines)]
        letters = max(12, int(room / LETTER))
        text.set_text("\n".join(textwrap.fill(line, letters) for line in lines))


def heading(figure: Figure, text: str, width: int) -> None:
    """The finding as the heading, in lines of ``width`` characters."""
    figure.suptitle(textwrap.fill(text, width), x=0.01, ha="left", fontsize=10.5, fontweight="bold")


def chosen_lanes(
    ordered: list[int], lanes: Sequence[str], solutes: Sequence[str] | None
) -> list[int]:
    """Which lanes to draw.

    Raises ValueError where a name is not among the lanes, or where there are more than
    MOST_SOLUTES.

    Parameters
    ----------
    ordered : list of int
        All lanes, in the order in which they matter.
    lanes : tuple of str
        Names.
    solutes : sequence of str or None
        Names to draw in this order; None: the first few of ``ordered``.
    """
    solutes = WANTED.get().solutes if solutes is None else solutes
    if solutes is None:
        return ordered[:MOST_SOLUTES]
    for name in solutes:
        if name not in lanes:
            raise ValueError(f"no solute {name!r}; there are: {', '.join(lanes)}")
    if not 1 <= len(solutes) <= MOST_SOLUTES:
        raise ValueError(f"choose 1 to {MOST_SOLUTES} solutes, not {len(solutes)}")
    return [lanes.index(name) for name in solutes]


def own_stands(own: bool) -> str:
    """A line under a figure in which the column's own peak is drawn (``own``), or nothing."""
    text = say("The column's own peak stands later by the mean time in all other parts")
    return f"\n{text}" if own else ""


def shown_of(lanes: Sequence[str], solutes: Sequence[str] | None) -> str:
    """A line under a figure that shows only some of the solutes; otherwise nothing.

    ``lanes``: names of all solutes; ``solutes``: names that were asked for; None: those that lose
    most are shown.
    """
    if solutes is not None or len(lanes) <= MOST_SOLUTES:
        return ""
    text = say(
        "The {shown} of {count} solutes that lose most", shown=MOST_SOLUTES, count=len(lanes)
    )
    return f"\n{text}"


def first_of(count: int) -> str:
    """A line under a figure that shows only the first MOST_PANELS; otherwise nothing."""
    text = "The first {most} of {count}; the others are in the tables"
    return say(text, most=MOST_PANELS, count=count) if count > MOST_PANELS else ""


def counted(value: float, digits: int = 4) -> str:
    """As of ``tailrace.quantities.kinds.plain``, in the language that holds."""
    return number(plain(value, digits))


def capital(text: str) -> str:
    """With a capital first letter."""
    return text[:1].upper() + text[1:]


def named(name: str) -> str:
    """The name of a metric, such as ``plates of a`` or ``tailing, worst solute``."""
    for form, between in (("{what} of {whose}", " of "), ("{what}, worst {whose}", ", worst ")):
        what, found, whose = name.rpartition(between)
        if found and word(name) == name:
            return say(form, what=word(what), whose=word(whose))
    return word(name)


def short(text: str, length: int) -> str:
    """``text``, cut with an ellipsis where it is longer than ``length`` characters."""
    return text if len(text) <= length else text[: length - 1].rstrip() + "…"


@dataclass(frozen=True)
class Picture:
    """One figure.

    ``description``: what is to be seen, in words; goes into the files for those who cannot see it.
    """

    figure: Figure
    title: str
    description: str
    _written: list[bytes] = field(default_factory=list, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Place everything once, so that no form depends on which was written before it."""
        if isinstance(self.figure.get_layout_engine(), ConstrainedLayoutEngine):
            with styled():
                placed(self.figure)

    def svg(self) -> bytes:
        """The figure as SVG, bytes; the same figure gives the same bytes."""
        if not self._written:
            text = self._saved("svg", {"Creator": "tailrace", "Date": None}).decode()
            self._written.append(self._with_words(text).encode())
        return self._written[0]

    def png(self, dpi: float | None = None) -> bytes:
        """The figure as PNG with ``dpi`` dots an inch, bytes; the same figure, the same bytes."""
        return self._saved("png", {"Software": "tailrace"}, dpi)

    def eps(self) -> bytes:
        """The figure as EPS, bytes; the same figure gives the same bytes. Nothing is transparent
        in it: what lies behind a pale ground is hidden."""
        return re.sub(rb"%%CreationDate:[^\n]*\n", b"", self._saved("eps", {"Creator": "tailrace"}))

    def files(
        self, name: str, formats: Sequence[str] = ("svg", "png"), dpi: float | None = None
    ) -> dict[str, bytes]:
        """The figure in some of FORMATS, by names of files."""
        contents = (self.png(dpi) if form == "png" else getattr(self, form)() for form in formats)
        return {f"{name}.{form}": one for form, one in zip(formats, contents, strict=True)}

    def pdf(self) -> bytes:
        """The figure as PDF, bytes; the same figure gives the same bytes."""
        return self._saved("pdf", {"Creator": "tailrace", "CreationDate": None})

    def _saved(self, form: str, metadata: dict[str, str | None], dpi: float | None = None) -> bytes:
        sink = io.BytesIO()
        about = "Subject" if form == "pdf" else "Description"
        words = {} if form == "eps" else {"Title": self.title, about: self.description}
        fine: Any = "figure" if dpi is None else dpi
        with styled(), _no_transparency(form):
            if form in PRINTED:
                printed(self.figure, form, sink, dpi, {**words, **metadata})
            else:
                self.figure.savefig(sink, format=form, dpi=fine, metadata={**words, **metadata})
        return sink.getvalue()

    def _with_words(self, text: str) -> str:
        """Screen readers look for ``desc`` beside ``title``, and for a role on the root."""
        title = f"<title>{escape(self.title)}</title>"
        if title not in text:
            raise ValueError("the SVG writer of matplotlib no longer writes the title")
        described = f"{title}\n <desc>{escape(self.description)}</desc>"
        return text.replace(title, described, 1).replace("<svg ", '<svg role="img" ', 1)
