"""The gradient, as it is written in ``[gradient]``."""

from pydantic import Field

from tailrace.quantities.fields import ProgrammeTime, Volume
from tailrace.quantities.table import Table


class GradientPoint(Table):
    """One row of the programme; between two rows the composition changes in a straight line."""

    time: ProgrammeTime = Field(description="From the start of the injection, at the mixer.")
    strong: float = Field(
        ge=0, le=1, examples=[0.05], description="Volume fraction of the strong liquid."
    )


class GradientTable(Table):
    """A programme of the composition: the first row holds before it, the last one behind it."""

    programme: list[GradientPoint] = Field(
        min_length=2,
        max_length=1000,
        examples=[[{"time": "0 min", "strong": 0.05}, {"time": "10 min", "strong": 0.95}]],
        description="Rows of time and composition; two at one time are a step.",
    )
    dwell_volume: Volume | None = Field(
        None,
        examples=["400 uL"],
        description="From where the liquids meet to the inlet of the column, tubes included.",
    )
