"""A tube as ``[[path]]`` writes it."""

from typing import Literal

from pydantic import Field

from tailrace.parts.table import PathTable
from tailrace.quantities.fields import Bore, Length


class TubeTable(PathTable):
    """A straight, round, open tube."""

    part: Literal["tube"]
    bore: Bore
    length: Length
    heater: bool = Field(
        False,
        examples=[True],
        description="True: a heat exchanger, which brings the eluent to the column's temperature.",
    )
