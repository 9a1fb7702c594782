"""What must be kept, as it is written in ``[[accept]]``, and the figures that can be asked for."""

from dataclasses import dataclass
from typing import Any

from pydantic import Field

from tailrace.quantities.table import Name, Table

DEFAULT_PROBABILITY, DEFAULT_CONFIDENCE = 0.95, 0.95


@dataclass(frozen=True, kw_only=True)
class Asked:
    """A figure that can be asked for.

    Parameters
    ----------
    figure : str
        Its group and name among the figures of a journey.
    kind : str
        Kind of quantity; empty: a plain number.
    of : str
        ``solute``, ``pair`` or ``run``: of what a run has one of it.
    """

    figure: str
    kind: str = ""
    of: str = "solute"


MEASURES = {
    "plates": Asked(figure="recorded/plates_half_height"),
    "tangent plates": Asked(figure="recorded/plates_tangent"),
    "five-sigma plates": Asked(figure="recorded/plates_five_sigma"),
    "plates from moments": Asked(figure="recorded/plates_moments"),
    "peak capacity": Asked(figure="recorded/peak_capacity"),
    "tailing": Asked(figure="recorded/tailing_5"),
    "asymmetry": Asked(figure="recorded/asymmetry_10"),
    "width": Asked(figure="recorded/width_half", kind="duration"),
    "retention time": Asked(figure="recorded/apex", kind="duration"),
    "signal": Asked(figure="signal/relative_signal"),
    "signal-to-noise ratio": Asked(figure="signal/signal_to_noise"),
    "absorbance": Asked(figure="signal/absorbance", kind="absorbance"),
    "resolution": Asked(figure="resolution", of="pair"),
    "pressure": Asked(figure="pressure/total", kind="pressure", of="run"),
    "cell pressure": Asked(figure="pressure/cell_inlet", kind="pressure", of="run"),
}
"""By the words of ``[[accept]]``."""

ALSO = {
    "plates_half_height": "plates",
    "plates_tangent": "tangent plates",
    "plates_five_sigma": "five-sigma plates",
    "plates_moments": "plates from moments",
    "peak_capacity": "peak capacity",
    "tailing_5": "tailing",
    "asymmetry_10": "asymmetry",
    "width_half": "width",
    "apex": "retention time",
    "relative_signal": "signal",
    "signal_to_noise": "signal-to-noise ratio",
}
"""Names of the same figures in records."""


class AcceptTable(Table):
    """One criterion: a figure of the run and its limits."""

    measure: Name = Field(examples=["plates"], description=f"One of {', '.join(MEASURES)}.")
    solute: Name | None = Field(
        None, examples=["cohumulone"], description="The worst of all if it is left out."
    )
    pair: Name | None = Field(
        None,
        examples=["cohumulone/humulone"],
        description="resolution: two solutes; the worst neighbours if it is left out.",
    )
    at_least: Any = Field(
        None, examples=[12000], description="A number, or a text with a unit where it has one."
    )
    at_most: Any = Field(
        None, examples=["300 bar"], description="A number, or a text with a unit where it has one."
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
