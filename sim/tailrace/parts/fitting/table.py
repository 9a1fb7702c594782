"""A fitting as ``[[path]]`` writes it."""

from typing import Literal

from pydantic import Field

from tailrace.parts.fitting.part import EXCHANGE
from tailrace.parts.table import PathTable
from tailrace.quantities.fields import Bore, Length


class FittingTable(PathTable):
    """A joint with a gap."""

    part: Literal["fitting"]
    gap_bore: Bore
    gap_length: Length
    unswept: float = Field(
        0.0,
        ge=0,
        le=0.95,
        examples=[0.0],
        description="Fraction of the gap that the stream does not sweep: a ring around it.",
    )
    exchange: float = Field(
        EXCHANGE,
        ge=0,
        le=1000,
        examples=[2.0],
        description="Flow between jet and ring over the flow through the joint; 0: diffusion only.",
    )
