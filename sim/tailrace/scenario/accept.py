"""What must hold, as it is written in ``[[accept]]``, and the metrics that can be asked for."""

from dataclasses import dataclass
from typing import Any, Literal

from pydantic import Field

from tailrace.measures.metric import Metric
from tailrace.measures.registry import APEX, AREA, METRICS, PEAK_TO_VALLEY, SIGNALS
from tailrace.quantities.fields import Name, Table

DEFAULT_PROBABILITY, DEFAULT_CONFIDENCE = 0.95, 0.95
PRESSURES = (
    Metric(
        name="highest",
        label="pressure",
        unit="Pa",
        kind="pressure",
        meaning="of the path, at its highest along a programme",
    ),
    Metric(
        name="highest_at_cell",
        label="cell pressure",
        unit="Pa",
        kind="pressure",
        meaning="at the inlet of the flow cell, at its highest along a programme",
    ),
)
SERIES = "series"
"""Group of metrics of several injections on one instrument."""
INJECTIONS = 6
"""Of a series (common practice, no source)."""
REPEATED = tuple(
    Metric(
        name=f"rsd_{name}",
        label=f"RSD of {METRICS[name].label}",
        unit="1",
        kind="relative deviation",
        meaning=f"standard deviation of the {METRICS[name].label} over injections, over its mean",
    )
    for name in (APEX, AREA)
)


@dataclass(frozen=True, kw_only=True)
class Asked:
    """A metric that can be asked for.

    ``group``: where it stands among the metrics of a journey; ``of``: of what a run has one of it.
    """

    metric: Metric
    group: str
    of: Literal["solute", "pair", "run"] = "solute"

    @property
    def key(self) -> str:
        """Its name among the metrics of a journey."""
        return f"{self.group}/{self.metric.name}"


def _askable(metric: Metric) -> bool:
    """Whether a limit can be read (a plain number, or a kind of quantity) and has an error."""
    return bool(metric.kind or metric.unit == "1") and metric.sensitivity > 0


MEASURES: dict[str, Asked] = {
    one.metric.label: one
    for one in (
        *(
            Asked(metric=row, group="recorded")
            for row in METRICS.values()
            if row.read is not None and _askable(row)
        ),
        *(Asked(metric=row, group="signal") for row in SIGNALS.values() if _askable(row)),
        *(
            Asked(metric=row, group="pair", of="pair")
            for row in METRICS.values()
            if row.of_pair is not None or row.name == PEAK_TO_VALLEY
        ),
        *(Asked(metric=row, group="pressure", of="run") for row in PRESSURES),
        *(Asked(metric=row, group=SERIES) for row in REPEATED),
    )
}
"""By the words of ``[[accept]]``: the labels of the registry."""
ALSO = {one.metric.name: label for label, one in MEASURES.items()} | {
    "total": "pressure",
    "cell_inlet": "cell pressure",
}
"""Names of the same metrics in records; of pressures those of the eluent alone, too."""


class AcceptTable(Table):
    """One criterion: a metric of the run and its limits."""

    measure: Name = Field(examples=["plates"], description=f"One of {', '.join(MEASURES)}.")
    solute: Name | None = Field(
        None, examples=["cohumulone"], description="The worst of all if it is left out."
    )
    pair: Name | None = Field(
        None,
        examples=["cohumulone/humulone"],
        description="Of neighbours, such as resolution: two solutes; the worst neighbours if it is "
        "left out.",
    )
    at_least: Any = Field(
        None, examples=[12000], description="A number, or a text with a unit where it has one."
    )
    at_most: Any = Field(
        None, examples=["300 bar"], description="A number, or a text with a unit where it has one."
    )
    margin: Any = Field(
        None,
        examples=[500],
        description="Difference of two instruments that does not matter, for tolerance --against.",
    )
    injections: int | None = Field(
        None,
        ge=2,
        le=1000,
        examples=[INJECTIONS],
        description=f"Of the series whose RSD is judged; {INJECTIONS} if it is left out.",
    )
    probability: float = Field(
        DEFAULT_PROBABILITY,
        gt=0,
        lt=1,
        examples=[0.95],
        description="Share of instruments that must keep it.",
    )
    confidence: float = Field(
        DEFAULT_CONFIDENCE,
        ge=0.5,
        lt=1,
        examples=[0.95],
        description="With which a study of finite size must show that.",
    )
