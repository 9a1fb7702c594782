"""A flow cell as ``[[path]]`` writes it."""

from collections.abc import Iterator, Mapping
from typing import Any, Literal

from pydantic import Field

from tailrace.parts.table import PathTable, Tanks, is_number
from tailrace.quantities.fields import Length, PressureValue, Volume


class CellTable(PathTable):
    """The flow cell of the detector."""

    part: Literal["cell"]
    volume: Volume
    tanks: Tanks = 1.0
    read: Literal["outlet", "mean"] = Field(
        "outlet", description="The light beam sees the liquid leaving, or the mean over the tanks."
    )
    light_path: Length | None = Field(None, examples=["10 mm"])
    pressure_limit: PressureValue | None = Field(None, examples=["60 bar"])

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
