"""What an object shows of itself in a notebook, and how it is handed on: as a record, as text.

A room below derives its classes from ``Displayed``; how they are shown is made far above it, by
whatever the package's door has put in with ``shown_by``. This module imports nothing.
"""

from collections.abc import Callable
from typing import Any

_MAKERS: dict[str, Callable[..., Any]] = {}

LONGEST_TEXT, MOST_NAMES = 60, 4
"""Of what ``repr`` shows of one field; what is longer is counted."""


def shown_by(**makers: Callable[..., Any]) -> None:
    """Put in what makes each form of an object: a function of the object, by the form's name."""
    _MAKERS.update(makers)


class Displayed:
    """Gives a class a short ``repr`` and its rich display in notebooks."""

    def __init_subclass__(cls) -> None:
        """Keep ``repr`` short where a dataclass would write out every array."""
        super().__init_subclass__()
        if "__repr__" not in cls.__dict__:
            setattr(cls, "__repr__", Displayed.__repr__)  # noqa: B010

    def __repr__(self) -> str:
        """Class, texts and numbers, and how many there are of everything else."""
        names = getattr(self, "__dataclass_fields__", ())
        shown = (_brief(name, getattr(self, name)) for name in names)
        return f"{type(self).__name__}({', '.join(filter(None, shown))})"

    def _repr_html_(self) -> str:
        """HTML, asked for by notebooks."""
        return str(_MAKERS["html"](self))


class Handed(Displayed):
    """A result, which can be handed on in several forms, too."""

    def to_xarray(self) -> Any:
        """The record as an ``xarray.DataTree``, every variable with its unit and meaning."""
        return _MAKERS["to_xarray"](self)

    def to_json(self) -> str:
        """The object that the command prints with ``--json``; SI, null for what does not exist."""
        return str(_MAKERS["to_json"](self))

    def to_html(self) -> str:
        """The report: one page that stands alone."""
        return str(_MAKERS["to_html"](self))

    def plot(self) -> Any:
        """The picture that says most: ``svg()``, ``png()``, ``pdf()``, matplotlib's ``figure``."""
        return _MAKERS["plot"](self)

    def save(self, path: Any) -> None:
        """Write one of these to a file by its ending: .h5, .nc, .json, .html, .svg, .png, .pdf.

        Raises TailraceError for another ending. Raises OSError where the file cannot be written.
        """
        _MAKERS["save"](self, path)


def _brief(name: str, value: object) -> str:
    """One field as ``repr`` shows it; empty where it says nothing in few words."""
    if isinstance(value, str | int | float):
        text = repr(value)
        return f"{name}={text}" if len(text) <= LONGEST_TEXT and "\\n" not in text else ""
    if not isinstance(value, tuple | list | dict):
        return ""
    if 0 < len(value) <= MOST_NAMES and all(isinstance(one, str) for one in value):
        text = ", ".join(value)
        if not isinstance(value, dict) and len(text) <= LONGEST_TEXT:
            return f"{name}=({text})"
    return f"{name}: {len(value)}"
