"""What drifts as an instrument is used, and when it is tested again, as files write it."""

from typing import Any, Literal

from pydantic import Field

from tailrace.quantities.fields import Table

RISK, MONTHS = 0.05, 24.0
"""Our own choice."""
Per = Literal["month", "1000 injections"]


class DriftTable(Table):
    """One field that drifts in a straight line from where each instrument stands."""

    field: str = Field(
        min_length=1,
        max_length=200,
        examples=["detector.noise"],
        description="As in [[uncertain]], where it may stand, too.",
    )
    change: Any = Field(
        None, examples=["2 um"], description="In the unit of the field, of either sign."
    )
    relative: float | None = Field(
        None, ge=-10, le=10, examples=[0.03], description="The same over the scenario's value."
    )
    per: Per = Field("month", examples=["month"], description="In which it changes so much.")
    uncertainty: float = Field(
        0.0,
        ge=0,
        le=2,
        examples=[0.3],
        description="Standard deviation of that from instrument to instrument, over it (normal).",
    )
    because: str = Field(
        "", max_length=500, examples=["logbook of three lamps"], description="Where it is from."
    )


class RetestTable(Table):
    """When an instrument that drifts is tested again."""

    risk: float = Field(
        RISK,
        gt=0,
        lt=0.5,
        examples=[RISK],
        description="Of having fallen below what [[accept]] asks, at most.",
    )
    months: float = Field(
        MONTHS, gt=0, le=600, examples=[MONTHS], description="How far is looked ahead."
    )
    injections_per_month: float | None = Field(
        None, gt=0, le=1e7, examples=[400], description="Where a drift is per 1000 injections."
    )
