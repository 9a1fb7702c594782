"""The paper that reports are printed on: what every page has, whatever it says."""

import platform
import re
from collections.abc import Iterable
from importlib import resources
from importlib.metadata import version
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree

from jinja2 import Environment, FunctionLoader, StrictUndefined, Template
from markupsafe import Markup

from tailrace.report.table import typeset

if TYPE_CHECKING:
    from tailrace.figures.style import Picture

ROOM = "tailrace.report"
MAKING = ("matplotlib", "jinja2")
"""What the look of a page depends on besides tailrace itself."""

NOT_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff]")
"""Characters that a name may hold and that no XML may (XML 1.0, production 2)."""

APART = re.compile(r"(<(pre|svg|style)\b.*?</\2>)", re.S)
"""What of a page is left as it is written."""
UNBROKEN = re.compile(
    r"(?<=\d) (?=[%±]|(?:s|ms|min|h|nm|µm|mm|µL|mL|bar|mAU|degC)\b)|(?<=±) (?=\d)"
    r"|(?<=\bmAU) (?=s\b)"
)
"""Spaces between what belongs together in one line: a number, its uncertainty and its unit."""
COMMAND = re.compile(r"`([^`<>]+)`")
"""A command in a sentence, as the terminal shows it."""
FOLDED = "what is folded, and where"
"""Stands in a page until it is known."""
ALWAYS = (
    "This is a calculation, not a measurement. Check the column and the instrument with a test "
    "substance before and after any change.",
    "Pressure: narrower tubes and smaller particles raise it. Stay within the limits in the "
    "manuals of the instrument, the column, the tubes and the joints. A flow cell bears far "
    "less than the column: whatever is connected behind it adds to the pressure in it. Stop the "
    "pump and let the pressure fall before opening a joint.",
    "Solvents: many eluents burn and are poisonous. Wear eye protection and gloves, catch what "
    "drips, ventilate.",
    "Lamp: its ultraviolet light harms the eyes. Switch it off and disconnect the instrument from "
    "the mains before opening the detector.",
    "Heat: let a column oven or heater cool before touching it.",
    "The manuals and the rules of the place come first. Leave to a qualified person what you are "
    "not trained for.",
)
"""On every page, whatever the result."""


def rendered(name: str, pictures: "Iterable[Picture]", **content: Any) -> str:
    """A page from a template that extends ``paper.html.j2``.

    ``name``: its file in this room. ``pictures``: set in as SVG; the template finds them as
    ``pictures``: title and element. ``**content``: what else the template asks for. Every text in
    it is escaped. The page holds no address and its policy forbids whoever opens it to fetch
    anything. The same input gives the same text on one machine.
    """
    page = template(name).render(
        folded=FOLDED,
        pictures=[
            (picture.title, Markup(inlined(picture.svg(), f"picture-{number}-")))
            for number, picture in enumerate(pictures, 1)
        ],
        versions=[("Python", platform.python_version())]
        + [(name, version(name)) for name in MAKING],
        **{"always": ALWAYS, **content},
    )
    return unbroken(page.replace(FOLDED, folded(page)))


def unbroken(page: str) -> str:
    """A page with spaces that do not break a number from its unit, and commands set as such;
    pictures and files stay as they are."""
    texts = APART.split(page)
    texts[::3] = [
        COMMAND.sub(r"<code>\1</code>", UNBROKEN.sub("\u00a0", text)) for text in texts[::3]
    ]
    return "".join(text for at, text in enumerate(texts) if at % 3 < 2)


def folded(page: str) -> str:
    """What of a page (its text) is folded, under which headings, in a sentence for its paper."""
    under: dict[str, list[str]] = {}
    heading = ""
    for found in re.finditer(r"<(h2|summary)>(.*?)</\1>", page, re.S):
        if found[1] == "h2":
            heading = found[2]
        else:
            under.setdefault(heading, []).append(found[2])
    places = "; ".join(f"under “{name}” {', '.join(what)}" for name, what in under.items())
    if not places:
        return "Nothing of this page is folded."
    return f"Folded on the screen, and on paper only where it was opened before: {places}."


def template(name: str, room: str = ROOM) -> Template:
    """A template by its file and room; it escapes every text and refuses what is missing."""
    return Environment(
        loader=FunctionLoader(lambda name: text_of(name, room)),
        autoescape=True,
        finalize=typeset,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    ).get_template(name)


def text_of(name: str, room: str = ROOM) -> str:
    """A file that lies in a room."""
    return resources.files(room).joinpath(name).read_text("utf-8")


def inlined(svg: bytes, prefix: str) -> str:
    """An SVG file as an element that may stand in an HTML page beside others.

    ``prefix``: set before every name within the picture, lest two pictures use the same one.
    Without prologue, metadata and namespaces: HTML knows an ``svg`` element by itself, and the
    addresses in them would be the only ones on the page.
    """
    root = ElementTree.fromstring(NOT_XML.sub("\ufffd", svg.decode()))
    for parent in list(root.iter()):
        for child in list(parent):
            if _local(child.tag) == "metadata":
                parent.remove(child)
    for element in root.iter():
        element.tag = _local(element.tag)
        named = {_local(key): value for key, value in element.attrib.items()}
        element.attrib.clear()
        element.attrib.update({key: _renamed(key, value, prefix) for key, value in named.items()})
    return ElementTree.tostring(root, encoding="unicode")


def _renamed(key: str, value: str, prefix: str) -> str:
    if key == "id":
        return prefix + value
    if key == "href" and value.startswith("#"):
        return f"#{prefix}{value[1:]}"
    return value.replace("url(#", f"url(#{prefix}")


def _local(name: str) -> str:
    """A name without its namespace; a browser takes ``href`` for the older ``xlink:href``."""
    return name.rpartition("}")[2]
