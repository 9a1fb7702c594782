"""The index page of a gallery: every figure with its caption and alt text, in one HTML file."""

from dataclasses import dataclass
from importlib import resources

from jinja2 import Environment, StrictUndefined
from markupsafe import Markup

from tailrace.report.page import inlined


@dataclass(frozen=True, kw_only=True)
class Hung:
    """One figure of the page.

    Parameters
    ----------
    exhibit : tailrace.studies.gallery.exhibit.Exhibit
    picture : tailrace.figures.picture.Picture
    files : tuple of str
        Names of the files beside the page that hold it.
    """

    exhibit: object
    picture: object
    files: tuple[str, ...]


def as_index(hung, shown, version) -> str:
    """The page.

    Parameters
    ----------
    hung : sequence of Hung
    shown : str
        One sentence on which instrument is shown.
    version : str
        Of tailrace.

    Returns
    -------
    str
        HTML that holds the figures and fetches nothing; the same input gives the same text.
    """
    text = resources.files("tailrace.report").joinpath("gallery.html.j2").read_text("utf-8")
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    shelf = [_entry(one) for one in hung]
    return environment.from_string(text).render(shelf=shelf, shown=shown, version=version)


def _entry(one):
    exhibit = one.exhibit
    return {
        "name": exhibit.name,
        "title": exhibit.title,
        "caption": exhibit.caption,
        "alt": exhibit.alt,
        "files": one.files,
        "error": f"{100 * exhibit.largest_error:.1g} %",
        "svg": Markup(inlined(one.picture.svg(), f"{exhibit.name}-")),
        "columns": [(name, row.unit, row.meaning) for name, row in exhibit.table.items()],
    }
