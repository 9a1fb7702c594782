"""Numbers and headings that the pictures of changes have in common."""

import textwrap


def plain(value, digits=4) -> str:
    """A number of so many digits without a power of ten: ``11470``, ``0.123``."""
    return f"{float(f'{value:.{digits}g}'):.10g}"


def heading(figure, text, width):
    """The finding as the heading of a matplotlib Figure, in lines of so many characters."""
    figure.suptitle(textwrap.fill(text, width), x=0.01, ha="left", fontsize=10.5, fontweight="bold")
