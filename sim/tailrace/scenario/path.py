"""The parts that a path can be made of, as they are written in ``[[path]]``."""

from typing import Annotated, Literal

from pydantic import Field

from tailrace.parts.cell.part import READS
from tailrace.parts.column.part import KINETICS, PARTICLES
from tailrace.quantities.fields import (
    Amount,
    Bore,
    FlowRate,
    Length,
    ParticleDiameter,
    PressureValue,
    Rate,
    Temperature,
    Volume,
)
from tailrace.scenario.table import Name, Table

Tanks = Annotated[
    float,
    Field(
        ge=1,
        le=1000,
        examples=[2],
        description="Equal stirred tanks that the volume is mixed as; need not be whole.",
    ),
]


class _PathPart(Table):
    name: Name = Field(description="Unique on the path.")
    temperature: Temperature | None = Field(
        None, description="Where it differs from the method's.", examples=["60 degC"]
    )


class TubeTable(_PathPart):
    """A straight, round, open tube."""

    part: Literal["tube"]
    bore: Bore
    length: Length
    heater: bool = Field(
        False,
        examples=[True],
        description="True: a heat exchanger, which brings the eluent to the column's temperature.",
    )


class FittingTable(_PathPart):
    """A joint with a gap."""

    part: Literal["fitting"]
    gap_bore: Bore
    gap_length: Length
    unswept: float = Field(
        0.0,
        ge=0,
        le=0.95,
        examples=[0.0],
        description="Fraction of the gap that the stream does not sweep: a still ring around it.",
    )


class ChamberTable(_PathPart):
    """A mixed volume that is not the cell."""

    part: Literal["chamber"]
    volume: Volume
    tanks: Tanks = 1.0


class ColumnTable(_PathPart):
    """A packed column."""

    part: Literal["column"]
    bore: Bore
    length: Length
    particle_diameter: ParticleDiameter
    particle: Literal[PARTICLES] = "fully porous"
    plates: float | None = Field(
        None,
        ge=10,
        le=1e7,
        examples=[18000],
        description="Measured or certified; overrides the plate-height curve.",
    )
    plates_flow: FlowRate | None = Field(
        None, description="Flow at which the plates were found; at others they follow the curve."
    )
    core_ratio: float | None = Field(
        None,
        ge=0,
        le=0.95,
        examples=[0.7],
        description="Core over particle diameter of core-shell particles.",
    )
    porosity: float | None = Field(
        None, gt=0.2, lt=0.9, examples=[0.52], description="Total porosity of the bed."
    )
    external_porosity: float | None = Field(
        None, gt=0.2, lt=0.7, examples=[0.4], description="Between the particles, of the bed."
    )
    head_volume: Volume | None = Field(
        None, description="Mixed volume at each end: frit and distributor.", examples=["0.5 uL"]
    )
    kinetics: Literal[KINETICS] = Field(
        KINETICS[0],
        description="Lumped: first-order exchange with the particles, from which peaks tail.",
        examples=["lumped"],
    )
    mass_transfer_rate: Rate | None = Field(
        None, description="Of the lumped exchange, dq/dt = rate (K c - q); else from the curve."
    )
    capacity: Amount | None = Field(
        None, description="What saturates the column (Langmuir).", examples=["50 umol"]
    )


class CellTable(_PathPart):
    """The flow cell of the detector."""

    part: Literal["cell"]
    volume: Volume
    tanks: Tanks = 1.0
    read: Literal[READS] = Field(
        "outlet", description="The light beam sees the liquid leaving, or the mean over the tanks."
    )
    light_path: Length | None = Field(None, examples=["10 mm"])
    pressure_limit: PressureValue | None = Field(None, examples=["60 bar"])


PART_TABLES: dict[str, type[Table]] = {
    "cell": CellTable,
    "chamber": ChamberTable,
    "column": ColumnTable,
    "fitting": FittingTable,
    "tube": TubeTable,
}
"""Every kind of part that a path can hold; a new kind is one line here."""

PartTable = Annotated[
    CellTable | ChamberTable | ColumnTable | FittingTable | TubeTable, Field(discriminator="part")
]
