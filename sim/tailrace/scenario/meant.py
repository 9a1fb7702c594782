"""What a word that is no key of the file most likely means: the trade's names and habits."""

import re
from collections.abc import Collection

KEYS = {
    "id": ("bore", "gap_bore"),
    "innerdiameter": ("bore", "gap_bore"),
    "internaldiameter": ("bore", "gap_bore"),
    "diameter": ("bore", "gap_bore"),
    "acn": ("acetonitrile",),
    "mecn": ("acetonitrile",),
    "ch3cn": ("acetonitrile",),
    "meoh": ("methanol",),
    "ch3oh": ("methanol",),
    "h2o": ("water",),
    "flowrate": ("flow",),
    "temp": ("temperature",),
    "rt": ("retention_time",),
    "tr": ("retention_time",),
    "k": ("retention_factor",),
    "kprime": ("retention_factor",),
    "capacityfactor": ("retention_factor",),
    "samplingrate": ("rate",),
    "samplingfrequency": ("rate",),
    "frequency": ("rate",),
    "datarate": ("rate",),
    "responsetime": ("time_constant",),
    "pathlength": ("light_path",),
    "particlesize": ("particle_diameter",),
    "dp": ("particle_diameter",),
    "platenumber": ("plates",),
    "platecount": ("plates",),
    "n": ("plates",),
}
"""Keys that words (small letters alone) stand for; the first that the table has."""

PARTS = {
    "tubing": "tube",
    "capillary": "tube",
    "needle": "tube",
    "needle seat": "tube",
    "seat": "tube",
    "loop": "tube",
    "heater": "tube",
    "heat exchanger": "tube",
    "restrictor": "tube",
    "union": "fitting",
    "joint": "fitting",
    "connector": "fitting",
    "connection": "fitting",
    "valve": "chamber",
    "filter": "chamber",
    "in-line filter": "chamber",
    "inline filter": "chamber",
    "mixer": "chamber",
    "frit": "chamber",
    "guard": "column",
    "guard column": "column",
    "precolumn": "column",
    "flow cell": "cell",
    "detector cell": "cell",
}
BUFFER = re.compile(r"buffer|phosphate|formate|acetate|formic|acetic|tfa|trifluoro|ammoni|acid")
OTHERS = re.compile(
    r"ethanol|propanol|ipa|thf|tetrahydrofuran|dioxane|acetone|hexane|heptane|dmso|dmf|isooctane"
)
AS_WATER = (
    "write a dilute buffer as water, which is about as viscous (common practice, no source), or "
    'give viscosity = "0.45 mPa*s"'
)
NO_LIQUID = 'no viscosity of it is known here, give viscosity = "0.45 mPa*s" in its place'
UNQUOTED = re.compile(
    r"""\s*([A-Za-z0-9_-]+)\s*=\s*([^"'\[\]{}#,]*[A-Za-z%°µμ][^"'\[\]{}#,]*?)\s*"""
)


def key_meant(word: object, known: Collection[str]) -> str:
    """The known key that a word of the trade stands for; empty where it stands for none."""
    plain = re.sub(r"[^a-z0-9]", "", str(word)[:80].lower())
    return next((key for key in KEYS.get(plain, ()) if key in known), "")


def liquid_advice(word: object) -> str:
    """What to write for a liquid that is none of those known; empty where it is none."""
    text = str(word)[:80].lower()
    if BUFFER.search(text):
        return AS_WATER
    return NO_LIQUID if OTHERS.search(text) and text != "methanol" else ""


def part_meant(word: object) -> str:
    """The kind of part that a word of the trade is written as; empty where it is none."""
    return PARTS.get(str(word)[:80].lower().replace("_", " "), "")


def quoted(line: str) -> str:
    """A line of TOML with the quotes that its value lacks; empty where that is not its fault."""
    match = UNQUOTED.fullmatch(line.split("#")[0])
    if match is None or match[2] in ("true", "false"):
        return ""
    return f'{match[1]} = "{match[2]}"'
