"""What is uncertain, as ``[[uncertain]]`` and ``[[correlated]]`` write it."""

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from tailrace.quantities.fields import Table
from tailrace.scenario.distribution import Word

Kind = Annotated[
    Literal["tolerance", "knowledge", "injection"],
    # its name before how a metric is read had a table of its own
    BeforeValidator(lambda word: "knowledge" if word == "measurement" else word),
]


class UncertainTable(Table):
    """One field, and how it is spread about the value that the scenario gives it."""

    field: str = Field(
        min_length=1,
        max_length=200,
        examples=["flow cell.volume"],
        description="As for `sweep --vary`: a table, a part or a solute, a point, and a key.",
    )
    distribution: Word = Field(examples=["normal"])
    standard_deviation: Any = Field(
        None, examples=["2 um"], description="normal: in the unit of the field."
    )
    relative: float | None = Field(
        None,
        gt=0,
        le=10,
        examples=[0.02],
        description="Over the scenario's value: the standard deviation (normal), the half width "
        "(uniform, triangular, trapezoidal), the standard deviation of the logarithm (lognormal).",
    )
    half_width: Any = Field(
        None, examples=["5 um"], description="uniform, triangular, trapezoidal."
    )
    low: Any = Field(None, examples=["0.16 mm"], description="Least value; instead of half_width.")
    high: Any = Field(None, examples=["0.18 mm"], description="Greatest value, beside low.")
    top_half_width: Any = Field(
        None,
        examples=["2 um"],
        description="trapezoidal: half width of the flat top; beside relative, a plain number.",
    )
    file: str | None = Field(
        None,
        min_length=1,
        max_length=500,
        examples=["bores.csv"],
        description="data: one value a line in the unit in the first line; relative to the "
        "scenario file. The sorted values, joined by straight lines, are the distribution.",
    )
    kind: Kind = Field(
        "tolerance",
        examples=["knowledge"],
        description="Tolerance: what instruments differ in; knowledge: what is not known of this "
        "one; injection: what varies from one injection to the next, for an RSD of [[accept]]. How "
        "a metric is read is said in [[reading]].",
    )
    because: str = Field(
        "", max_length=500, examples=["maker's drawing"], description="Where the spread is from."
    )


class CorrelatedTable(Table):
    """Two uncertain fields that go together."""

    fields: list[str] = Field(
        min_length=2,
        max_length=2,
        examples=[["flow cell.volume", "tube.bore"]],
        description="Two fields of [[uncertain]].",
    )
    coefficient: float = Field(
        gt=-1,
        lt=1,
        examples=[0.8],
        description="Correlation of their normal scores (Gaussian copula); of two normal "
        "distributions it is the ordinary coefficient.",
    )
