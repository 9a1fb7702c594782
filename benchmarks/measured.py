"""Measured signals in the large: is what is said of them as sure as it is said to be?

    python benchmarks/measured.py [fits | scores | files] [COUNT]

``fits``: how many intervals of fits of invented signals hold the truth, and how wide are they
beside the bound of Cramer and Rao at the truth? ``scores``: are zeta scores of the model's own data
normal? ``files``: is there an answer or a sentence, within 2 s, whatever a data file holds?
"""

import sys
import time
from collections import Counter
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from agreement.test_compared import HOW
from agreement.test_fitted import THREE, TRUTH, UNITS
from faults.test_spoilt_signals import SOUND
from reference.measured import measured_scenario, with_rows
from reference.signals import mutated
from scipy.stats import binom, kstest

from tailrace.errors import TailraceError
from tailrace.measurements.measuring import measured_file
from tailrace.measurements.reading import read_signal
from tailrace.studies.measured.comparing import compare
from tailrace.studies.measured.fitting import fit, plan
from tailrace.studies.measured.inventing import Invention
from tailrace.studies.measured.optimising import COVERED, Optimum
from tailrace.studies.measured.result import MATCHED

INTERVALS = (0.05, 0.1, 0.025)
HELD, WIDEST = (0.93, 0.97), 3.0
TOGETHER = 0.95
"""Correlation of estimates, up to which a problem counts as identifiable."""
LEAST_P, SLOWEST = 0.001, 2.0
OFTEN = 0.95
"""Share of the runs in which a metric has to have a score to be looked at: noise that scatters it
otherwise than normally forbids it."""


def fits(count: int = 200) -> bool:
    """One to four free fields that start up to 20 % off; signal-to-noise ratio 50 to 5000."""
    random = np.random.default_rng(2026)
    held, ratios, faults, times = list[bool](), list[float](), 0, list[float]()
    for seed in range(count):
        chosen = random.choice(list(TRUTH), 1 + seed % 4, replace=False).tolist()
        ratio = 50 * 100 ** random.random()
        how = [Invention(signal_to_noise=ratio, interval=one) for one in INTERVALS]
        scenario = measured_scenario(THREE, how, 5000 + seed)
        off = {name: TRUTH[name] * (1 + 0.2 * random.uniform(-1, 1)) for name in chosen}
        begun = time.process_time()
        found = fit(scenario.changed({k: f"{v!r} {UNITS[k]}" for k, v in off.items()}), chosen)
        times.append(time.process_time() - begun)
        faults += found.at_fault
        bound, correlation = _bound(scenario, chosen)
        apart = np.abs(correlation - np.eye(len(chosen))).max() < TOGETHER
        for k, one in enumerate(found.free):
            held.append(one.low <= TRUTH[one.field] <= one.high)
            if apart:
                ratios.append((one.high - one.low) / (2 * COVERED * bound[k] * TRUTH[one.field]))
    share, low, high = np.mean(held), *binom.interval(0.95, len(held), 0.95)
    print(f"{len(held)} intervals of {count} fits: {share:.1%} hold the truth "
          f"(by chance {low / len(held):.1%} to {high / len(held):.1%})")  # fmt: skip
    print(f"width over the bound: median {np.median(ratios):.2f}, at most {max(ratios):.2f} "
          f"({len(ratios)} that are identifiable)")  # fmt: skip
    print(f"model said to be at fault: {faults}; processor time of a fit: median "
          f"{np.median(times):.2f} s, at most {max(times):.2f} s")  # fmt: skip
    return HELD[0] <= share <= HELD[1] and max(ratios) <= WIDEST


def _bound(scenario: object, chosen: list[str]) -> tuple[np.ndarray, np.ndarray]:
    """Relative standard deviations at the truth, delays, areas and baselines being open."""
    problem = plan(scenario, chosen).problem  # type: ignore[arg-type]
    at = problem.start
    optimum = Optimum(values=at, squares=0.0, jacobian=problem.jacobian(at), left=np.zeros(0))
    covariance = optimum.covariance[: len(chosen), : len(chosen)]
    deviation = np.sqrt(np.diag(covariance))
    return deviation, covariance / np.outer(deviation, deviation)


def scores(count: int = 500) -> bool:
    """Kolmogorov and Smirnov's test of each metric that nearly always has a score."""
    text, found, agree = with_rows(("u05", "")), dict[str, list[float]](), 0
    for seed in range(count):
        one = compare(measured_scenario(text, HOW[0], 9000 + seed), seed).measured["u05"]
        agree += one.agrees
        for name, zeta in one.zeta.items():
            found.setdefault(name, []).append(float(zeta))
    sound = True
    for name, values in found.items():
        kept = np.array(values)[np.isfinite(values)]
        if name in MATCHED or kept.size < OFTEN * count:
            continue
        p = kstest(kept, "norm").pvalue
        sound &= p > LEAST_P
        beyond = [f"{np.mean(np.abs(kept) > limit):.2%} above {limit}" for limit in (2, 3)]
        told = f"mean {kept.mean():6.3f} deviation {kept.std():5.3f} p {p:.3f} of {kept.size}; "
        told += ", ".join(beyond)
        print(f"{name:20s} {told}")
    print(f"{agree} of {count} signals agree in all metrics")
    return sound


def files(count: int = 2000) -> bool:
    """Real and invented files with bytes changed, cut, doubled."""
    told, slowest = Counter[str](), 0.0
    measured_file(read_signal(SOUND["text"], "sound"))  # the first loads what all need
    for seed in range(count):
        kind = list(SOUND)[seed % len(SOUND)]
        content = mutated(SOUND[kind], np.random.default_rng([77, seed]))
        begun = time.process_time()
        try:
            measured_file(read_signal(content, "spoilt"))
            told["answered"] += 1
        except TailraceError as error:
            told["refused in one sentence" if "\n" not in str(error) else "LONG"] += 1
        except Exception as error:  # what is looked for
            told[f"TRACEBACK {kind} {seed} {error!r}"] += 1
        slowest = max(slowest, time.process_time() - begun)
    print(*(f"{one}: {many}" for one, many in told.items()), sep="\n")
    print(f"slowest: {slowest:.2f} s")
    return set(told) <= {"answered", "refused in one sentence"} and slowest < SLOWEST


ASKED = {"fits": fits, "scores": scores, "files": files}


def main() -> int:
    """1 where a bar is missed."""
    names = [one for one in sys.argv[1:] if one in ASKED] or list(ASKED)
    counts = [int(one) for one in sys.argv[1:] if one.isdigit()]
    sound = [ASKED[name](*counts) for name in names]
    return int(not all(sound))


if __name__ == "__main__":
    sys.exit(main())
