"""From tolerances to a table of what to measure, with limits, guard bands and risks.

Instruments are the samples of the tolerances alone, measurements of them the same samples with the
inputs of kind measurement drawn as well: the risks of a wrong decision are counted, not modelled.
"""

from dataclasses import dataclass, replace

import numpy as np

from tailrace.studies.tolerance.judging import ACCEPTED, clopper_pearson
from tailrace.studies.tolerance.result import Check, Interval
from tailrace.studies.tolerance.statistics import wilks_rank

GUARD_FACTOR = 1.645
"""Guard band over the standard uncertainty of the measurement: what lies beyond the limit passes
with at most 5 % (JCGM 106:2012, clause 8.3; normal errors)."""
COLUMN_STANDARD = (
    "column standard: a column of known plates, the solutes of the scenario, the method's flow, "
    "temperature and injection"
)
UNION = (
    "union in place of the column: no column, tubes, joints, cell and detector as they are used; "
    "inject the solute and read the width at half height"
)
PEAK_STANDARD = (
    "peak standard: the solute through the whole instrument; read the time of the maximum of the "
    "peak"
)
PRESSURE = "pump: pressure of the method with all parts in place, at temperature"
OFTEN = {
    COLUMN_STANDARD: "when the instrument is accepted, after every change of a part, and monthly",
    UNION: "when the instrument is accepted, after every joint opened, and every six months",
    PEAK_STANDARD: "with every series",
    PRESSURE: "every day",
}
"""Common practice, no source."""


@dataclass(frozen=True, kw_only=True)
class Seen:
    """One figure of many instruments.

    Parameters
    ----------
    criterion : Criterion
    nominal : float, SI unit of the figure
    true : (samples,) array, SI unit of the figure
        Of the instrument: inputs of kind measurement as they stand.
    read : (samples,) array, SI unit of the figure
        As measured: all inputs drawn; the same where nothing is of kind measurement.
    """

    criterion: object
    nominal: float
    true: np.ndarray
    read: np.ndarray


def direct(seen) -> Check:
    """The row of a criterion itself.

    Parameters
    ----------
    seen : Seen

    Returns
    -------
    Check
    """
    one = seen.criterion
    how = PRESSURE if one.asked.of == "run" else COLUMN_STANDARD
    return _row(seen, one.name, how, one.at_least, one.at_most, "asked for in [[accept]]")


def of_union(seen, states, demand) -> Check:
    """The row of the width with a union in place of the column.

    Parameters
    ----------
    seen : Seen
    states : (samples,) array of int, 1
        How the same instruments do with the column, all criteria together.
    demand : Demand
    """
    limit, because = _union_limit(seen.true, states, demand)
    name = f"{seen.criterion.name}, without the column"
    return _row(seen, name, UNION, float("nan"), limit, because)


def of_peak(seen, demand) -> Check:
    """The row of the retention time: two limits between which instruments in tolerance lie.

    Parameters
    ----------
    seen : Seen
    demand : Demand
    """
    low, high = _between(seen.read, demand)
    because = (
        f"{100 * demand.required:g} % of what is measured on instruments within their tolerances, "
        f"with {100 * demand.confidence:g} % confidence (Wilks); outside, look at flow, "
        "temperature and leaks first"
    )
    # The limits are of what is read, so its uncertainty is in them already.
    seen = replace(seen, true=seen.read)
    if np.isnan(low):
        because = "too few samples for limits that hold so many with such confidence; make more"
    row = _row(seen, seen.criterion.name, PEAK_STANDARD, low, high, because)
    if np.isnan(low):
        return row
    outside = np.mean((seen.read < low) | (seen.read > high))
    hits, count = round(outside * len(seen.read)), len(seen.read)
    return replace(
        row,
        rule="control limits: outside of them look for the cause; they hold the uncertainty of "
        "the measurement already",
        consumer_risk=float("nan"),
        consumer_risk_interval=Interval(low=float("nan"), high=float("nan")),
        producer_risk=hits / count,
        producer_risk_interval=_interval(hits, count),
    )


def _union_limit(true, states, demand):
    """The greatest width below which instruments keep the criteria, and in words why."""
    there = np.isfinite(true)
    order = np.argsort(true[there])
    widths, good = true[there][order], (states[there] == ACCEPTED)[order]
    share = f"{100 * demand.required:g} %"
    sure = f"{100 * demand.confidence:g} % confidence"
    counts = np.arange(1, len(widths) + 1)
    kept = np.array(
        [
            clopper_pearson(int(hits), int(count), demand.confidence, sides=1)[0] >= demand.required
            for hits, count in zip(np.cumsum(good), counts, strict=True)
        ]
    )
    if kept.any() and not kept[-1]:
        at = int(np.flatnonzero(kept)[-1])
        return float(widths[at]), (
            f"of instruments with this width or less {share} keep all criteria, with {sure}"
        )
    rank = wilks_rank(int(good.sum()), demand.required, demand.confidence, 1)
    if rank is None:
        return float("nan"), "too few of the drawn instruments keep the criteria; make more samples"
    limit = float(widths[good][-1 - rank])
    if kept.any():
        return limit, (
            f"{share} of the instruments within their tolerances lie below, with {sure} (Wilks); "
            "they keep all criteria"
        )
    return limit, (
        f"{share} of the instruments that keep all criteria lie below, with {sure} (Wilks); this "
        "width alone does not assure the criteria"
    )


def _between(values, demand):
    values = np.sort(values[np.isfinite(values)])
    rank = wilks_rank(len(values), demand.required, demand.confidence, 2)
    if rank is None:
        return float("nan"), float("nan")
    return float(values[rank]), float(values[-1 - rank])


def _row(seen, name, how, at_least, at_most, because):
    noise = seen.read - seen.true
    noise = noise[np.isfinite(noise)]
    deviation = float(noise.std(ddof=1)) if len(noise) > 1 else 0.0
    guard = GUARD_FACTOR * deviation
    inside = (at_least + guard, at_most - guard)
    wrong, right, consumer, producer = _risks(seen, (at_least, at_most), inside)
    if np.isnan([at_least, at_most]).all():
        wrong = right = float("nan")
    one = seen.criterion
    return Check(
        what=name,
        how=how,
        often=OFTEN[how],
        unit=one.unit,
        kind=one.asked.kind,
        expected=float(seen.nominal),
        at_least=float(at_least),
        at_most=float(at_most),
        measurement=deviation,
        guard=guard,
        accept_at_least=float(inside[0]),
        accept_at_most=float(inside[1]),
        rule=_rule(guard, inside),
        consumer_risk=wrong,
        producer_risk=right,
        consumer_risk_interval=consumer,
        producer_risk_interval=producer,
        because=because,
    )


def _rule(guard, inside):
    if np.isnan(inside).all():
        return "no decision can be made without a limit"
    if np.isfinite(inside).all() and inside[0] >= inside[1]:
        return "no decision can be made: the guard bands meet; measure with less uncertainty"
    if guard == 0:
        return (
            "simple acceptance: pass at the limit or inside it; no uncertainty of the measurement "
            'is stated (no input of kind "measurement" moves this figure)'
        )
    return (
        "guarded acceptance (JCGM 106:2012, 8.3): pass at the acceptance limit or inside it, fail "
        "beyond the limit; between the two no decision: find the uncertainty that can be made "
        "less (repeating lessens only what varies at random), and measure again"
    )


def _risks(seen, limits, inside):
    """Shares of wrong instruments passed and right ones failed, each with its interval."""
    there = np.isfinite(seen.true) & np.isfinite(seen.read)
    true, read = seen.true[there], seen.read[there]

    def within(values, ends):
        return ~((values < ends[0]) | (values > ends[1]))

    passed, right = within(read, inside), within(true, limits)
    found = []
    for event in (passed & ~right, right & ~passed):
        count, hits = len(event), int(event.sum())
        found.append((hits / count if count else float("nan"), _interval(hits, count)))
    (wrong, consumer), (lost, producer) = found
    return wrong, lost, consumer, producer


def _interval(hits, count):
    low, high = clopper_pearson(hits, count, 0.95) if count else (float("nan"), float("nan"))
    return Interval(low=low, high=high)
