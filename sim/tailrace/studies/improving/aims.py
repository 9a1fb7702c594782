"""What is to become better, and what must not be exceeded meanwhile."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

from tailrace.measures.metric import Metric
from tailrace.measures.registry import (
    EXTRA_COLUMN,
    METRICS,
    PLATES,
    PLATES_OWN,
    RESOLUTION,
    SIGNALS,
    TAILING,
    of_pairs,
)
from tailrace.quantities.described import described
from tailrace.scenario.target import StudyError
from tailrace.wording import say

if TYPE_CHECKING:
    from tailrace.scenario.model import Document
    from tailrace.scenario.scenario import Scenario

NAN = float("nan")


@dataclass(frozen=True)
class Goal:
    """What an aim looks at: a metric of the registry, and 1 where more is better, -1 where less."""

    metric: str
    sign: int = 1


AIMS = {
    "plates": Goal(PLATES_OWN),
    "resolution": Goal(RESOLUTION),
    "tailing": Goal(TAILING, -1),
    "signal": Goal("signal_to_noise"),
    "variance": Goal(EXTRA_COLUMN, -1),
}
"""By the word that asks for it. A new aim is a row here."""
KEPT = ("plates", "resolution")
"""Of which a column alone gives so much, and the instrument keeps a share."""
ORDERS = ("gain", "money", "effort")


@dataclass(frozen=True, kw_only=True)
class Aim:
    """The metric that is to become better."""

    key: str = described("aim as it was asked for", "")
    of: str = described("solute or pair a/b that was asked for; empty: the worst counts", "")
    metric: str = described("metric that measures the aim", "")
    relative: bool = described("whether the metric is given over that of the start", default=False)
    unit: str = described("unit in which people are shown it; empty: SI", "", default="")
    columns: int | None = described(
        "columns over whose kept shares the metric is averaged; none: one column", default=None
    )

    @property
    def row(self) -> Metric:
        """The metric."""
        return (METRICS | SIGNALS)[self.metric]

    @property
    def label(self) -> str:
        """The metric as people call it: ``tailing``, ``signal-to-noise ratio over the start's``."""
        unit = f" ({self.unit})" if self.unit else ""
        what = say(METRICS[PLATES].label if self.metric == PLATES_OWN else self.row.label)
        if self.columns:
            text = "{what} kept, mean of {columns} columns{unit}"
            return say(text, what=what, columns=self.columns, unit=unit)
        text = "{what}{unit} over the start's" if self.relative else "{what}{unit}"
        return say(text, what=say(self.row.label), unit=unit)

    @property
    def sign(self) -> int:
        """1 where more is better, -1 where less is."""
        return AIMS[self.key].sign

    @property
    def of_pairs(self) -> bool:
        """Whether the metric is one of neighbours, and not of single peaks."""
        return self.metric in of_pairs()


@dataclass(frozen=True, kw_only=True)
class Constraints:
    """What a combination has to keep to; NaN: no limit."""

    pressure: float = described("most pressure along a programme, whole path", "Pa", default=NAN)
    cell_pressure: float = described(
        "most pressure along a programme, at the cell's inlet", "Pa", default=NAN
    )
    signal: float = described("least signal of every solute, over the start's", default=NAN)
    signal_to_noise: float = described(
        "least signal-to-noise ratio of every solute, over the start's", default=NAN
    )
    budget: float = described("most cost", "currency", default=NAN)
    effort: float = described("most working time", "s", default=NAN)


def aim_for(scenario: Scenario, key: str, of: str) -> Aim:
    """Return the aim ``key`` (one of AIMS) for a solute or pair; an empty ``of``: the worst counts.

    An empty ``key``: plates; without a column, where plates mean nothing, the variance. Raises
    StudyError for an aim, a solute or a pair that is not known; for one that the scenario cannot
    have.
    """
    document = scenario.document
    key = key or ("plates" if scenario.has_column else "variance")
    if key not in AIMS:
        raise StudyError(f"expected an aim of {', '.join(AIMS)}, found {key}; write one of them")
    names = [one.name for one in document.solutes]
    pairs = [f"{one}/{other}" for one, other in combinations(names, 2)]
    turned = [f"{other}/{one}" for one, other in combinations(names, 2)]
    metric = AIMS[key].metric
    paired = metric in of_pairs()
    what, known = ("pair", pairs) if paired else ("solute", names)
    if of and of not in (*known, *(turned if paired else ())):
        listed = ", ".join(known[:6]) or "none"
        raise StudyError(
            f"aim {key}: expected a {what} such as {listed}, found {of}; correct the {what}"
        )
    if paired and len(names) < 2:
        raise StudyError(f"aim {key}: expected two solutes or more, found one; choose another aim")
    if metric in SIGNALS and document.detector is None:
        raise StudyError(
            "expected a [detector], whose noise the signal is compared with, found none; add one "
            "or choose another aim"
        )
    if metric == PLATES_OWN and not scenario.has_column:
        raise StudyError(
            "aim plates: expected a column, for without one a delay counts as efficiency, found "
            "none on the path; take --aim variance"
        )
    if document.columns and key not in KEPT:
        raise StudyError(
            f"aim {key}: expected one that columns can be compared by with [[columns]], found "
            f"another; take {' or '.join(KEPT)}, or leave out [[columns]]"
        )
    if document.gradient is not None and metric in METRICS:
        metric = METRICS[metric].in_gradient or metric
    columns = len(document.columns) or None
    return Aim(key=key, of=of, metric=metric, relative=_relative(document, metric), columns=columns)


def _relative(document: Document, metric: str) -> bool:
    """Whether too little is known for an absolute signal."""
    if metric not in SIGNALS:
        return False
    known = all(one.amount and one.absorptivity for one in document.solutes)
    lit = any(one.part_values().get("light_path") for one in document.path)
    quiet = document.detector is not None and document.detector.noise is not None
    return not (known and lit and quiet)
