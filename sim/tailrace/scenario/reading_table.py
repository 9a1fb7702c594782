"""How metrics are read and how far the model may lie off: ``[[reading]]``, ``[discrepancy]``."""

from typing import Any

from pydantic import Field

from tailrace.quantities.fields import Name, Table


class ReadingTable(Table):
    """How well one metric is read: the same instrument, measured again."""

    measure: Name = Field(examples=["plates"], description="As in [[accept]].")
    solute: Name | None = Field(
        None, examples=["cohumulone"], description="Every solute, or pair, if it is left out."
    )
    standard_deviation: Any = Field(
        None, examples=["20 ms"], description="Of one reading, in the unit of the metric."
    )
    relative: float | None = Field(
        None, gt=0, le=1, examples=[0.01], description="The same over the metric."
    )
    repeats: list[Any] | None = Field(
        None,
        max_length=10_000,
        examples=[[11820, 11910, 11770, 11850]],
        description="Readings of one instrument, instead: their spread is that of one reading.",
    )
    simulated: int | None = Field(
        None,
        ge=20,
        le=10_000,
        examples=[200],
        description="So many signals of the scenario with noise as [detector] has it, each read as "
        "`tailrace measure` does, instead.",
    )
    because: str = Field(
        "", max_length=500, examples=["six injections"], description="Where it is from."
    )


class DiscrepancyTable(Table):
    """How far the model itself may lie off, beside what its inputs do."""

    relative: float = Field(
        0.0,
        ge=0,
        le=1,
        examples=[0.05],
        description="Standard uncertainty of plates as the model gives them, over them; widths and "
        "resolution go half as far. 0: the model is taken as exact.",
    )
    because: str = Field(
        "", max_length=500, examples=["validation table"], description="Where it is from."
    )
