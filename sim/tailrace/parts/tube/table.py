"""A tube as ``[[path]]`` writes it."""

import math
from collections.abc import Iterator, Mapping
from typing import Any, Literal

from pydantic import Field, field_serializer

from tailrace.errors import QuantityError
from tailrace.parts.table import PathTable
from tailrace.quantities.fields import BendRadius, Bore, Length, Table, Volume
from tailrace.quantities.kinds import KINDS, show
from tailrace.quantities.parse import parse

SIZES = {"bore": "0.12 mm", "length": "300 mm", "volume": "4.5 uL"}
"""Any two of them say the third."""
SAME_LENGTH = 1e-3
"""Relative; lengths are rounded where they are written."""


class BendTable(Table):
    """A stretch of a tube with one bend."""

    length: Length
    radius: BendRadius
    turn: Literal["on", "back"] = Field(
        "on", examples=["back"], description="Back: it bends the other way, as in an S."
    )


class TubeTable(PathTable):
    """A round, open tube, straight or bent."""

    part: Literal["tube"]
    bore: Bore | None = Field(None, description="Two of bore, length and volume.")
    length: Length | None = Field(None, description="Two of bore, length and volume.")
    volume: Volume | None = Field(
        None, description="In place of bore or length.", examples=["4.5 uL"]
    )
    bend_radius: BendRadius | None = Field(
        None, description="Of its axis; else that of the method, or straight."
    )
    bends: list[BendTable] | None = Field(
        None,
        min_length=1,
        max_length=100,
        examples=[
            [{"length": "60 mm", "radius": "15 mm"}, {"length": "340 mm", "radius": "straight"}]
        ],
        description="Stretches behind each other that make up its length.",
    )
    inlet: Literal["mixed", "carried over"] = Field(
        "mixed",
        examples=["carried over"],
        description="Carried over: with the profile over the section that leaves the tube before.",
    )
    heater: bool = Field(
        False,
        examples=[True],
        description="True: a heat exchanger, which brings the eluent to the column's temperature.",
    )

    @field_serializer("bends")
    def _plain(self, bends: list[BendTable] | None) -> tuple[tuple[float, float, bool], ...] | None:
        if bends is None:
            return None
        return tuple((one.length, one.radius, one.turn == "back") for one in bends)

    def part_values(self) -> dict[str, Any]:
        """Values by key for the part, SI: bore and length, whichever two sizes are given."""
        found = self.model_dump(exclude_none=True)
        volume = found.pop("volume", None)
        if volume is not None:
            found |= _third({"volume": volume, **found})
        return found

    @classmethod
    def conflicts(cls, written: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        """Key and sentence of what does not go together within the table."""
        given = [key for key in SIZES if key in written]
        if len(given) == len(SIZES):
            yield "volume", "expected two of bore, length and volume, found all; leave out one"
        elif len(given) < 2:
            for key in [one for one in ("bore", "length") if one not in given][: 2 - len(given)]:
                guess = " or length; a bore that is guessed matters" if "volume" in given else ""
                yield key, f'expected the key {key}, found none; add {key} = "{SIZES[key]}"{guess}'
        elif "volume" in given:
            yield from _impossible(written)
        if written.get("bends") is not None:
            yield from _unfitting(written, written["bends"])


def _third(sizes: Mapping[str, float]) -> dict[str, float]:
    """Bore or length from the volume and the other, m."""
    if "bore" in sizes:
        return {"length": sizes["volume"] / (math.pi / 4 * sizes["bore"] ** 2)}
    return {"bore": math.sqrt(sizes["volume"] / (math.pi / 4 * sizes["length"]))}


def _unfitting(
    written: Mapping[str, Any], bends: list[dict[str, Any]]
) -> Iterator[tuple[str, str]]:
    """Bends beside one bend radius, or of another length than the tube."""
    if "bend_radius" in written:
        yield (
            "bend_radius",
            "expected either bend_radius or bends, found both; leave out one of them",
        )
    try:
        whole = parse(written["length"], "length")
        found = sum(parse(one["length"], "length") for one in bends)
    except (QuantityError, KeyError, TypeError):
        return  # said where the value stands; with a volume the stretches share the length
    if abs(found - whole) > SAME_LENGTH * whole:
        yield (
            "bends",
            f"expected stretches that make up the length of {show(whole, 'length')}, found "
            f"{show(found, 'length')} together; mend the lengths",
        )


def _impossible(written: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """A volume that no bore or length makes."""
    try:
        sizes = {key: parse(written[key], key) for key in SIZES if key in written}
    except QuantityError:
        return  # said where the value stands
    for key, value in _third(sizes).items():
        if not KINDS[key].lowest <= value <= KINDS[key].greatest:
            yield (
                "volume",
                f"expected a volume with which the {key} is one from {KINDS[key].bounds}, found a "
                f"{key} of {show(value, key)}; check the volume and its unit",
            )
