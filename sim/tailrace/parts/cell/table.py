"""A flow cell as ``[[path]]`` writes it."""

import math
from collections.abc import Iterator, Mapping
from typing import Any, Literal

from pydantic import Field

from tailrace.parts.table import PathTable, Tanks, is_number
from tailrace.quantities.fields import Bore, Length, PressureValue, Volume


class CellTable(PathTable):
    """The flow cell of the detector."""

    part: Literal["cell"]
    volume: Volume | None = Field(None, description="Or bore and length.", examples=["2.4 uL"])
    bore: Bore | None = Field(None, description="With length, in place of volume.")
    length: Length | None = Field(
        None, description="It is read along this axis, and not as tanks.", examples=["10 mm"]
    )
    tanks: Tanks = 1.0
    read: Literal["outlet", "mean"] = Field(
        "outlet", description="The light beam sees the liquid leaving, or the mean over the tanks."
    )
    light_path: Length | None = Field(
        None, description="By default its length.", examples=["10 mm"]
    )
    pressure_limit: PressureValue | None = Field(None, examples=["60 bar"])

    def part_values(self) -> dict[str, Any]:
        """Values by key for the part, SI: along its axis where a length is given."""
        found = self.model_dump(exclude_none=True)
        if self.length is None:
            return found
        if self.bore is not None:
            found["volume"] = math.pi / 4 * self.bore**2 * self.length
        return {"light_path": self.length, **found, "read": "axis"}

    @classmethod
    def conflicts(cls, written: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        """Key and sentence of what does not go together within the table."""
        tanks = written.get("tanks", 1)
        if written.get("read") == "mean" and is_number(tanks) and tanks >= 1 and tanks % 1:
            yield (
                "tanks",
                f'expected a whole number with read = "mean", found {tanks:g}; '
                'round it or write read = "outlet"',
            )
        for key in ("tanks", "read"):
            if "length" in written and key in written:
                yield key, f"expected length or {key}, found both; leave out one"
        if ("volume" in written) == ("bore" in written):
            found = "both" if "volume" in written else "none"
            yield (
                "volume",
                f'expected volume = "2.4 uL", or bore and length, found {found}; give one',
            )
        elif "bore" in written and "length" not in written:
            yield "length", 'expected the key length beside bore, found none; add length = "10 mm"'
