"""What a diagnosis answers, described field by field."""

from collections import defaultdict
from dataclasses import dataclass, field

from tailrace.display import Handed
from tailrace.quantities.described import described
from tailrace.studies.measured.result import Overlay

NONE, ELSE = "none", "something else"
"""Hypotheses without a part: the instrument is as the scenario says; no fault that was tried."""
TOGETHER = 0.05
"""Probability over that of the first, from which on a hypothesis cannot be told from it."""


@dataclass(frozen=True, kw_only=True)
class Hypothesis:
    """One thing that may be wrong, fitted to all measurements."""

    name: str = described("what is at fault", "", label="at fault", names=True)
    parts: tuple[str, ...] = described("parts concerned", "")
    fields: tuple[str, ...] = described("fields of the scenario that are fitted", "")
    units: tuple[str, ...] = described("SI units of the fields; 1 of a plain number", "")
    kinds: tuple[str, ...] = described("kinds of quantity; empty: a plain number", "")
    nominal: tuple[float, ...] = described("values in the scenario, SI units of the fields", "1")
    values: tuple[float, ...] = described("fitted values, SI units of the fields", "1")
    uncertainties: tuple[float, ...] = described(
        "their standard uncertainties; NaN at an end of what was tried", "1"
    )
    probability: float = described("probability", label="probability")
    log_evidence: float = described(
        "logarithm of the evidence over that of the first", label="log evidence"
    )
    bic: float = described("Bayesian information criterion, over the least", label="BIC")
    residual_over_noise: float = described("residuals over the noise", label="residual / noise")
    change: float = described("what the fault changes the variance by, relative", label="change")


@dataclass(frozen=True, kw_only=True)
class Candidate:
    """A measurement that might tell hypotheses apart."""

    what: str = described("part or field that differs", "", label="measurement", names=True)
    kind: str = described("what differs: flow, response, part or joint", "")
    value: float = described("value of the field, SI; NaN: a part is taken out or a joint remade")
    information: float = described("expected information", "bit", label="information")
    minutes: float = described("work and waiting", "min", label="time")

    @property
    def rate(self) -> float:
        """Expected information per minute, bit/min."""
        return self.information / self.minutes


@dataclass(frozen=True, kw_only=True)
class Diagnosis(Handed):
    """What ``diagnose`` says of a scenario."""

    title: str = described("title of the scenario", "")
    hypotheses: tuple[Hypothesis, ...] = described(
        "hypotheses by falling probability", along=("hypothesis",)
    )
    indistinguishable: tuple[tuple[str, ...], ...] = described(
        "groups of hypotheses that the measurements cannot tell apart, that of the first before", ""
    )
    unseen: tuple[str, ...] = described(
        "fields that no measurement shows", "", along=("unseen field",)
    )
    pairs: int = described("pairs of faults that were looked at", default=0)
    stood_in: bool = described("whether products stood in for parts that are none")
    at_fault: bool = described("whether the first hypothesis leaves more than noise")
    candidates: tuple[Candidate, ...] = described(
        "measurements that might tell them apart, best per minute first", along=("candidate",)
    )
    measured: dict[str, Overlay] = described("each measurement, under the first hypothesis")
    source: object = field(default=None, repr=False, compare=False)

    @property
    def first(self) -> Hypothesis:
        """The most probable one."""
        return self.hypotheses[0]

    @property
    def alike(self) -> tuple[Hypothesis, ...]:
        """Those that cannot be told from the first, itself among them; those that do just the same
        count together."""
        whole = defaultdict[tuple[float, ...], float](float)
        for one in self.hypotheses:
            whole[one.log_evidence, *one.values] += one.probability
        least = TOGETHER * self.first.probability
        return tuple(
            one for one in self.hypotheses if whole[one.log_evidence, *one.values] >= least
        )

    @property
    def next_measurement(self) -> Candidate | None:
        """The best one; None where there is nothing left to tell apart."""
        return self.candidates[0] if self.candidates else None
