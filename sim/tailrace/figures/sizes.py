"""What pictures have to fill: sizes by name and by width, and the one that is wanted."""

import contextlib
import re
from collections.abc import Iterator, Sequence
from contextvars import ContextVar
from dataclasses import dataclass, replace


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
    "slide": Size(10.0, 5.625, 15.0),
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
