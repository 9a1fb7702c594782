"""Coverage of every interval and risk that a page of `tolerance` or `improve` states.

    python benchmarks/covered.py [--studies 1000] [--only WORD]

Those of `fit` and the scores of `compare`: benchmarks/measured.py. The guide's page of evidence
lists all with what was found.

Each row is a statement, made by the study's own functions from samples of a known law, as often as
there are studies. Held are the nominal probability on the conservative side or within 1 % of it,
beyond what so many studies leave open (two standard deviations). The exit code is 1 where one is
not held.
"""

import argparse
import sys
import time
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
from scipy import stats
from scipy.optimize import brentq

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "tests"))

from reference.instruments import limit, normal, samples_of  # noqa: E402
from reference.models import FunctionModel  # noqa: E402

from tailrace.scenario.distribution import Distribution  # noqa: E402
from tailrace.scenario.drift import Drift  # noqa: E402
from tailrace.scenario.drift_table import RetestTable  # noqa: E402
from tailrace.scenario.inputs import inputs_of  # noqa: E402
from tailrace.scenario.reading import Reading  # noqa: E402
from tailrace.scenario.scenario import Scenario  # noqa: E402
from tailrace.scenario.typical import with_typical  # noqa: E402
from tailrace.studies.improving.expecting import SAMPLES, _interval  # noqa: E402
from tailrace.studies.measured import protocol  # noqa: E402
from tailrace.studies.measured.bench import benches  # noqa: E402
from tailrace.studies.samples import sampled  # noqa: E402
from tailrace.studies.tolerance.drifting import drifting  # noqa: E402
from tailrace.studies.tolerance.judging import Demand, acceptance_of, states_of  # noqa: E402
from tailrace.studies.tolerance.models import Answer  # noqa: E402
from tailrace.studies.tolerance.population import population_of  # noqa: E402
from tailrace.studies.tolerance.qualification import Seen, direct, of_peak, of_union  # noqa: E402
from tailrace.studies.tolerance.region import _bounds  # noqa: E402
from tailrace.studies.tolerance.sensitivity import sobol_indices  # noqa: E402
from tailrace.studies.tolerance.series import own_limits, series_range  # noqa: E402
from tailrace.studies.tolerance.statistics import spread_of, tolerance_limits  # noqa: E402
from tailrace.studies.tolerance.transferring import _found  # noqa: E402
from tailrace.studies.tolerance.widening import Question, widened  # noqa: E402

WITHIN = 0.01
LAWS = {"normal": stats.norm(), "exponential": stats.expon(), "uniform": stats.uniform()}
DEMAND = Demand(criteria=(limit(at_most=2.0),), required=0.9, confidence=0.95)
TWO = 1.959964


def intervals(draw, count, law):
    """Coverage intervals of a metric, and the standard errors beside its summary."""
    values = law.rvs(count, random_state=draw)
    found = spread_of(values, np.zeros(count))
    ends = law.ppf([0.025, 0.975])

    def content(one):
        return law.cdf(one.high) - law.cdf(one.low)

    def near(value, error, truth):
        return abs(value - truth) <= TWO * error

    at, off = found.symmetric, found.symmetric_error
    return {
        "symmetric 95 % interval, content": (0.95, content(found.symmetric)),
        "shortest 95 % interval, content": (0.95, content(found.shortest)),
        "mean within 1.96 standard errors": (0.95, near(found.mean, found.mean_error, law.mean())),
        "u within 1.96 standard errors": (
            0.95,
            near(found.standard_uncertainty, found.uncertainty_error, law.std()),
        ),
        "lower end within 1.96 errors": (0.95, near(at.low, off.low, ends[0])),
        "upper end within 1.96 errors": (0.95, near(at.high, off.high, ends[1])),
    }


def acceptances(draw, count, share):
    """The share that keeps the criteria: interval, lower bound, upper bound."""
    values = draw.random(count)
    states = states_of(values, np.zeros(count), np.nan, share)
    found = acceptance_of(states, 0.9, 0.95)
    kept = found.interval
    return {
        f"interval of a share of {share:g}": (0.95, kept.low <= share <= kept.high),
        f"'by at least', of {share:g}": (0.95, found.lower_bound <= share),
        f"'by at most', of {share:g}": (0.95, share <= kept.high),
    }


def limits_of(draw, count):
    """Distribution-free tolerance limits, and control limits of a peak."""
    values = draw.random(count)
    found = tolerance_limits(values, 0.9, 0.95, independent=True)
    seen = Seen(criterion=limit(), nominal=0.5, true=values)
    control = of_peak(seen, DEMAND)
    return {
        "90 % lie above, Wilks": (0.95, 1 - found.at_least >= 0.9),
        "90 % lie below, Wilks": (0.95, found.at_most >= 0.9),
        "90 % lie between, Wilks": (0.95, found.between.high - found.between.low >= 0.9),
        "control limits hold 90 %": (0.95, control.at_most - control.at_least >= 0.9),
    }


def risks(draw, count, freedom):
    """Guard band and both risks; what lies right at the limit must be refused often enough."""
    least, unsure = 8.5, 0.3
    reading = Reading(measure="plates", deviation=unsure, freedom=freedom)
    errors = reading.errors(count, draw)
    true = draw.normal(10.0, 1.0, count)
    seen = Seen(
        criterion=limit(at_least=least), nominal=10.0, true=true, reading=reading, scores=errors
    )
    found = direct(seen, DEMAND)
    wrong, failed = known_risks(freedom, least, unsure, found.guard)
    repeated = np.isfinite(freedom)  # then a band follows from a spread that is read itself
    spread = np.std(draw.normal(0.0, unsure, 5), ddof=1) / unsure if repeated else 1.0
    at_limit = draw.normal(0.0, unsure) < spread * found.guard
    consumer, producer = found.consumer_risk_interval, found.producer_risk_interval
    return {
        "what lies at the limit is refused": (0.95, at_limit),
        "interval of the consumer's risk": (0.95, consumer.low <= wrong <= consumer.high),
        "interval of the producer's risk": (0.95, producer.low <= failed <= producer.high),
    }


RISKS = {}


def known_risks(freedom, least, unsure, guard):
    """Both risks of JCGM 106 by quadrature."""
    if freedom not in RISKS:
        law = stats.norm() if np.isinf(freedom) else stats.t(freedom)
        at = np.linspace(10 - 9, 10 + 9, 200_001)
        weight = stats.norm.pdf(at, 10.0, 1.0) * (at[1] - at[0])
        passes = law.sf((least + guard - at) / unsure)
        RISKS[freedom] = (
            float(np.sum((weight * passes)[at < least])),
            float(np.sum((weight * (1 - passes))[at >= least])),
        )
    return RISKS[freedom]


def union(draw, count):
    """Of instruments with this width or less the required share meets all criteria."""
    width = draw.random(count)
    # the criterion is kept with a probability that falls with the width from 1 to 0.5
    states = (draw.random(count) < 1 - width / 2).astype(int)
    seen = Seen(criterion=limit(), nominal=0.5, true=width)
    found = of_union(seen, states, DEMAND)
    # of those up to w a share 1 - w/4 is right: 90 % at 0.4
    return {"'of instruments up to this width' 90 %": (0.95, not found.at_most > 0.4)}


def few(draw, count):
    """From few values: the next part, and their mean (JCGM 101:2008, 6.4.9.4)."""
    values = np.sort(draw.normal(size=count))
    held = {}
    for name, share, inside in (
        (
            "of the next part",
            1 + 1 / count,
            lambda low, high: low < draw.normal() < high,
        ),
        ("of what is known of one", 1 / count, lambda low, high: low < 0 < high),
    ):
        wide = float(values.std(ddof=1) * np.sqrt(share))
        shape = Distribution(word="data", values=tuple(values), deviation=wide)
        ends = shape.law(0.0).ppf(np.array([0.025, 0.975]))
        held[f"95 % {name}, from {count} values"] = (0.95, inside(*ends))
    return held


def gains(draw, count):
    """What one step of `improve` brings, from its samples."""
    low, high = _interval(draw.normal(size=count))
    return {"95 % of the gain of a step, content": (
        0.95, stats.norm.cdf(high) - stats.norm.cdf(low)
    )}  # fmt: skip


def indices(draw, count):
    """Sobol' indices of Ishigami's function (closed form)."""
    inputs = [normal(name, 0.0, 1.0) for name in "abc"]
    seed = int(draw.integers(1 << 30))

    def ishigami(x):
        x = np.pi * (2 * stats.norm.cdf(x) - 1)
        return (np.sin(x[:, 0]) * (1 + 0.1 * x[:, 2] ** 4) + 7 * np.sin(x[:, 1]) ** 2)[:, None]

    found = sobol_indices(FunctionModel(ishigami), samples_of(inputs, 10, seed), count, ["y"])
    first, total = (0.313905, 0.442411, 0.0), (0.557589, 0.442411, 0.243684)
    return {
        f"interval of the index {'abc'[k]} {kind}": (0.95, low[0, k] <= truth[k] <= high[0, k])
        for kind, truth, low, high in (
            ("alone", first, found.first_low, found.first_high),
            ("with others", total, found.total_low, found.total_high),
        )
        for k in range(3)
    }


def population(draw, count):
    """The share of instruments where what is not known is less favourable than 95 % of it."""
    seed = int(draw.integers(1 << 30))
    inputs = [normal("differs", 0.0, 1.0), normal("unknown", 0.0, 0.5, kind="knowledge")]
    samples = samples_of(inputs, count, seed)
    model = FunctionModel(lambda values: values.sum(axis=1)[:, None])
    found = population_of(model, samples, model(samples, ""), DEMAND, count)
    # at the state of knowledge that was found
    share = stats.norm.cdf(2.0 - found.knowledge["unknown"])
    worst = stats.norm.cdf(2.0 - 0.5 * stats.norm.ppf(0.95))
    return {
        "share at the state of knowledge found": (0.95, found.acceptance.lower_bound <= share),
        "share at the 95 % state of knowledge": (0.95, found.acceptance.lower_bound <= worst),
    }


TRUTH = []


def widest(draw, count):
    """The widest tolerance is not too wide; and fresh samples that confirm it are right."""
    seed = int(draw.integers(1 << 30))
    inputs = [normal("a", 0.0, 1.0), normal("b", 0.0, 0.5)]
    model = FunctionModel(lambda x: x[:, :1] + x[:, 1:] ** 2)
    demand = Demand(criteria=(limit(at_most=4.0),), required=0.90, confidence=0.95)
    samples = samples_of(inputs, count, seed)
    seen = samples.values(), model(samples, "").values
    asked = Question(rule="alone", weights=np.array([1, 0]))
    found = widened(model, samples, seen, demand, asked, 200, "w")
    nodes, weights = np.polynomial.hermite_e.hermegauss(60)
    weights = weights / weights.sum()

    def share(scale):
        return weights @ stats.norm.cdf((4 - (0.5 * nodes) ** 2) / scale)

    if not TRUTH:
        TRUTH.append(brentq(lambda scale: share(scale) - 0.90, 0.5, 8))
    rows = {"the widest tolerance is not too wide": (0.95, found.scale <= TRUTH[0])}
    if found.fresh is not None:
        bound = found.fresh.lower_bound
        rows["fresh samples: lower bound of the share"] = (0.95, bound <= share(found.scale))
        if bound >= 0.9:
            rows["'fresh samples confirm it' is true"] = (0.95, found.scale <= TRUTH[0])
    return rows


LIFE = {"mean": 16.0, "rate": -0.3, "risk": 0.05, "months": 24.0}
"""A metric of instruments, normal about a mean with deviation 1, that falls by so much a month."""


def drifts(draw, count):
    """How long instruments last that keep at least 10 at the start (normal, closed form)."""
    samples = samples_of([normal("x", LIFE["mean"], 1.0)], count, int(draw.integers(1 << 30)))
    model = FunctionModel(lambda values: values[:, :1])
    demand = Demand(criteria=(limit(at_least=10.0),), required=0.9, confidence=0.95)
    one = Drift(input=normal("x", 0.0, 0.0), where=("method", "", "x"), rate=LIFE["rate"])
    retest = RetestTable(risk=LIFE["risk"], months=LIFE["months"])
    found = drifting(model, samples, model(samples, ""), demand, [one], retest)
    lasts = (LIFE["mean"] - 10.0 + stats.norm.ppf(LIFE["risk"])) / -LIFE["rate"]
    fallen = stats.norm.cdf(10.0 - LIFE["mean"] - LIFE["rate"] * found.times)
    ends, at = found.interval_error, len(fallen) - 2
    return {
        "interval of the time until tested again": (0.95, ends.low <= lasts <= ends.high),
        "'with confidence not exceeded for'": (0.95, found.assured <= lasts),
        "interval of the share that has fallen": (
            0.95,
            found.fallen_low[at] <= fallen[at] <= found.fallen_high[at],
        ),
    }


def transfers(draw, count):
    """Pairs of instruments that share a part, another differs (normal, by quadrature)."""
    shared, own = draw.normal(0.0, 0.5, count), draw.normal(0.0, 0.3, (2, count))
    answers = [Answer(values=(shared + one)[None], errors=np.zeros((1, count))) for one in own]
    asked = (limit(at_most=1.0, margin=0.8),)
    scenario = SimpleNamespace(title="")
    found = _found(scenario, scenario, asked, answers, answers, 1)
    nodes, weights = np.polynomial.hermite_e.hermegauss(60)
    kept = stats.norm.cdf((1.0 - 0.5 * nodes) / 0.3)
    both = float(weights @ kept**2 / weights.sum())
    within = float(2 * stats.norm.cdf(0.8 / (0.3 * np.sqrt(2))) - 1)
    one = float(stats.norm.cdf(1.0 / np.hypot(0.5, 0.3)))
    row, wide = found.rows[0], 0.3 * np.sqrt(2)
    ends = stats.norm.ppf([0.025, 0.975]) * wide
    apart, off = row.spread.symmetric, row.spread.symmetric_error
    rows = {
        "both instruments pass, by at least": (0.95, found.both.lower_bound <= both),
        "equivalent within margins, by at least": (0.95, found.equivalent.lower_bound <= within),
        "the second passes, by at least": (0.95, row.second.lower_bound <= one),
        "lower end of the difference within 1.96 errors": (
            0.95,
            abs(apart.low - ends[0]) <= TWO * off.low,
        ),
    }
    for name, seen, truth in (
        ("both pass", found.both, both),
        ("equivalent", found.equivalent, within),
    ):
        held = seen.interval.low <= truth <= seen.interval.high
        rows[f"interval of the share: {name}"] = (0.95, held)
    return rows


def series(draw, count):
    """An RSD of so many injections, and the next injection beside the first ones."""
    *first, later = draw.normal(1.0, 0.01, count + 1)
    low, high = series_range(count)
    deviation = np.std(first, ddof=1)
    return {
        "range of the RSD of a series": (0.95, low <= deviation / 0.01 <= high),
        "an instrument's own limits hold the next": (
            0.95,
            abs(later - np.mean(first)) <= own_limits(count, 0.95) * deviation,
        ),
    }


def maps(draw, count):
    """The bounds of the share at one place of a map."""
    share = 0.93
    hits = np.array([[draw.binomial(count, share)]])
    low, high = (float(np.ravel(one)[0]) for one in _bounds(hits, count, 0.95))
    return {
        "a place is 'inside', by its lower bound": (0.95, low <= share),
        "a place is 'outside', by its upper bound": (0.95, high >= share),
    }


PLANS = {}


def bands(draw, file):
    """An instrument as `protocol` takes it to be: its variance in each measurement of the plan."""
    if file not in PLANS:
        scenario = Scenario.load(ROOT / "scenarios" / file)
        plan = protocol.plan(scenario)
        invented, rows = protocol._invented(plan, "product")
        known = invented if inputs_of(invented) else with_typical(invented)
        PLANS[file] = known, benches(invented), protocol._measurings(invented, rows, "product")
    known, measured, planned = PLANS[file]
    drawn = sampled(known, 1, int(draw.integers(1 << 30)))
    values = list(zip(drawn.where, drawn.values()[0].tolist(), strict=True))
    rows = {}
    for bench, one in zip(measured, planned, strict=True):
        own = [row for row in values if bench.concerned(row[0])]
        seen = protocol._variance(replace(bench, stand_in=True), own) * one.flow**2
        rows[f"variance, {one.name}"] = (0.95, one.variance_low <= seen <= one.variance_high)
    return rows


STATEMENTS = {
    **{f"1,000 samples, {name}": (intervals, (1_000, law), 4) for name, law in LAWS.items()},
    "10,000 samples, normal": (intervals, (10_000, LAWS["normal"]), 1),
    "400 samples": (acceptances, (400, 0.9), 4),
    "1,000 samples": (acceptances, (1_000, 0.99), 4),
    "200 samples": (limits_of, (200,), 4),
    "2,000 instruments, normal readings": (risks, (2_000, np.inf), 4),
    "2,000 instruments, readings known from 5": (risks, (2_000, 4.0), 4),
    "1,000 instruments": (union, (1_000,), 1),
    "few values": (few, (5,), 4),
    f"{SAMPLES} samples": (gains, (SAMPLES,), 4),
    "Ishigami, 256 rows": (indices, (256,), 1),
    "1,000 instruments, two kinds": (population, (1_000,), 1),
    "300 samples": (widest, (300,), 1),
    "400 instruments that drift": (drifts, (400,), 1),
    "400 pairs of instruments": (transfers, (400,), 1),
    "92 samples at a place": (maps, (92,), 4),
    "6 injections": (series, (6,), 20),
    "plan, typical": (bands, ("measured/instrument.toml",), 1),
    "plan, own": (bands, ("tolerance/column-test.toml",), 1),
}
"""Statement functions with what they are asked, and how many times the studies are made."""


def main():
    asked = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    asked.add_argument("--studies", type=int, default=1_000)
    asked.add_argument("--only", default="")
    asked = asked.parse_args()
    missed = 0
    print(f"{'statement':76} {'studies':>7} {'stated':>7} {'found':>7} {'±':>6}")
    for where, (state, given, times) in STATEMENTS.items():
        if asked.only not in f"{where} {state.__name__}":
            continue
        begin, rows = time.process_time(), {}
        for seed in range(times * asked.studies):
            for name, row in state(np.random.default_rng([seed, 17]), *given).items():
                rows.setdefault(name, []).append(row)
        for name, found in rows.items():
            stated, held = found[0][0], np.array([one for _, one in found], dtype=float)
            share, error = held.mean(), held.std() / np.sqrt(len(held))
            kept = share + 2 * error >= stated - WITHIN
            missed += not kept
            print(
                f"{f'{where}: {name}':76} {len(held):7} {stated:7.3f} {share:7.4f} {error:6.4f}"
                f"{'' if kept else '  NOT held'}",
                flush=True,
            )
        print(f"{'':76} {time.process_time() - begin:.0f} s")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
