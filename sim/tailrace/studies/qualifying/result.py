"""What a qualification finds."""

from dataclasses import dataclass

import numpy as np

from tailrace.quantities.described import described


@dataclass(frozen=True, kw_only=True)
class Known:
    """A number whose value is known, and what is computed here."""

    name: str = described("what is computed", "", label="known answer", names=True)
    unit: str = described("its unit", "")
    expected: float = described("the known value", lambda one: one.unit)
    found: float = described("computed here", lambda one: one.unit)
    within: float = described("greatest relative difference that is allowed")
    source: str = described("where the value is from", "")

    @property
    def difference(self) -> float:
        """Over the known value. 1."""
        return abs(self.found / self.expected - 1)

    @property
    def satisfied(self) -> bool:
        """Whether it is; false for what is no number."""
        return bool(self.difference <= self.within)


@dataclass(frozen=True, kw_only=True)
class Compared:
    """A measured or published value D beside the model's S (ASME V&V 20-2009): E = S - D."""

    quantity: str = described("what kind of quantity", "", label="quantity")
    name: str = described("of what", "", label="measured", names=True)
    unit: str = described("unit of S and D", "")
    model: float = described("S", lambda one: one.unit)
    measured: float = described("D", lambda one: one.unit)
    u_num: float = described("standard uncertainty of S from computing", lambda one: one.unit)
    u_input: float = described("standard uncertainty of S from its inputs", lambda one: one.unit)
    u_measured: float = described("standard uncertainty of D", lambda one: one.unit)
    source: str = described("where D is from", "")

    @property
    def difference(self) -> float:
        """E, in the unit of both."""
        return self.model - self.measured

    @property
    def u_validation(self) -> float:
        """Of E if the model were exact, in the unit of both."""
        return float(np.sqrt(self.u_num**2 + self.u_input**2 + self.u_measured**2))


@dataclass(frozen=True, kw_only=True)
class Agreement:
    """Bias and spread of the model over measured values of one kind of quantity."""

    quantity: str = described("what kind of quantity", "", label="quantity", names=True)
    values: int = described("measured values")
    bias: float = described("mean of S/D, less 1")
    spread: float = described("standard deviation of S/D about its mean; NaN of one value")
    expected: float = described("root mean square of u_val/D")


@dataclass(frozen=True, kw_only=True)
class Qualified:
    """All of it."""

    files: int = described("files looked at")
    altered: tuple[str, ...] = described("files that are not as installed", "", along=("altered",))
    installation: str = described("how it is installed: wheel or folder", "")
    known: tuple[Known, ...] = described("known answers", "", along=("known",))
    compared: tuple[Compared, ...] = described("measured values", "", along=("compared",))
    seconds: float = described("time that it took", "s")
    processor_seconds: float = described("time of processors that it took", "s")

    @property
    def satisfied(self) -> bool:
        """Whether nothing was altered and every known answer is met."""
        return not self.altered and all(one.satisfied for one in self.known)


def agreements(compared: tuple[Compared, ...]) -> tuple[Agreement, ...]:
    """Bias and spread of each kind of quantity."""
    found = []
    for quantity in dict.fromkeys(one.quantity for one in compared):
        rows = [one for one in compared if one.quantity == quantity]
        ratios = np.array([one.model / one.measured for one in rows])
        known = np.array([one.u_validation / one.measured for one in rows])
        found.append(
            Agreement(
                quantity=quantity,
                values=len(rows),
                bias=float(ratios.mean() - 1),
                spread=float(ratios.std(ddof=1)) if len(rows) > 1 else float("nan"),
                expected=float(np.sqrt(np.mean(known**2))),
            )
        )
    return tuple(found)
