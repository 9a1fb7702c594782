"""What a tolerance study finds: numbers, names and enumerations; nothing here computes.

Sentences are made of them in ``tailrace.report.tolerance``. Numbers are in SI.
"""

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from tailrace.display import Handed
from tailrace.quantities.arrays import AnyArray, BoolArray, FloatArray, IntArray
from tailrace.quantities.described import described
from tailrace.scenario.reading import Reading
from tailrace.studies.engine import Engine
from tailrace.studies.metrics import description_of


def own(record: Any) -> str:
    """The unit that a record names itself."""
    return str(record.unit)


def _of_width(record: "UncertainInput") -> str:
    return "1" if record.relative or record.distribution == "lognormal" else record.unit


def _both(record: "RegionMap") -> str:
    return ", ".join(record.units)


@dataclass(frozen=True, kw_only=True)
class Interval:
    """From ``low`` to ``high``; NaN where it does not exist."""

    low: float = described("low end", own)
    high: float = described("high end", own)
    unit: str = described("SI unit of both ends", "", default="1")


@dataclass(frozen=True, kw_only=True)
class UncertainInput:
    """One uncertain input: its distribution, and its values."""

    name: str = described("name of the field", "", label="input", names=True)
    unit: str = described("SI unit of the field", "")
    quantity: str = described("kind of quantity; empty: a plain number", "")
    kind: str = described("tolerance or knowledge", "")
    because: str = described("where the spread is from", "")
    nominal: float = described("what the scenario says", own)
    distribution: str = described("name of the distribution", "")
    relative: bool = described("whether its widths are over the nominal value", default=False)
    deviation: float = described(
        "standard deviation, of a lognormal one that of the logarithm", _of_width, default=0.0
    )
    low: float = described("least deviation of a bounded one", _of_width, default=0.0)
    high: float = described("greatest deviation of a bounded one", _of_width, default=0.0)
    top: float = described("half width of the top of a trapezium", _of_width, default=0.0)
    data_values: int = described("number of values of a file of data", default=0)
    data_sha256: str = described("SHA-256 of that file", "", default="")
    lowest: float = described("least value that the field can have", own)
    greatest: float = described("greatest value that the field can have", own)
    cut: float = described("probability beyond these two, which is cut off")
    unfollowed: str = described(
        "solutes whose retention does not go with this temperature in the model", "", default=""
    )
    values: FloatArray = described("value of every sample", own, along=("sample",))


@dataclass(frozen=True, kw_only=True)
class Varied:
    """What varies from one injection to the next on one instrument."""

    name: str = described("name of the field", "", label="input", names=True)
    unit: str = described("SI unit of the field", "")
    quantity: str = described("kind of quantity; empty: a plain number", "")
    nominal: float = described("what the scenario says", own)
    deviation: float = described("standard deviation of one injection", own)
    because: str = described("where it is from", "")


@dataclass(frozen=True, kw_only=True)
class Spread:
    """The distribution of one metric over the samples (JCGM 101:2008, clauses 7.5 to 7.7).

    Samples that could not be computed are left out. The intervals hold 95 %.
    """

    unit: str = described("SI unit of the metric", "", default="1")
    samples: int = described("samples with a value")
    mean: float = described("mean of the samples", own)
    standard_uncertainty: float = described("standard uncertainty", own)
    mean_error: float = described("standard error of the mean, from the finite number", own)
    uncertainty_error: float = described("standard error of the standard uncertainty", own)
    symmetric: Interval = described("probabilistically symmetric interval", own)
    shortest: Interval = described("shortest interval", own)
    symmetric_error: Interval = described("standard errors of the symmetric ends", own)
    shortest_error: Interval = described("standard errors of the shortest interval's ends", own)
    numerical_error: float = described("median discretisation error of the samples", own)


@dataclass(frozen=True, kw_only=True)
class Acceptance:
    """How often a criterion holds, and with what confidence (Clopper and Pearson 1934)."""

    samples: int = described("samples judged")
    accepted: int = described("samples within the limits")
    refused: int = described("samples beyond a limit")
    undecided: int = described("samples within their discretisation error of a limit, or no value")
    probability: float = described("share accepted, and half of the share undecided")
    interval: Interval = described(
        "two-sided interval: all undecided refused at its low end, accepted at its high end"
    )
    lower_bound: float = described("one-sided lower bound, all undecided refused")
    required: float = described("probability asked for")
    confidence: float = described("confidence of interval and bound")

    @property
    def satisfied(self) -> bool:
        """Whether the required probability is reached with the required confidence."""
        return self.lower_bound >= self.required

    @property
    def state(self) -> str:
        """Shown, not kept (the samples speak against it), or not shown (they do not decide)."""
        if self.satisfied:
            return "shown"
        return "not kept" if self.interval.high < self.required else "not shown"


@dataclass(frozen=True, kw_only=True)
class Population:
    """The share of instruments that keep all criteria where knowledge is least favourable."""

    confidence: float = described("share of what is known that is more favourable")
    median: float = described("share of instruments where knowledge is in the middle, emulated")
    low: float = described("share of instruments there, emulated")
    knowledge: dict[str, float] = described(
        "values of the inputs that are not known, there",
        "SI unit of each",
        along=("unknown",),
    )
    acceptance: Acceptance = described("full journeys of instruments there")


@dataclass(frozen=True, kw_only=True)
class AtDiscrepancy:
    """How often all criteria hold if the model lies off by so much."""

    size: float = described("relative standard uncertainty of plates in the model")
    acceptance: Acceptance = described("how often all criteria hold")


@dataclass(frozen=True, kw_only=True)
class ToleranceLimits:
    """Distribution-free tolerance limits from order statistics (Wilks 1941); NaN without any."""

    unit: str = described("SI unit of the metric", "", default="1")
    content: float = described("share of the distribution within")
    confidence: float = described("confidence that so much is within")
    at_least: float = described("one-sided lower limit", own)
    at_most: float = described("one-sided upper limit", own)
    between: Interval = described("two-sided limits", own)
    samples: int = described("samples with a value")
    refused: str = described(
        "why there are none: dependent samples, missing values, few samples; else empty",
        "",
        default="",
    )


@dataclass(frozen=True, kw_only=True)
class FirstOrder:
    """First-order propagation (JCGM 100:2008), beside the samples."""

    unit: str = described("SI unit of the metric", "", default="1")
    value: float = described("metric with every input at its mean; NaN without one", own)
    standard_uncertainty: float = described("standard uncertainty", own)
    interval: Interval = described("value and 1.96 standard uncertainties to either side", own)
    sensitivities: FloatArray = described(
        "change of the metric with each input",
        lambda one: f"{one.unit} over the unit of the input",
        along=("input",),
    )
    contributions: FloatArray = described(
        "absolute sensitivity times the input's standard uncertainty", own, along=("input",)
    )
    probability: float = described("probability of acceptance of a Gaussian; NaN without limits")
    allowed: float = described(
        "difference to the simulation that means nothing; NaN: nothing to compare", own
    )
    misleads: bool = described("whether it says something else than the simulation")


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """One metric that is followed: that of an ``[[accept]]``, or one to look at without any."""

    name: str = described("metric and solute or pair; unique", "", label="metric", names=True)
    measure: str = described("metric, as in [[accept]]", "")
    of: str = described("solute or pair; empty: the worst", "")
    unit: str = described("SI unit of the metric", "")
    kind: str = described("kind of quantity; empty: a plain number", "")
    at_least: float = described("lower limit; NaN: none", own)
    at_most: float = described("upper limit; NaN: none", own)
    injections: int = described(
        "injections of the series whose RSD is judged, values being of a great many; 0: no RSD",
        default=0,
    )
    nominal: float = described("the scenario as it stands", own)
    nominal_error: float = described("discretisation error of the scenario as it stands", own)
    values: FloatArray = described("value of every sample", own, along=("sample",))
    errors: FloatArray = described(
        "discretisation error of every sample; NaN where it could not be computed",
        own,
        along=("sample",),
    )
    spread: Spread = described("distribution over the samples", own)
    by_kind: dict[str, Spread] = described(
        "with the inputs of one kind alone; empty where all are of one", own, along=("kind",)
    )
    limits: ToleranceLimits = described("tolerance limits", own)
    first_order: FirstOrder = described("first-order propagation of the closed form", own)
    linearised: FirstOrder = described("first-order propagation of the simulation", own)
    acceptance: Acceptance | None = described("how often the limits hold; none without limits")


@dataclass(frozen=True, kw_only=True)
class Stop:
    """How the adaptive number of samples came to an end (JCGM 101:2008, clause 7.9)."""

    digits: int = described("significant digits asked of the standard uncertainty")
    size: int = described("samples of one batch")
    batches: int = described("batches made")
    tolerances: FloatArray = described(
        "numerical tolerance of each outcome", "unit of the outcome", along=("outcome",)
    )
    reached: bool = described("whether it was reached within the greatest number of samples")


@dataclass(frozen=True, kw_only=True)
class Indices:
    """Sobol' indices: whose uncertainty makes that of the metrics (Saltelli et al. 2010).

    Correlated inputs go together as one, their names joined by " + ". Ends of intervals are those
    of a bootstrap. ``(inputs + 2) * base`` journeys were made.
    """

    inputs: tuple[str, ...] = described("inputs", "", along=("group",), names=True)
    outcomes: tuple[str, ...] = described("metrics", "", along=("outcome",), names=True)
    first: FloatArray = described("first-order index", along=("outcome", "group"))
    first_low: FloatArray = described("low end of that", along=("outcome", "group"))
    first_high: FloatArray = described("high end of that", along=("outcome", "group"))
    total: FloatArray = described("total index", along=("outcome", "group"))
    total_low: FloatArray = described("low end of that", along=("outcome", "group"))
    total_high: FloatArray = described("high end of that", along=("outcome", "group"))
    confidence: float = described("confidence of the intervals")
    base: int = described("rows of each matrix")


@dataclass(frozen=True, kw_only=True)
class Widened:
    """One input at the widest tolerance."""

    name: str = described("name of the field", "", label="input")
    unit: str = described("SI unit of the field", "")
    kind: str = described("kind of quantity; empty: a plain number", "")
    scale: float = described("its spread over the stated one; 0: none at all")
    limits: Interval = described("ends of a bounded distribution, else the middle 99.73 %", own)


@dataclass(frozen=True, kw_only=True)
class Tried:
    """A scale that was simulated."""

    scale: float = described("times as wide as stated")
    acceptance: Acceptance = described("how often all criteria hold")


@dataclass(frozen=True, kw_only=True)
class Widening:
    """The widest tolerance at which all criteria still hold (the inverse question)."""

    rule: str = described("how several inputs share it: alone, alike or equal influence", "")
    governing: str = described("outcome that governs equal influence; else empty", "")
    inputs: tuple[Widened, ...] = described("the inputs that are widened", "", along=("input",))
    scale: float = described("greatest scale accepted by full simulation; 0: none")
    scale_refused: float = described("least scale refused by full simulation; infinite: none")
    tried: tuple[Tried, ...] = described("scales simulated, rising", "", along=("step",))
    fresh: Acceptance | None = described(
        "at the scale accepted, with samples of another seed; none where there is no such scale"
    )
    unmoved: tuple[str, ...] = described(
        "criteria whose value does not depend on the inputs in this model", "", along=("unmoved",)
    )
    inert: bool = described("whether that is so of all criteria: nothing can be said then")


@dataclass(frozen=True, kw_only=True)
class RegionMap:
    """Where two inputs may lie, the others spread as stated: the first across, the second up."""

    names: tuple[str, str] = described("the two inputs", "", along=("axis",))
    units: tuple[str, str] = described("their SI units", "", along=("axis",))
    kinds: tuple[str, str] = described("their kinds of quantity", "", along=("axis",))
    first: FloatArray = described(
        "values of the first input", lambda one: one.units[0], along=("column",)
    )
    second: FloatArray = described(
        "values of the second input", lambda one: one.units[1], along=("row",)
    )
    accepted: IntArray = described("samples accepted", along=("row", "column"))
    undecided: IntArray = described("samples undecided", along=("row", "column"))
    samples: int = described("samples at each place, the same everywhere")
    lower: FloatArray = described("lower bound of acceptance", along=("row", "column"))
    upper: FloatArray = described("upper bound of acceptance", along=("row", "column"))
    allowed: IntArray = described(
        "1 accepted with confidence, 0 missed with confidence, -1 neither", along=("row", "column")
    )
    required: float = described("probability asked for")
    confidence: float = described("confidence of each bound")
    stated: tuple[Interval, ...] = described(
        "what the inputs are as stated: the ends, or the middle 95 %", "", along=("axis",)
    )
    nominal: tuple[float, ...] = described("where the scenario stands", _both, along=("axis",))


@dataclass(frozen=True, kw_only=True)
class Check:
    """One row of a qualification: what is measured on the instrument, and how it is judged.

    The risks are global (JCGM 106:2012, clause 9), counted among the samples.
    """

    what: str = described("metric that is measured", "")
    how: str = described("with what: pump, column standard, union or peak standard", "")
    unit: str = described("SI unit of the metric", "")
    kind: str = described("kind of quantity; empty: a plain number", "")
    expected: float = described("the scenario as it stands", own)
    at_least: float = described("lower limit; NaN: none", own)
    at_most: float = described("upper limit; NaN: none", own)
    measurement: float = described("standard uncertainty of the measurement itself", own)
    guard: float = described("guard band (JCGM 106:2012, clause 8)", own)
    accept_at_least: float = described("lower acceptance limit, inside by the guard band", own)
    accept_at_most: float = described("upper acceptance limit, inside by the guard band", own)
    rule: str = described(
        "decision rule: no limit, guard bands meet, simple, series, guarded or control limits", ""
    )
    consumer_risk: float = described("a wrong instrument passed")
    producer_risk: float = described("a right instrument not passed")
    consumer_risk_interval: Interval = described("95 % confidence interval of that risk")
    producer_risk_interval: Interval = described("95 % confidence interval of that risk")
    basis: str = described(
        "what the limit is: asked, assures, holds, accepted, control, few samples, few accepted", ""
    )
    content: float = described("share of the instruments that the limit speaks of")
    confidence: float = described("confidence of that share")


@dataclass(frozen=True, kw_only=True)
class Drifted:
    """One field that drifts."""

    name: str = described("name of the field", "", label="drift of", names=True)
    unit: str = described("SI unit of the field", "")
    quantity: str = described("kind of quantity; empty: a plain number", "")
    nominal: float = described("what the scenario says", own)
    rate: float = described("change of it", lambda one: f"{one.unit} a month")
    deviation: float = described(
        "standard deviation of that from instrument to instrument",
        lambda one: f"{one.unit} a month",
    )
    because: str = described("where it is from", "")


@dataclass(frozen=True, kw_only=True)
class Drifting:
    """How long instruments that keep all criteria go on to."""

    drifts: tuple[Drifted, ...] = described("what drifts", "", along=("drift",))
    risk: float = described("share that may have fallen below a criterion")
    confidence: float = described("confidence of what is assured")
    horizon: float = described("how far was looked ahead", "month")
    injections_per_month: float = described("use of the instrument; 0: not stated")
    instruments: int = described("instruments that were followed")
    kept: int = described("of these, that keep all criteria at the start")
    times: FloatArray = described("moments", "month", along=("moment",))
    fallen: FloatArray = described("share of these that has fallen by then", along=("moment",))
    fallen_low: FloatArray = described("low end of its 95 % interval", along=("moment",))
    fallen_high: FloatArray = described("high end of that", along=("moment",))
    interval: float = described("after which the risk is exceeded; infinite: not yet", "month")
    interval_error: Interval = described("95 % interval of that, from the finite number")
    assured: float = described(
        "for how long the risk is kept with confidence; 0: too few instruments to show it; "
        "infinite: as far as was looked",
        "month",
    )
    criteria: tuple[str, ...] = described("criteria", "", along=("criterion",), names=True)
    first: FloatArray = described(
        "share of instruments that falls below each until the end", along=("criterion",)
    )


@dataclass(frozen=True, kw_only=True)
class Question:
    """What was asked; the same question gives the same study."""

    scenario_sha256: str = described("SHA-256 of the scenario file", "")
    samples: int = described("samples; with digits the greatest number")
    digits: int | None = described("significant digits at which sampling stops")
    seed: int = described("of the generator")
    generator: str = described("of the samples", "")
    indices: int = described("rows of each matrix for Sobol' indices; 0: none")
    widen: tuple[str, ...] = described("inputs whose widest tolerance is found", "")
    together: bool = described("whether they are widened all at once, too")
    maps: tuple[tuple[str, ...], ...] = described("pairs of inputs", "")


@dataclass(frozen=True, kw_only=True)
class Tolerance(Handed):
    """All that a tolerance study finds. Made by ``tailrace.studies.tolerance.answer``."""

    title: str = described("title of the scenario", "")
    question: Question = described("what was asked", "")
    solutes: tuple[str, ...] = described("solutes", "", along=("solute",), names=True)
    parts: tuple[str, ...] = described(
        "parts of the path, in order", "", along=("part",), names=True
    )
    part_kinds: tuple[str, ...] = described("their kinds", "", along=("part",))
    inputs: tuple[UncertainInput, ...] = described("uncertain inputs", "", along=("input",))
    varied: tuple[Varied, ...] = described(
        "what varies from one injection to the next", "", along=("varied",), default=()
    )
    computed: BoolArray = described("whether a sample could be computed", along=("sample",))
    warnings: AnyArray = described("warnings of each sample, one a line", "", along=("sample",))
    metrics: dict[str, AnyArray] = described(
        "all that was computed of every sample", "", entries=description_of
    )
    outcomes: tuple[Outcome, ...] = described("what is followed", "", along=("outcome",))
    acceptance: Acceptance | None = described(
        "all criteria on the same sample, at the greatest probability and confidence of any"
    )
    stop: Stop | None = described("how sampling stopped; none: the number was given", default=None)
    indices: Indices | None = described("whose uncertainty matters", default=None)
    widenings: tuple[Widening, ...] = described(
        "widest tolerances", "", along=("widening",), default=()
    )
    maps: tuple[RegionMap, ...] = described("allowed regions", "", along=("map",), default=())
    population: Population | None = described(
        "instruments where knowledge is least favourable; none where all inputs are of one kind",
        default=None,
    )
    discrepancy: float = described(
        "relative standard uncertainty of plates in the model, as stated", default=0.0
    )
    discrepancies: tuple[AtDiscrepancy, ...] = described(
        "the answer where the model lies off by more or less", "", along=("size",), default=()
    )
    drifting: Drifting | None = described(
        "how long criteria are kept; none where no drift is stated", default=None
    )
    checks: tuple[Check, ...] = described("qualification", "", along=("check",), default=())
    readings: tuple[Reading, ...] = described(
        "how metrics are read", "", along=("reading",), default=()
    )
    engine: Engine = described("how the journeys were computed", "", default_factory=Engine)
    source: object = field(default=None, compare=False)
    """Scenario or Provenance: what it is the result of."""

    @property
    def samples(self) -> int:
        """Their number."""
        return len(self.computed)

    @property
    def failed(self) -> int:
        """Samples that could not be computed."""
        return int(np.count_nonzero(~self.computed))

    @property
    def satisfied(self) -> bool:
        """Whether each criterion, and all together, hold as required; True without any."""
        judged = [self.acceptance, *(one.acceptance for one in self.outcomes)]
        return all(one.satisfied for one in judged if one is not None)
