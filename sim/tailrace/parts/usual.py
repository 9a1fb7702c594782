"""What instruments have: parts by their names, how they are written, and what is usual of them.

All ranges are common practice, no source: a value outside is rare, not wrong.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from tailrace.quantities.kinds import plain, show
from tailrace.quantities.parse import parse

KIND_OF_KEY = {
    "bore": "bore",
    "gap_bore": "bore",
    "length": "length",
    "gap_length": "length",
    "light_path": "length",
    "particle_diameter": "particle diameter",
    "volume": "volume",
    "head_volume": "volume",
    "make_up": "flow rate",
}
"""Kind of quantity of each key below; the others are plain numbers."""


@dataclass(frozen=True, kw_only=True)
class Usual:
    """One part that instruments have.

    Parameters
    ----------
    name : str
        As the trade calls it.
    part : str
        The kind that it is written as.
    words : tuple of str
        Of which the name of a part holds one where it is such a part; none: any of its kind.
    ranges : dict of str to (str, str, str)
        By key: least, typical and greatest value, as a file holds them.
    also : tuple of str
        What else it is called, in words that a name holds.
    written : dict of str to bool or str
        More that its table holds.
    """

    name: str
    part: str
    words: tuple[str, ...] = ()
    ranges: Mapping[str, tuple[str, str, str]]
    remark: str = ""
    also: tuple[str, ...] = ()
    written: Mapping[str, bool | str] = field(default_factory=dict)

    def limits(self, key: str) -> tuple[float, float]:
        """Least and greatest usual value, SI."""
        low, _, high = self.ranges[key]
        return number(low, key), number(high, key)

    def shown(self, key: str) -> str:
        """The range of a key as people read it."""
        low, _, high = self.ranges[key]
        return f"{key} {low} to {high}"


USUAL = (
    Usual(
        name="needle seat",
        part="tube",
        words=("needle", "seat"),
        also=("sample needle",),
        ranges={
            "bore": ("0.07 mm", "0.12 mm", "0.25 mm"),
            "length": ("30 mm", "100 mm", "300 mm"),
        },
    ),
    Usual(
        name="valve",
        part="chamber",
        words=("valve", "groove"),
        ranges={"volume": ("20 nL", "0.3 uL", "2 uL")},
        remark="a groove of the rotor, with the passages of the stator, as one mixed volume; a "
        "bored passage of known bore and length is a capillary",
        also=("rotor", "stator"),
    ),
    Usual(
        name="loop",
        part="tube",
        words=("loop",),
        ranges={"bore": ("0.1 mm", "0.25 mm", "1 mm"), "volume": ("1 uL", "20 uL", "2 mL")},
        remark="that the band passes, such as one where peaks are parked; the loop that holds the "
        'sample stands in [injection] alone: shape = "loop"',
    ),
    Usual(
        name="heater",
        part="tube",
        words=("heater", "heat exchanger"),
        ranges={"bore": ("0.1 mm", "0.17 mm", "0.3 mm"), "volume": ("1 uL", "3 uL", "15 uL")},
        written={"heater": True},
        remark="makers state its volume, seldom its bore: 0.17 mm is a guess; write length in its "
        "place where that is known",
        also=("preheat", "pre-heat"),
    ),
    Usual(
        name="restrictor",
        part="tube",
        words=("restrict", "back pressure", "back-pressure"),
        ranges={
            "bore": ("0.02 mm", "0.065 mm", "0.13 mm"),
            "length": ("20 mm", "1 m", "20 m"),
        },
        remark="behind the cell: it counts for the pressure",
    ),
    Usual(
        name="waste line",
        part="tube",
        words=("waste",),
        ranges={
            "bore": ("0.1 mm", "0.5 mm", "2 mm"),
            "length": ("50 mm", "700 mm", "5 m"),
        },
        remark="behind the cell: it counts for the pressure, never for the recorded peak",
        also=("drain", "outlet line"),
    ),
    Usual(
        name="capillary",
        part="tube",
        ranges={
            "bore": ("0.02 mm", "0.12 mm", "0.8 mm"),
            "length": ("10 mm", "350 mm", "3 m"),
        },
        also=("tube", "tubing", "transfer line", "connection line"),
    ),
    Usual(
        name="union",
        part="fitting",
        ranges={
            "gap_bore": ("0.1 mm", "0.5 mm", "1.7 mm"),
            "gap_length": ("5 um", "0.1 mm", "3 mm"),
        },
        remark="any joint, well or badly cut: the gap between the end of the tube and the bottom "
        "of the port",
        also=("joint", "fitting", "connector", "connection", "ferrule", "coupling", "port"),
    ),
    Usual(
        name="in-line filter",
        part="chamber",
        words=("filter", "frit"),
        ranges={"volume": ("20 nL", "1 uL", "20 uL")},
    ),
    Usual(
        name="mixer",
        part="chamber",
        ranges={"volume": ("20 nL", "10 uL", "400 uL")},
        remark="on the way of the sample; or any other volume in which the liquid mixes",
        also=("mixed volume", "damper", "chamber"),
    ),
    Usual(
        name="guard column",
        part="column",
        words=("guard",),
        ranges={
            "bore": ("1 mm", "2.1 mm", "5 mm"),
            "length": ("2 mm", "5 mm", "30 mm"),
            "particle_diameter": ("1.5 um", "2.7 um", "15 um"),
            "plates": ("50", "800", "20000"),
        },
        remark="it counts as a column: what the column alone gives is then that of both",
        also=("precolumn", "pre-column"),
        written={"particle": "core-shell"},
    ),
    Usual(
        name="column",
        part="column",
        ranges={
            "bore": ("0.05 mm", "2.1 mm", "22 mm"),
            "length": ("20 mm", "100 mm", "500 mm"),
            "particle_diameter": ("1.3 um", "2.7 um", "20 um"),
            "plates": ("500", "18000", "100000"),
            "head_volume": ("10 nL", "0.5 uL", "20 uL"),
        },
        written={"particle": "core-shell"},
    ),
    Usual(
        name="make-up",
        part="tee",
        words=("make",),
        ranges={"make_up": ("10 uL/min", "0.3 mL/min", "10 mL/min")},
        remark="behind the column: flow that joins; it dilutes",
        also=("tee", "t-piece", "post-column"),
    ),
    Usual(
        name="split",
        part="tee",
        words=("split",),
        ranges={"split_share": ("0.01", "0.8", "0.9999")},
        remark="behind the column: share of the flow that leaves",
    ),
    Usual(
        name="cell",
        part="cell",
        ranges={
            "volume": ("10 nL", "2 uL", "20 uL"),
            "light_path": ("0.2 mm", "10 mm", "100 mm"),
        },
        also=("cuvette",),
    ),
)
"""The first row that fits is that of a part; the one of its kind without words is the last."""


PREPOSITION = " (?:to|of|from|before|behind|after|for|at|with) "
SEVERAL = {
    "auto-?sampler": 'its parts one by one: "needle seat", "capillary", "valve"; the sample in '
    '[injection], with shape = "loop" where the loop stays in the stream',
    "injector": 'its parts one by one: "needle seat", "capillary", "valve"',
    "pump": "nothing: what lies before the injection broadens no peak; a gradient has its "
    "dwell_volume in [gradient]",
    "degasser": "nothing: what lies before the injection broadens no peak",
    "oven": 'the temperature in [method], and "heater" for the tube in it that the band passes',
    "detector": '"cell"; [detector] holds filter and points of the one that records',
    "lamp": '"cell"; [detector] holds filter and points of the one that records',
}
"""What to write for words of the trade that are no single part."""


def row_meant(word: str) -> Usual | str:
    """The row that a name of the trade stands for, or what to write in its place; empty: neither.

    The noun of a name is the last of its words, or the last before a preposition.
    """
    asked = " ".join(word.lower().replace("_", " ").split())
    texts: list[tuple[str, Usual | str]] = [*SEVERAL.items()]
    texts += [(text, one) for one in USUAL for text in (one.name, *one.words, *one.also)]
    for held in (re.split(PREPOSITION, asked)[0], asked):
        found = [
            (match.end(), len(text), meant)
            for text, meant in texts
            for match in re.finditer(rf"\b{text}", held)
        ]
        if found:
            return max(found, key=lambda row: row[:2])[2]
    return ""


def number(text: str, key: str) -> float:
    """The value of a key, SI, as a file holds it."""
    return parse(text, KIND_OF_KEY[key]) if key in KIND_OF_KEY else float(text)


def usual_of(part: str, name: str) -> Usual | None:
    """The row of a part by its kind and name; None where its kind has none."""
    name = name.lower()
    return next(
        (
            one
            for one in USUAL
            if one.part == part and (not one.words or any(word in name for word in one.words))
        ),
        None,
    )


def outside(part: str, name: str, values: Mapping[str, float]) -> Iterator[str]:
    """A sentence for each value (SI, by key) of a part that lies outside what is usual."""
    row = usual_of(part, name)
    if row is None:
        return
    for key in row.ranges:
        low, high = row.limits(key)
        value = values.get(key)
        # a part in a million of rounding does not make a value unusual
        if value is not None and not low * (1 - 1e-6) <= value <= high * (1 + 1e-6):
            found = show(value, KIND_OF_KEY[key]) if key in KIND_OF_KEY else plain(value)
            least, _, most = row.ranges[key]
            yield (
                f"{name}: {key} {found} lies outside what is usual of a {row.name}, {least} to "
                f"{most} (common practice, no source); check the value and its unit"
            )


TOLERANCES: Mapping[tuple[str, str], str] = {
    ("tube", "bore"): "10 %",
    ("tube", "length"): "2 mm",
    ("tube", "volume"): "20 %",
    ("chamber", "volume"): "10 %",
    ("cell", "volume"): "10 %",
    ("column", "plates"): "10 %",
    ("injection", "volume"): "2 %",
    ("detector", "time_constant"): "10 %",
    ("detector", "rise_time"): "10 %",
    ("method", "flow"): "1 %",
}
"""Half widths within which makers typically keep what they state, by kind of part or table and by
key: common practice, no source. Joints have none, for they are made by hand."""
