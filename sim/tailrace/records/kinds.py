"""The kinds of records: by which class each is read back, and what stands beside the result."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from importlib import import_module
from typing import Any

from tailrace.records.provenance import Provenance


@dataclass(frozen=True, kw_only=True)
class Kind:
    """One row.

    Parameters
    ----------
    command : str
        That writes such files.
    file : str
        How its record is called within the folder that it writes; empty where it writes one file.
    module, name : str
        The class of the result; imported when it is first needed.
    beside : callable
        Type of each described value that may stand beside the result, by its name.
    always : tuple of str
        Which of these every record has.
    described : bool
        Whether the codec lays it out; a sweep has a dimension for each axis instead.
    given : callable
        Fields of the result that are not stored, from the Provenance.
    """

    command: str
    file: str = ""
    module: str
    name: str
    beside: Callable[[], Mapping[str, Any]] = field(default=dict)
    always: tuple[str, ...] = ()
    described: bool = True
    given: Callable[[Provenance], Mapping[str, object]] = field(default=lambda provenance: {})

    @property
    def of(self) -> type:
        """The class."""
        found: type = getattr(import_module(self.module), self.name)
        return found


def _beside_run() -> dict[str, Any]:
    from tailrace.journey.verification import CrossCheck
    from tailrace.records.separation import Separation

    return {"cross_check": CrossCheck, "resolution": Separation}


def _beside_tolerance() -> dict[str, Any]:
    from tailrace.journey.verification import CrossCheck

    return {"cross_check": CrossCheck}


def _beside_improvement() -> dict[str, Any]:
    from tailrace.journey.result import Result
    from tailrace.journey.verification import CrossCheck

    return {"states": dict[str, Result], "checks": dict[str, CrossCheck]}


@dataclass(frozen=True, kw_only=True)
class StoredScenario:
    """As much of a scenario as a record holds; nothing can be simulated with it."""

    title: str
    sha256: str
    text: str


def _stored(provenance: Provenance) -> dict[str, object]:
    return {
        "scenario": StoredScenario(
            title=provenance.title,
            sha256=provenance.scenario_sha256,
            text=provenance.scenario,
        )
    }


KINDS: dict[str, Kind] = {
    "tailrace record": Kind(
        command="run",
        file="record.h5",
        module="tailrace.journey.result",
        name="Result",
        beside=_beside_run,
        given=lambda provenance: {"source": provenance},
    ),
    "tailrace sweep": Kind(
        command="sweep", module="tailrace.studies.sweeping", name="Sweep", described=False
    ),
    "tailrace tolerance": Kind(
        command="tolerance",
        module="tailrace.studies.tolerance.result",
        name="Tolerance",
        beside=_beside_tolerance,
        given=lambda provenance: {"source": provenance},
    ),
    "tailrace improvement": Kind(
        command="improve",
        file="improvement.h5",
        module="tailrace.studies.improving.result",
        name="Improvement",
        beside=_beside_improvement,
        always=("states",),
        given=_stored,
    ),
    "tailrace measurement": Kind(
        command="measure",
        file="record.h5",
        module="tailrace.measurements.result",
        name="Measured",
    ),
    "tailrace comparison": Kind(
        command="compare",
        file="record.h5",
        module="tailrace.studies.measured.result",
        name="Compared",
        given=lambda provenance: {"source": provenance},
    ),
    "tailrace fit": Kind(
        command="fit",
        file="record.h5",
        module="tailrace.studies.measured.result",
        name="Fitted",
        given=lambda provenance: {"source": provenance},
    ),
    "tailrace diagnosis": Kind(
        command="diagnose",
        file="record.h5",
        module="tailrace.studies.measured.diagnosis",
        name="Diagnosis",
        given=lambda provenance: {"source": provenance},
    ),
    "tailrace measurement plan": Kind(
        command="protocol",
        file="record.h5",
        module="tailrace.studies.measured.protocol",
        name="Protocol",
        given=lambda provenance: {"source": provenance},
    ),
    "tailrace steps": Kind(
        command="improve",
        file="steps.h5",
        module="tailrace.studies.measured.following",
        name="Followed",
        given=lambda provenance: {"source": provenance},
    ),
}
"""By the ``kind`` that a record says of itself."""


def kind_named(value: object) -> str:
    """The ``kind`` of the record of a result; raises TypeError for what is none."""
    for name, row in KINDS.items():
        if (type(value).__module__, type(value).__name__) == (row.module, row.name):
            return name
    raise TypeError(f"expected a result that has a kind of record, found {type(value).__name__}")
