"""The shapes of injection, as they are written in ``[injection]``."""

from typing import Annotated, Literal

from pydantic import Field

from tailrace.quantities.fields import Duration, Volume
from tailrace.quantities.table import Table


class PlugTable(Table):
    """A rectangle that lasts volume / flow."""

    shape: Literal["plug"]
    volume: Volume


class WashoutTable(Table):
    """A plug followed by the exponential tail of a mixed volume."""

    shape: Literal["washout"]
    volume: Volume
    washout_volume: Volume


class GaussianTable(Table):
    """A test input, centred on time zero."""

    shape: Literal["gaussian"]
    sigma: Duration = Field(description="Standard deviation in time.", examples=["0.05 s"])


class SignalTable(Table):
    """A curve read from a file."""

    shape: Literal["signal"]
    file: str = Field(
        min_length=1,
        max_length=500,
        examples=["inlet.csv"],
        description="CSV of two columns, time in s and height; relative to the scenario file.",
    )


SHAPE_TABLES: dict[str, type[Table]] = {
    "gaussian": GaussianTable,
    "plug": PlugTable,
    "signal": SignalTable,
    "washout": WashoutTable,
}

InjectionTable = Annotated[
    GaussianTable | PlugTable | SignalTable | WashoutTable, Field(discriminator="shape")
]
