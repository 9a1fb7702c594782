"""Panels of the pictures of records, laid out for the sheet that they have to fill."""

import contextlib
import itertools
import math
import re
import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any, TypeAlias

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.text import Text

from tailrace.figures.sizes import SIZES, WANTED, Size
from tailrace.figures.style import sheet, styled
from tailrace.figures.writing import scale

TOGETHER = re.compile(r"(?<=\d) (?=[%±])|(?<=±) (?=\d)")
"""Spaces at which no line ends."""
LETTER = 0.082
"""in, mean width of a letter of 10 pt."""
BOLD = 0.85
"""Share of a line that bold letters leave room for."""
SMALLEST_PANEL = 1.7
"""in, with letters of 10 pt."""
FLATTEST = 0.7
"""Least height of a panel that is narrower than at its full height, over that."""
FEW = 4
"""Panels that stand below each other on a narrow sheet."""
HANDLE = 0.65
"""in, of what stands before a label in a key, and between two of them."""


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

    It is as wide as ``tailrace.figures.sizes.wanting`` says, otherwise as a page. All sizes below
    are for letters of 10 pt, and go with the letters of the size that holds.

    Parameters
    ----------
    columns : int
        At most as many beside each other.
    width : (float, float), in
        Of what stands around the panels, and of a panel that has its full height.
    height : (float, float), in
        Of what stands around the panels, and of each of them.
    across, upward : str
        Labels of all panels together.
    key : (str, int)
        Where the key to the first panel stands outside of it, and its columns at most.
    """
    size = _small(WANTED.get().size or SIZES["page"])
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
            _key(figure, key, across)
        _fold(figure, width, columns)
        scale(figure, size.font / 10)


def key_columns(figure: Figure, labels: Sequence[str], most: int) -> int:
    """In how many columns a key stands below or above panels that are not scaled yet."""
    for columns in range(min(most, len(labels)), 1, -1):
        rows, more = divmod(len(labels), columns)  # the first columns have one more, if any
        ends = [rows * k + min(k, more) for k in range(columns + 1)]
        longest = [max(map(len, labels[a:b])) for a, b in itertools.pairwise(ends)]
        if columns * HANDLE + 0.95 * LETTER * sum(longest) <= figure.get_size_inches()[0]:
            return columns
    return 1


def room_across(panel: Axes) -> float:
    """in, of one of the panels that are not scaled yet, about; letters count as 10 pt."""
    figure, place = panel.get_figure(root=True), panel.get_subplotspec()
    assert figure is not None and place is not None
    return float(figure.get_size_inches()[0]) / place.get_gridspec().ncols


def _key(figure: Figure, key: tuple[str, int], across: str) -> None:
    """The key outside of the panels."""
    handles, labels = figure.axes[0].get_legend_handles_labels()
    ncols = key_columns(figure, labels, key[1])
    if across and key[0].startswith("lower"):  # the label stands above the key
        rows = -(-len(labels) // ncols)
        figure.supxlabel(across + "\n" * (1 + rows + rows // 4), fontsize=10)
    place: Any = f"outside {key[0]}"
    figure.legend(handles, labels, loc=place, ncols=ncols)


def _small(size: Size) -> Size:
    """On a slide, a record's pictures have smaller letters: they have more panels."""
    return replace(size, font=12.0) if size == SIZES["slide"] else size


Span: TypeAlias = tuple[float, float]  # in, of what stands around panels and of each


def _divided(
    size: Size, count: int, columns: int, width: Span, height: Span
) -> tuple[int, Span, Span]:
    """Columns, and width and height as of ``panels`` on a sheet; letters count as 10 pt."""
    natural, slide = size.width / (size.font / 10), size.fills(SIZES["slide"])
    around = min(width[0], natural / 3)
    fit = int((natural - around) / ((0.8 if slide else 1) * SMALLEST_PANEL))
    if size.narrow and count <= FEW:
        fit = 1
    most = max(3, columns) if slide and columns > 1 else columns
    columns = max(1, min(most, fit, count))
    if (count, columns) in ((3, 2), (4, 3)):  # no empty place
        columns -= 1
    each = (natural - around) / columns
    if slide:  # fills it, whatever it would have been
        tall = (10 * size.height / size.font - height[0]) / -(-count // columns)
    elif size.narrow:
        tall = height[1]
    else:
        tall = height[1] * min(1.0, max(FLATTEST, each / width[1]))
    return columns, (around, each), (height[0], tall)


def _fold(figure: Figure, width: tuple[float, float], columns: int) -> None:
    """Titles and labels in lines as long as the sheet, or as one panel; width as of ``panels``."""
    whole = width[0] + columns * width[1]
    texts = [(one, whole * (BOLD if one.get_fontweight() == "bold" else 1)) for one in figure.texts]
    for panel in figure.axes:
        title, key = panel.get_title(loc="left"), panel.get_legend()
        heads = [one for one in panel.findobj(Text) if str(one.get_text()) == title != ""]
        inside = width[1] - (0.5 if width[0] == 0 else 0.0)  # labels at the axis need room
        texts += [(one, BOLD * inside) for one in heads]
        beside = width[1] + (width[0] / 2 if columns == 1 else 0.0)
        texts += [(one, beside) for one in (key.get_texts() if key else ())]
    for text, room in texts:
        if text.get_rotation() == 90:
            room = 0.9 * figure.get_size_inches()[1]
        lines = text.get_text().split("\n")  # those at the end leave room for a key
        if text in figure.texts and text.get_fontweight() == "bold":  # the heading
            lines = [" ".join(lines)]
        letters = max(12, int(room / LETTER))
        text.set_text("\n".join(filled(line, letters) for line in lines))


def filled(text: str, width: int) -> str:
    """In lines of at most ``width`` letters, with a number and its uncertainty, or per cent, in
    one of them; two lines are about as long as each other."""
    text = TOGETHER.sub("\u00a0", text)
    lines = textwrap.wrap(text, width)
    if len(lines) == 2:
        narrower = (textwrap.wrap(text, room) for room in range(len(text) // 2, width))
        lines = next((one for one in narrower if len(one) == 2), lines)
    return "\n".join(lines).replace("\u00a0", " ")


def heading(figure: Figure, text: str, width: int) -> None:
    """The finding as the heading, in lines of ``width`` characters."""
    figure.suptitle(filled(text, width), x=0.01, ha="left", fontsize=10.5, fontweight="bold")
