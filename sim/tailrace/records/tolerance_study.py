"""What a file of a tolerance study says, once it is read."""

from dataclasses import dataclass

import numpy as np

from tailrace.records.cross_check import CrossCheck
from tailrace.records.provenance import Provenance
from tailrace.studies.tolerance.result import (
    Acceptance,
    Check,
    Indices,
    Outcome,
    RegionMap,
    Stop,
    Widening,
)

TOLD = ("name", "unit", "quantity", "kind", "sentence", "because")
"""Attributes of an input in a file."""


@dataclass(frozen=True, kw_only=True)
class Input:
    """One uncertain input.

    Parameters
    ----------
    name : str
        Of the field.
    unit, quantity : str
        SI unit, and kind of quantity or empty.
    kind : str
        "tolerance" or "measurement".
    sentence, because : str
        Its distribution in words, and where that is from.
    values : (samples,) array, ``unit``
    """

    name: str
    unit: str
    quantity: str
    kind: str
    sentence: str
    because: str
    values: np.ndarray


@dataclass(frozen=True, kw_only=True)
class Study:
    """All that a file of ``tailrace tolerance`` says, but for the figures of every sample.

    Parameters
    ----------
    provenance : Provenance
    question : dict
        What was asked; the same question gives the same study.
    solutes : tuple of str
    inputs : tuple of Input
    computed : (samples,) array of bool, 1
    outcomes, acceptance, stop, indices, widenings, maps, checks, cautions, met
        As of ``tailrace.studies.tolerance.result.Tolerance``.
    check : CrossCheck or None
        Both solvers on the scenario as it stands.
    """

    provenance: Provenance
    question: dict
    solutes: tuple[str, ...]
    inputs: tuple[Input, ...]
    computed: np.ndarray
    outcomes: tuple[Outcome, ...]
    acceptance: Acceptance | None
    stop: Stop | None
    indices: Indices | None
    widenings: tuple[Widening, ...]
    maps: tuple[RegionMap, ...]
    checks: tuple[Check, ...]
    cautions: tuple[str, ...]
    met: bool
    check: CrossCheck | None

    @property
    def samples(self) -> int:
        """Their number."""
        return len(self.computed)
