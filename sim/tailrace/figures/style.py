"""How every figure looks: colours, lines, type, size, panels; and its forms as files."""

import contextlib
import io
import logging
import re
import warnings
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeAlias
from xml.sax.saxutils import escape

import matplotlib
import numpy as np
from matplotlib.colors import to_hex, to_rgb
from matplotlib.figure import Figure
from matplotlib.layout_engine import ConstrainedLayoutEngine
from numpy.typing import NDArray

from tailrace.figures.sizes import WANTED, Size
from tailrace.figures.writing import PRINTED, placed, printed
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
    # As wide at any number of dots an inch: what was placed once fits in every form.
    "text.hinting": "none",
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


def pale(colour: str, share: float) -> str:
    """A colour on white as if so transparent; EPS knows nothing of transparency."""
    red, green, blue = (1 + share * (one - 1) for one in to_rgb(colour))
    return str(to_hex((red, green, blue)))


def sheet(width: float, height: float) -> Figure:
    """An empty Figure (width and height in inches) that nothing else holds on to."""
    return Figure(figsize=(width, height), layout="constrained")


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
