"""The parts that a path can be made of, as they are written in ``[[path]]``: one table a kind."""

from functools import reduce
from operator import or_
from typing import TYPE_CHECKING, Annotated, TypeAlias

from pydantic import Field

from tailrace.parts import KINDS
from tailrace.parts.table import PathTable

PART_TABLES: dict[str, type[PathTable]] = {
    name: KINDS[name].table for name in sorted(KINDS) if KINDS[name].part.carries_flow
}

if TYPE_CHECKING:
    PartTable: TypeAlias = PathTable
else:
    PartTable = Annotated[reduce(or_, PART_TABLES.values()), Field(discriminator="part")]
