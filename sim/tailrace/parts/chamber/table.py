"""A chamber as ``[[path]]`` writes it."""

from typing import Literal

from tailrace.parts.table import PathTable, Tanks
from tailrace.quantities.fields import Volume


class ChamberTable(PathTable):
    """A mixed volume that is not the cell."""

    part: Literal["chamber"]
    volume: Volume
    tanks: Tanks = 1.0
