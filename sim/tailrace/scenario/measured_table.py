"""What was measured on the instrument, as it is written in ``[[measured]]``."""

from typing import Any

from pydantic import Field

from tailrace.measurements.signal import Wanted
from tailrace.quantities.fields import (
    DataRate,
    Duration,
    FlowRate,
    Name,
    ProgrammeTime,
    ResponseTime,
    Table,
    Temperature,
    Volume,
)


class ColumnsTable(Table):
    """Where times and signal stand in a text."""

    time: int | str | None = Field(None, examples=[1], description="Number from 1, or heading.")
    signal: int | str | None = Field(None, examples=["UV 280"])


class MeasuredTable(Table):
    """One signal, and what differed from the scenario when it was recorded."""

    name: Name = Field(examples=["union, 0.5 mL/min"])
    file: str = Field(
        min_length=1,
        max_length=500,
        examples=["union-0.5.csv"],
        description="Text, or netCDF after ASTM E1947; relative to the scenario file.",
    )
    solute: Name | None = Field(None, description="May be left out where there is one.")
    flow: FlowRate | None = None
    temperature: Temperature | None = None
    injected_volume: Volume | None = None
    time_constant: ResponseTime | None = None
    rise_time: ResponseTime | None = None
    interval: Duration | None = Field(
        None, description="Of files of values alone; else the file's own points count."
    )
    rate: DataRate | None = None
    averaged: bool | None = Field(None, examples=[True])
    moving_average: ResponseTime | None = None
    without: list[Name] = Field(
        default_factory=list, examples=[["column"]], description="Parts that were taken out."
    )
    set: dict[str, dict[str, Any]] = Field(
        default_factory=dict, examples=[{"union": {"gap_length": "0.2 mm"}}]
    )
    replace: dict[str, dict[str, Any]] = Field(default_factory=dict)
    insert: list[dict[str, Any]] = Field(default_factory=list, max_length=200)
    changes: list[Name] = Field(
        default_factory=list,
        examples=[["small flow cell"]],
        description="Of [[changes]], those already made.",
    )
    time_unit: str = Field("", max_length=10, examples=["min"])
    signal_unit: str = Field("", max_length=20, examples=["mAU"])
    columns: ColumnsTable = Field(default_factory=lambda: ColumnsTable.model_validate({}))
    window: list[ProgrammeTime] | None = Field(
        None, min_length=2, max_length=2, examples=[["2.0 min", "2.6 min"]]
    )
    baseline: str = Field(
        "line",
        min_length=1,
        max_length=500,
        description="constant, line, smooth, or the file of a blank run.",
    )
    same_as: Name | None = Field(None, description="A measurement that this one repeats.")

    @property
    def wanted(self) -> Wanted:
        """What the reader is told."""
        interval = self.interval if self.rate is None else 1 / self.rate
        return Wanted(
            time_unit=self.time_unit,
            signal_unit=self.signal_unit,
            time=self.columns.time,
            signal=self.columns.signal,
            interval=interval,
        )
