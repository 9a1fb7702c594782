"""Mistakes in a file, each as one sentence, and what a word that is no key most likely means."""

import difflib
import json
import re
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias, get_args, get_origin

from pydantic import ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from tailrace.quantities.fields import Quantity, Table
from tailrace.quantities.kinds import kind_named
from tailrace.quantities.parse import NUMBER, shortened
from tailrace.scenario import model
from tailrace.scenario.toml import in_toml

ALIKE = 0.7
"""How like a known name another has to be spelt to be taken for it; two of four letters exchanged
are 0.75."""
MOST_KNOWN = 40
KEYS = {
    "plusminus": ("half_width",),
    "halfrange": ("half_width",),
    "sigma": ("standard_deviation",),
    "metric": ("measure",),
    "rectangular": ("uniform",),
    "gaussian": ("normal",),
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
    "t0": ("dead_time",),
    "tm": ("dead_time",),
    "holduptime": ("dead_time",),
    "voidtime": ("dead_time",),
    "tr": ("retention_time",),
    "k": ("retention_factor",),
    "kprime": ("retention_factor",),
    "capacityfactor": ("retention_factor",),
    "samplingrate": ("rate",),
    "samplingfrequency": ("rate",),
    "frequency": ("rate",),
    "datarate": ("rate",),
    "pathlength": ("light_path",),
    "particlesize": ("particle_diameter",),
    "dp": ("particle_diameter",),
    "platenumber": ("plates",),
    "platecount": ("plates",),
    "n": ("plates",),
    "tau": ("time_constant",),
}
"""Keys that words (small letters alone) stand for; the first that the table has."""

NO_MASS = (
    'no molar mass is read: give formula = "C8H10N4O2", or molar_volume = "250 cm^3/mol", which is '
    "about the molar mass in g/mol (a rule of thumb)"
)
ADVICE = {
    "molarmass": NO_MASS,
    "molecularweight": NO_MASS,
    "mw": NO_MASS,
    **dict.fromkeys(
        ("t0", "deadtime", "voidtime", "holduptime"), "write dead_time in the table of the column"
    ),
    **dict.fromkeys(
        ("deadvolume", "voidvolume", "holdupvolume"),
        "write dead_time of the column, this volume over the flow",
    ),
    "logkw": "write kw, the number itself: kw = 126 where its logarithm is 2.1",
    "responsetime": "write rise_time where it is from 10 to 90 %, as on most data sheets (common "
    "practice, no source), else time_constant",
    "benddiameter": "write bend_radius, half the diameter",
    "coildiameter": "write bend_radius, half the diameter",
}
"""What to write in place of keys (small letters alone) that no key stands for."""

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
    "mixing tee": "tee",
    "t-piece": "tee",
    "splitter": "tee",
    "split": "tee",
    "make-up": "tee",
    "makeup": "tee",
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

HALF_QUOTED = re.compile(
    r"""\s*([A-Za-z0-9_-]+)\s*=\s*"?([^"'\[\]{}#,]*[0-9A-Za-z%°µμ][^"'\[\]{}#,]*?)\s*["']{0,2}\s*"""
)
"""A quote at one end alone, or a mark of inches."""


def key_meant(word: object, known: Collection[str]) -> str:
    """The known key that a word of the trade stands for; empty where it stands for none."""
    return next((key for key in KEYS.get(_letters(word), ()) if key in known), "")


def _letters(word: object) -> str:
    return re.sub(r"[^a-z0-9]", "", str(word)[:80].lower())


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
    line = line.split("#")[0]
    match = UNQUOTED.fullmatch(line) or HALF_QUOTED.fullmatch(line)
    if match is None or match[2] in ("true", "false"):
        return ""
    value = match[2].strip()
    inches = re.fullmatch(rf"({NUMBER})\s*", value) and re.search(r"[0-9]\s*[\"']", line)
    return f'{match[1]} = "{value}{" in" * bool(inches)}"'


Place: TypeAlias = tuple[str | int, ...]
"""The keys that lead to something in a scenario; positions in lists count from 0."""
Tables: TypeAlias = dict[str, Any]
"""A scenario, or a table of it, as ``tomllib`` reads it."""

UNIONS: dict[str | int, tuple[str, Mapping[str, type[Table]]]] = {
    "path": ("part", model.PART_TABLES),
    "injection": ("shape", model.SHAPE_TABLES),
}


def _tables_of(table: type[Table], place: Place = ()) -> Iterator[tuple[Place, type[Table]]]:
    """A table and all within it, by place; 0 stands for any position in a list."""
    yield place, table
    for name, field in table.model_fields.items():
        inner = (0,) if get_origin(field.annotation) is list else ()
        for kind in () if name in UNIONS else (field.annotation, *get_args(field.annotation)):
            if isinstance(kind, type) and issubclass(kind, Table):
                yield from _tables_of(kind, (*place, name, *inner))


TABLES = dict(_tables_of(model.Document))
ARRAYS = ("path", *(place[0] for place in TABLES if place[1:] == (0,)))

EXPECTED = {
    "string_type": "a text in quotes",
    "float_type": "a number",
    "bool_type": "true or false",
    "list_type": "a list",
    "dict_type": "a table",
    "model_type": "a table",
    "model_attributes_type": "a table",
    "finite_number": "a finite number",
    "greater_than": "a number above {gt:g}",
    "greater_than_equal": "a number of {ge:g} or more",
    "less_than": "a number below {lt:g}",
    "less_than_equal": "a number of {le:g} or less",
    "string_too_short": "a text that is not empty",
    "string_too_long": "a text of at most {max_length} characters",
    "string_pattern_mismatch": "a text in one line without spaces at its ends",
    "too_short": "at least one entry",
    "too_long": "at most {max_length} entries",
}


@dataclass(frozen=True)
class Problem:
    """One thing to mend.

    Parameters
    ----------
    path : tuple of str and int
        The keys that lead to it; positions in lists count from 0.
    sentence : str
        What was expected, what was found, what to change.
    meant : str
        Of an unknown key: the known one that was probably meant.
    """

    path: Place
    sentence: str
    meant: str = ""

    @property
    def key(self) -> str:
        """The path as it is printed: ``path[2].bore``; empty for the file itself."""
        text = ""
        for step in self.path:
            if isinstance(step, int):
                text += f"[{step}]"
            else:
                plain = step.isascii() and step.replace("_", "a").isalnum()
                text += ("." if text else "") + (step if plain else shortened(step))
        return text


def problems_of(error: ValidationError, document: Tables, prefix: Place = ()) -> list[Problem]:
    """Turn pydantic's errors, of a document or of the table at a place in it, into ours."""
    found = [_problem(one, document, prefix) for one in error.errors(include_url=False)]
    return without_echoes(found, found)


def as_meant(document: Tables) -> Tables:
    """A document in which a part, or shape, of unknown kind is of the kind most likely meant.

    So that what else is wrong with it is said at once.
    """

    def known(key: str, one: Any) -> Any:
        tag, choices = UNIONS[key]
        if not isinstance(one, dict) or str(one.get(tag)) in choices or tag not in one:
            return one
        found = one[tag]
        kind = (part_meant(found) if tag == "part" else "") or nearest(found, choices)
        return one | {tag: kind} if kind else one

    return document | {
        key: [known(key, part) for part in one] if isinstance(one, list) else known(key, one)
        for key, one in document.items()
        if key in UNIONS
    }


def without_echoes(problems: Sequence[Problem], slips: Sequence[Problem]) -> list[Problem]:
    """Leave out that a key is missing where one of ``slips`` is that key misspelt."""
    tables = {one.path[:-1] for one in slips if one.meant}
    keys = {(*one.path[:-1], one.meant) for one in slips if one.meant}
    return [one for one in problems if one.path not in keys and one.path not in tables]


def unknown(what: object, name: object, known: Iterable[str]) -> str:
    """Say that a name is not a known ``"key"``, ``"part"`` or whatever, and offer the nearest; all
    that are known where none is spelt nearly alike, those that hold it first."""
    known = sorted(known, key=str.lower)
    near = key_meant(name, known) or nearest(name, known, ALIKE)
    held = str(name)[:80].lower()
    listed = [f'"{one}"' for one in sorted(known, key=lambda one: held not in one.lower())]
    if len(listed) > MOST_KNOWN:
        listed[MOST_KNOWN:] = [f"and {len(listed) - MOST_KNOWN} more"]
    advice = f'write "{near}"' if near else f"known are {', '.join(listed) or 'none'}"
    return f"expected a known {what}, found {shortened(name)}; {advice}"


def nearest(name: object, known: Iterable[str], least: float = 0.6) -> str:
    """Return the known name that is most like this one; empty where none is as like as ``least``
    (of 1, which is the same)."""
    # Compared without case: "Bore" is nearer to "bore" than to anything else.
    folded = {one.lower(): one for one in known}
    asked = str(name)[:80].lower()
    # a word that begins alike ("tubing", "tube") is nearer than one that shares its end
    alike = [one for one in folded if one[:3] == asked[:3]] or list(folded)
    near = difflib.get_close_matches(asked, alike, 1, least) or difflib.get_close_matches(
        asked, folded, 1, least
    )
    return folded[near[0]] if near else ""


def line_of(key: object, field: FieldInfo) -> str:
    """Return one line of TOML that would do for a field: ``bore = "0.12 mm"``."""
    examples = list(field.examples or ())
    for mark in field.metadata:
        if isinstance(mark, Quantity):
            examples = examples or list(kind_named(mark.kind).examples)
    if not examples:
        return str(key)
    return f"{key} = {in_toml(examples[0])}"


def _problem(error: ErrorDetails, document: Tables, prefix: Place) -> Problem:
    path = _plain((*prefix, *error["loc"]))
    kind, found, limits = error["type"], error["input"], error.get("ctx", {})
    table, key = _table(path[:-1], document), path[-1]
    fields = table.model_fields if table else {}
    field, meant = fields.get(str(key)), ""
    if kind == "quantity":
        sentence = limits["sentence"]
    elif kind == "extra_forbidden":
        sentence, meant = _unknown_key(path, table, fields)
    elif kind == "missing":
        sentence = f"expected the key {key}, found none; add {_addition(key, field) or key}"
    elif kind in ("union_tag_not_found", "union_tag_invalid"):
        tag, choices = UNIONS[path[0]]
        path = (*path, tag)
        sentence = f"expected the key {tag}, found none; add one of {', '.join(choices)}"
        if tag in found:
            sentence = _unknown_tag(tag, found[tag], choices)
    elif kind in ("float_type", "less_than_equal") and advised(key, found, field):
        sentence = advised(key, found, field)
    elif kind == "model_type" and liquid_advice(found):
        sentence = f"expected a table, found {shortened(found)}; {liquid_advice(found)}"
    elif kind == "dict_type" and path[0] == "changes" and "." in str(key):
        part, inner = str(key).rsplit(".", 1)
        sentence = (
            f"expected a table of each part, found {shortened(found)}; write "
            f"set = {{ {json.dumps(part)} = {{ {inner} = {json.dumps(found)} }} }}"
        )
    elif kind == "literal_error":
        words = re.findall("'([^']*)'", limits.get("expected", ""))
        sentence = unknown(key, found, get_args(field.annotation) if field else words)
    else:
        expected = EXPECTED[kind].format(**limits) if kind in EXPECTED else "another value"
        addition = _addition(key, field)
        advice = f"write it like {addition}" if addition else "correct it"
        sentence = f"expected {expected}, found {shortened(found)}; {advice}"
    return Problem(path, sentence, meant)


def _unknown_key(
    path: Place, table: type[Table] | None, fields: Mapping[str, FieldInfo]
) -> tuple[str, str]:
    """What to write in place of a key, and the known key that it stands for (empty: none)."""
    key = path[-1]
    meant, liquid = key_meant(key, fields), liquid_advice(key)
    if meant:
        return f'expected a known key, found {shortened(key)}; write "{meant}"', meant
    if _letters(key) in ADVICE:
        return f"expected a known key, found {shortened(key)}; {ADVICE[_letters(key)]}", ""
    if liquid and "acetonitrile" in fields:
        return f"expected a known liquid, found {shortened(key)}; {liquid}", ""
    if not fields:  # of a row within a table
        return f"expected a known key, found {shortened(key)}; check how it is written", ""
    other = _of_another(path, table)
    return other or unknown("key", key, fields), "" if other else nearest(key, fields)


def _unknown_tag(tag: str, found: object, choices: Iterable[str]) -> str:
    kind = part_meant(found) if tag == "part" else ""
    if not kind:
        return unknown(tag, found, choices)
    return (
        f'expected a known part, found {shortened(found)}; write part = "{kind}", and call it '
        f"{shortened(found)} by its name"
    )


def advised(key: object, found: object, field: FieldInfo | None) -> str:
    """What was meant by a percentage, a time or a text in place of a number; empty for others."""
    if key == "plates" and re.fullmatch(r"[0-9]{1,3}([ ,][0-9]{3})*", str(found)):
        count = re.sub("[ ,]", "", str(found))
        return f"expected a number, found {shortened(found)}; write plates = {count}"
    number = re.fullmatch(r"\s*([0-9.]+)\s*(%|min|s)?\s*", str(found))
    if field is None or number is None:
        return ""
    if key == "retention_factor" and number[2] in ("min", "s"):
        return f"expected a number, found {shortened(found)}; write retention_time = " + (
            shortened(found)
        )
    share = key == "relative" or any(getattr(mark, "le", None) == 1 for mark in field.metadata)
    if share and number[2] in (None, "%") and 1 < float(number[1]) <= 100:
        meant = f"{key} = {float(number[1]) / 100:g}"
        return (
            f"expected a fraction, a number of 1 or less, found {shortened(found)}; write {meant}"
        )
    return ""


def _of_another(path: Place, table: type[Table] | None) -> str:
    """Say that a key belongs to another kind of part or shape; empty where it does not."""
    if path[0] not in UNIONS:
        homes = [_heading(home) for home, one in TABLES.items() if path[-1] in one.model_fields]
        if len(path) > 1 or not homes:
            return ""
        return (
            f"expected a table, found {path[-1]}, a key of {' or '.join(homes)}; put the line "
            "with the name of its table above it"
        )
    tag, choices = UNIONS[path[0]]
    owners = [name for name, one in choices.items() if path[-1] in one.model_fields]
    if not owners:
        return ""
    this = next(name for name, one in choices.items() if one is table)
    return (
        f"expected a key of {this}, found {path[-1]}, which belongs to {' and '.join(owners)}; "
        f"leave it out or change {tag}"
    )


def _heading(place: Place) -> str:
    """The line that a table begins with: ``[method.eluent]``, ``[[solutes]]``."""
    name = ".".join(str(step) for step in place if step != 0)
    return f"[[{name}]]" if 0 in place else f"[{name}]"


def _plain(location: Place) -> Place:
    """Take out the name of the chosen kind, which pydantic puts into the path."""
    if location[:1] == ("path",):
        return location[:2] + location[3:]
    if location[:1] == ("injection",):
        return location[:1] + location[2:]
    return location


def _table(path: Place, document: Any) -> type[Table] | None:
    """Return the model of the table at a path; None where the path leads into a list or value."""
    if path and path[0] in UNIONS:
        tag, choices = UNIONS[path[0]]
        for step in path:
            document = document[step]
        return choices.get(str(document.get(tag))) if isinstance(document, dict) else None
    return TABLES.get(tuple(0 if isinstance(step, int) else step for step in path))


def _addition(key: str | int, field: FieldInfo | None) -> str:
    if key in ARRAYS:
        return f"[[{key}]]"
    if key in UNIONS or (key,) in TABLES:
        return f"[{key}]"
    return line_of(key, field) if field else ""
