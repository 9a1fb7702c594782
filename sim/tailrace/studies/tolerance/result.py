"""What a tolerance study says, as plain frozen records; nothing here computes.

Figures are in SI. ``samples`` in a shape is their number, ``inputs`` that of uncertain inputs.
"""

from dataclasses import dataclass, field

import numpy as np

from tailrace.studies.tolerance.answers import (
    Check,
    Indices,
    RegionMap,
    Stop,
    Widened,
    Widening,
)
from tailrace.studies.tolerance.spreads import (
    Acceptance,
    FirstOrder,
    Interval,
    Spread,
    ToleranceLimits,
)

__all__ = [
    "Acceptance",
    "Check",
    "FirstOrder",
    "Indices",
    "Interval",
    "Outcome",
    "RegionMap",
    "Spread",
    "Stop",
    "Tolerance",
    "ToleranceLimits",
    "Widened",
    "Widening",
]


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """One figure that is followed: that of a ``[[accept]]``, or one to look at where there is none.

    Parameters
    ----------
    name : str
        ``plates of humulone``, ``resolution of a/b``, ``plates, worst solute``; unique.
    measure : str
        As in ``[[accept]]``.
    of : str
        Solute, or pair ``a/b``; empty: the worst.
    unit : str
        SI; "1" of a plain number.
    kind : str
        Kind of quantity for ``tailrace.quantities.kinds.show``; empty: a plain number.
    at_least, at_most : float, ``unit``
        NaN: no such limit.
    nominal, nominal_error : float, ``unit``
        Of the scenario as it stands, and its discretisation error.
    values, errors : (samples,) array, ``unit``
        Of every sample, and its discretisation error; NaN where it could not be computed.
    spread : Spread
    by_kind : dict of str to Spread
        With only the inputs of one kind drawn ("tolerance", "measurement") and the others as they
        stand; empty where all are of one kind.
    limits : ToleranceLimits
    first_order : FirstOrder
    acceptance : Acceptance or None
        None without limits.
    """

    name: str
    measure: str
    of: str
    unit: str
    kind: str
    at_least: float
    at_most: float
    nominal: float
    nominal_error: float
    values: np.ndarray
    errors: np.ndarray
    spread: Spread
    by_kind: dict[str, Spread]
    limits: ToleranceLimits
    first_order: FirstOrder
    acceptance: Acceptance | None


@dataclass(frozen=True, kw_only=True)
class Tolerance:
    """All that a tolerance study says. Made by ``tailrace.studies.tolerance.answer``.

    Parameters
    ----------
    plan : Plan
        What was asked: ``scenario``, ``seed``, ``generator`` and the rest.
    samples : Samples
        ``names``, ``units``, ``kinds`` and ``values()`` of the inputs; see
        ``tailrace.studies.samples``.
    figures : dict of str to array
        Of every sample, as of ``tailrace.studies.lanes.metrics_of``.
    outcomes : tuple of Outcome
    acceptance : Acceptance or None
        All criteria met by the same sample, at the greatest probability and confidence that any of
        them asks for; None without criteria.
    stop : Stop or None
        None where the number of samples was given.
    indices : Indices or None
    widenings : tuple of Widening
    maps : tuple of RegionMap
    checks : tuple of Check
        The qualification.
    cautions : tuple of str
        Sentences: what was cut off, what did not compute, which samples carry warnings.
    """

    plan: object
    samples: object
    figures: dict[str, np.ndarray]
    outcomes: tuple[Outcome, ...]
    acceptance: Acceptance | None
    stop: Stop | None = None
    indices: Indices | None = None
    widenings: tuple[Widening, ...] = ()
    maps: tuple[RegionMap, ...] = ()
    checks: tuple[Check, ...] = ()
    cautions: tuple[str, ...] = field(default=())

    @property
    def met(self) -> bool:
        """Whether every criterion, and all together, are kept as required; True without any."""
        judged = [one.acceptance for one in self.outcomes if one.acceptance is not None]
        whole = [self.acceptance] if self.acceptance is not None else []
        return all(one.met for one in [*judged, *whole])
