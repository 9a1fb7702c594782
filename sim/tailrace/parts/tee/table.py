"""A tee as ``[[path]]`` writes it."""

from collections.abc import Iterator, Mapping
from typing import Any, Literal

from pydantic import Field

from tailrace.parts.table import PathTable, flow_of, is_number
from tailrace.quantities.fields import FlowRate, Volume

WAYS = ("make_up", "split", "split_share")
"""What a tee does: one of these."""


class TeeTable(PathTable):
    """A tee behind the column, where flow joins or leaves."""

    part: Literal["tee"]
    volume: Volume | None = Field(None, description="Mixed; none: it mixes at once.")
    make_up: FlowRate | None = Field(
        None, description="Flow that joins, without solute.", examples=["0.3 mL/min"]
    )
    split: FlowRate | None = Field(None, description="Flow that leaves.", examples=["0.4 mL/min"])
    split_share: float | None = Field(
        None, gt=0, lt=1, examples=[0.8], description="Share of the flow that leaves."
    )

    @classmethod
    def conflicts(cls, written: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        """Key and sentence of what does not go together within the table."""
        given = [key for key in WAYS if key in written]
        if len(given) != 1:
            found = "none" if not given else " and ".join(given)
            yield (
                given[-1] if given else "part",
                f"expected one of {', '.join(WAYS)}, found {found}; write what joins or leaves "
                "here, each at a tee of its own",
            )

    @classmethod
    def flow_behind(cls, written: Mapping[str, Any], arrives: float) -> float:
        """With what joins or leaves."""
        share = written.get("split_share", 0.0)
        joins, leaves = (
            flow_of(written[key]) if key in written else 0.0 for key in ("make_up", "split")
        )
        remaining = 1 - share if is_number(share) and 0 < share < 1 else 1.0
        return (arrives + joins - leaves) * remaining
