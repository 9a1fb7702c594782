"""A figure with the words that stand for it where it cannot be seen, and its file forms."""

import io
from dataclasses import dataclass
from xml.sax.saxutils import escape

from matplotlib.figure import Figure

from tailrace.figures.style import styled


@dataclass(frozen=True)
class Picture:
    """One figure.

    ``description``: what is to be seen, in words; goes into the files for those who cannot see it.
    """

    figure: Figure
    title: str
    description: str

    def __post_init__(self) -> None:
        """Place everything once, so that no form depends on which was written before it."""
        with styled():
            self.figure.draw_without_rendering()
            self.figure.set_layout_engine("none")

    def svg(self) -> bytes:
        """The figure as SVG, bytes; the same figure gives the same bytes."""
        text = self._saved("svg", {"Creator": "tailrace", "Date": None}).decode()
        return self._with_words(text).encode()

    def png(self) -> bytes:
        """The figure as PNG, bytes; the same figure gives the same bytes."""
        return self._saved("png", {"Software": "tailrace"})

    def pdf(self) -> bytes:
        """The figure as PDF, bytes; the same figure gives the same bytes."""
        return self._saved("pdf", {"Creator": "tailrace", "CreationDate": None})

    def _saved(self, form: str, metadata: dict[str, str | None]) -> bytes:
        sink = io.BytesIO()
        about = "Subject" if form == "pdf" else "Description"
        words = {"Title": self.title, about: self.description}
        with styled():
            self.figure.savefig(sink, format=form, metadata={**words, **metadata})
        return sink.getvalue()

    def _with_words(self, text: str) -> str:
        """Screen readers look for ``desc`` beside ``title``, and for a role on the root."""
        title = f"<title>{escape(self.title)}</title>"
        if title not in text:
            raise ValueError("the SVG writer of matplotlib no longer writes the title")
        described = f"{title}\n <desc>{escape(self.description)}</desc>"
        return text.replace(title, described, 1).replace("<svg ", '<svg role="img" ', 1)
