"""What the tables of all parts of ``[[path]]`` have in common."""

from collections.abc import Iterator, Mapping
from typing import Annotated, Any

from pydantic import Field

from tailrace.errors import QuantityError
from tailrace.quantities.fields import Name, Table, Temperature
from tailrace.quantities.parse import parse

Tanks = Annotated[
    float,
    Field(
        ge=1,
        le=1000,
        examples=[2],
        description="Equal stirred tanks that the volume is mixed as; need not be whole.",
    ),
]


class PathTable(Table):
    """A part as ``[[path]]`` writes it; keys that the part has too are handed on to it."""

    part: str
    name: Name = Field(description="Unique on the path.")
    temperature: Temperature | None = Field(
        None, description="Where it differs from the method's.", examples=["60 degC"]
    )

    def part_values(self) -> dict[str, Any]:
        """Values by key for the part's dataclass, SI; keys that are not given are left out."""
        return self.model_dump(exclude_none=True)

    @classmethod
    def conflicts(cls, written: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        """Key and sentence of what does not go together within the table.

        ``written`` is the table as it stands in the file; wrong types are passed over.
        """
        yield from ()

    @classmethod
    def conflicts_beside(
        cls, written: Mapping[str, Any], solutes: list[dict[str, Any]], changing: str
    ) -> Iterator[tuple[str, str]]:
        """Key and sentence of what does not go with the solutes, or with a liquid that changes.

        ``changing`` names what changes it: a gradient, or the sample's own solvent.
        """
        yield from ()

    @classmethod
    def flow_behind(cls, written: Mapping[str, Any], arrives: float) -> float:
        """Flow behind the part where this arrives, m^3/s; NaN where it cannot be read."""
        return arrives


def flow_of(written: object) -> float:
    """A flow as the file has it, m^3/s; NaN for what is none, which is reported where it stands."""
    try:
        return parse(written, "flow rate") if isinstance(written, str) else float("nan")
    except QuantityError:
        return float("nan")


def is_number(value: object) -> bool:
    """Whether a value of the file is a number."""
    return isinstance(value, int | float) and not isinstance(value, bool)
