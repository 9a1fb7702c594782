"""A result as one HTML page that stands alone: no script, nothing fetched, ready to be printed."""

import math
import platform
import re
from importlib import resources
from importlib.metadata import version
from xml.etree import ElementTree

from jinja2 import Environment, StrictUndefined
from markupsafe import Markup

from tailrace.records.losses import worst_first
from tailrace.records.record import as_result
from tailrace.records.vocabulary import MEASURES
from tailrace.report.findings import BAR, conclusion, pressure_line
from tailrace.report.numbers import significant
from tailrace.report.signals import critical_line, signal_tables
from tailrace.report.tables import Table, parts_table, recorded_table

LIBRARIES = ("numpy", "scipy", "numba", "xarray", "matplotlib")
"""What the figures depend on besides tailrace itself."""

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

NOT_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff]")
"""Characters that a name may hold and that no XML may (XML 1.0, production 2)."""

FIGURE_HEAD = (("figure", ""), ("", "unit"), ("recorded", "value"), ("numerical", "error"))
PRESSURE_HEAD = (("part", ""), ("pressure drop", "bar"))


def as_page(record, provenance, pictures):
    """Everything that is known about a run, as one HTML file.

    Parameters
    ----------
    record : xarray.DataTree or Result
    provenance : Provenance
    pictures : sequence of Picture
        Set into the page as SVG, in this order.

    Returns
    -------
    str
        The same input gives the same text on one machine. It holds no address, and its policy
        forbids whoever opens it to fetch anything.
    """
    result = as_result(record)
    order = worst_first(result)
    return _template().render(
        provenance=provenance,
        conclusion=conclusion(result),
        warnings=result.warnings,
        always=ALWAYS,
        recorded=[recorded_table(result), *signal_tables(result)],
        critical=critical_line(result),
        solutes=[(parts_table(result, lane), figures_table(result, lane)) for lane in order],
        pressure_line=pressure_line(result.pressure),
        pressure=pressure_table(result.pressure),
        pictures=[
            (picture.title, Markup(inlined(picture.svg(), f"picture-{number}-")))
            for number, picture in enumerate(pictures, 1)
        ],
        versions=[("Python", platform.python_version())]
        + [(name, version(name)) for name in LIBRARIES],
    )


def figures_table(result, lane):
    """Every figure read off one recorded peak, with its estimated numerical error.

    Parameters
    ----------
    result : Result
    lane : int

    Returns
    -------
    Table
        A dash where a figure, or its error, does not exist.
    """
    rows = []
    for name, (unit, meaning) in MEASURES.items():
        if name in result.recorded:
            error = result.numerical_error.get(name)
            rows.append(
                (
                    meaning,
                    "" if unit == "1" else unit,
                    significant(result.recorded[name][lane], 5),
                    significant(math.nan if error is None else abs(error[lane]), 2),
                )
            )
    return Table(f"Figures of the recorded peak: {result.lanes[lane]}", FIGURE_HEAD, tuple(rows))


def pressure_table(pressure):
    """The pressure drop of each part (Pressure, in Pa); returns Table, in bar."""
    rows = [(name, significant(drop / BAR)) for name, drop in pressure.parts.items()]
    rows.append(("whole path", significant(pressure.total / BAR)))
    return Table("Pressure drop of each part", PRESSURE_HEAD, tuple(rows), last_is_sum=True)


def inlined(svg, prefix):
    """An SVG file as an element that may stand in an HTML page beside others.

    Parameters
    ----------
    svg : bytes
    prefix : str
        Set before every name within the picture, lest two pictures use the same one.

    Returns
    -------
    str
        Without prologue, metadata and namespaces: HTML knows an ``svg`` element by itself, and
        the addresses in them would be the only ones on the page.
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


def _renamed(key, value, prefix):
    if key == "id":
        return prefix + value
    if key == "href" and value.startswith("#"):
        return f"#{prefix}{value[1:]}"
    return value.replace("url(#", f"url(#{prefix}")


def _local(name):
    """A name without its namespace; a browser takes ``href`` for the older ``xlink:href``."""
    return name.rpartition("}")[2]


def _template():
    text = resources.files("tailrace.report").joinpath("page.html.j2").read_text("utf-8")
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    return environment.from_string(text)
