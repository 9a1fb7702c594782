"""Methods of the tolerance study against published numbers and functions of known answer."""

import numpy as np
import pytest
from reference.instruments import normal, plain_input, samples_of, uniform
from reference.models import FunctionModel
from scipy import stats

from tailrace.scenario.distribution import Distribution
from tailrace.studies.tolerance.judging import acceptance_of, clopper_pearson, states_of
from tailrace.studies.tolerance.sensitivity import indices_of, sobol_indices
from tailrace.studies.tolerance.statistics import (
    least_samples,
    numerical_tolerance,
    settled,
    spread_of,
    tolerance_limits,
    wilks_rank,
)

REPEATS = 2_000


def test_wilks_numbers():
    # Wilks, Ann. Math. Statist. 12 (1941) 91; the numbers stand in every text on best-estimate
    # safety analysis (from memory).
    assert least_samples(0.95, 0.95, 1) == 59
    assert least_samples(0.95, 0.95, 2) == 93
    assert least_samples(0.99, 0.95, 1) == 299
    assert least_samples(0.99, 0.95, 2) == 473
    # By the binomial law of scipy; nothing is counted up, so contents near 1 do not hang.
    assert stats.binom.cdf(1, 4742, 0.001) <= 0.05 < stats.binom.cdf(1, 4741, 0.001)
    assert least_samples(0.999, 0.95, 2) == 4742
    assert least_samples(1 - 1e-9, 0.95, 1) == pytest.approx(np.log(0.05) / -1e-9, rel=1e-6)
    # The second order one-sided: 93, third: 124 (same).
    assert wilks_rank(92, 0.95, 0.95, 1) == 0
    assert wilks_rank(93, 0.95, 0.95, 1) == 1
    assert wilks_rank(123, 0.95, 0.95, 1) == 1
    assert wilks_rank(124, 0.95, 0.95, 1) == 2
    assert wilks_rank(58, 0.95, 0.95, 1) is None


def test_wilks_limits_hold_the_content_with_the_confidence():
    # The content of a uniform distribution on (0, 1) above y is 1 - y, whatever the sample.
    random = np.random.default_rng(5)
    kept = both = 0
    for _ in range(REPEATS):
        found = tolerance_limits(random.random(200), 0.90, 0.95, independent=True)
        kept += found.at_most >= 0.90
        both += found.between.high - found.between.low >= 0.90
    # Exact confidence of the ranks taken, from the binomial law (scipy.stats).
    exact = 1 - stats.binom.cdf(wilks_rank(200, 0.9, 0.95, 1), 200, 0.1)
    assert 0.95 <= exact < 0.98
    assert kept / REPEATS == pytest.approx(exact, abs=3 * np.sqrt(exact * (1 - exact) / REPEATS))
    assert both / REPEATS + 3 * np.sqrt(0.05 * 0.95 / REPEATS) >= 0.95


def test_wilks_limits_are_refused_where_samples_are_not_independent_or_too_few():
    values = np.arange(100.0)
    reported = tolerance_limits(values, 0.95, 0.95, independent=False)
    assert np.isnan(reported.at_least)
    assert reported.refused == "dependent samples"
    reported = tolerance_limits(values[:50], 0.95, 0.95, independent=True)
    assert (reported.refused, reported.samples) == ("few samples", 50)
    reported = tolerance_limits(values[:60], 0.95, 0.95, independent=True)
    assert (reported.at_least, reported.at_most) == (0.0, 59.0)
    assert np.isnan(reported.between.low)


@pytest.mark.parametrize(
    ("shape", "end"),
    [(normal, 3.92), (uniform, 3.88)],
)
def test_sum_of_four(shape, end):
    # JCGM 101:2008, 9.2.2 and 9.2.3: the sum of four inputs with mean 0 and standard deviation 1
    # has u = 2.00; 95 % interval -+ 3.92 for normal ones, -+ 3.88 for rectangular (from memory).
    size = 1.0 if shape is normal else np.sqrt(3)
    samples = samples_of([shape(f"x{one}", 0.0, size) for one in range(4)], 200_000, seed=3)
    values = FunctionModel(lambda x: x.sum(axis=1, keepdims=True))(samples, "").values[0]
    spread = spread_of(values, np.zeros_like(values))
    assert spread.standard_uncertainty == pytest.approx(2.0, abs=4 * spread.uncertainty_error)
    assert spread.symmetric.high == pytest.approx(end, abs=4 * spread.symmetric_error.high + 0.005)
    assert spread.symmetric.low == pytest.approx(-end, abs=4 * spread.symmetric_error.low + 0.005)


def test_one_rectangular_input_ten_times_as_wide():
    # JCGM 101:2008, 9.2.4: the fourth rectangular input with standard deviation 10: u = 10.1 and
    # 95 % interval -+ 17.0 (analytic: -+ 16.96...; from memory).
    inputs = [uniform(f"x{one}", 0.0, np.sqrt(3)) for one in range(3)]
    samples = samples_of([*inputs, uniform("x3", 0.0, 10 * np.sqrt(3))], 200_000, seed=4)
    values = samples.values().sum(axis=1)
    spread = spread_of(values, np.zeros_like(values))
    assert spread.standard_uncertainty == pytest.approx(10.15, abs=0.05)
    assert spread.symmetric.high == pytest.approx(17.0, abs=0.1)


def test_calibration_of_a_weight():
    # JCGM 101:2008, 9.3, table 7: in mg, with a product of inputs that first order leaves out:
    # 1.2341, u = 0.0754, shortest 95 % interval 1.0834 to 1.3825; first order 0.0539 (from memory).
    inputs = [
        normal("reference", 100_000.0, 0.050),
        normal("added", 1.234, 0.020),
        uniform("air", 1.20, 0.10),
        uniform("weight", 8000.0, 1000.0),
        uniform("reference density", 8000.0, 50.0),
    ]
    reference, added, air, weight, density = samples_of(inputs, 500_000, seed=6).values().T
    values = (reference + added) * (1 + (air - 1.2) * (1 / weight - 1 / density)) - 100_000
    spread = spread_of(values, np.zeros_like(values))
    assert np.mean(values) == pytest.approx(1.2341, abs=0.0005)
    assert spread.standard_uncertainty == pytest.approx(0.0754, abs=0.0005)
    assert spread.shortest.low == pytest.approx(1.0834, abs=0.006)
    assert spread.shortest.high == pytest.approx(1.3825, abs=0.006)


@pytest.mark.parametrize(
    ("middle", "mean", "deviation", "low", "high"),
    [
        (0.0, 50e-6, 50e-6, 0.0, 150e-6),
        (0.010, 150e-6, 112e-6, 0.0, 367e-6),
        (0.050, 2551e-6, 502e-6, 1591e-6, 3543e-6),
    ],
)
def test_loss_in_the_comparison_of_power_meters(middle, mean, deviation, low, high):
    # JCGM 101:2008, 9.4.2, tables 8 to 10: the sum of two squares, uncorrelated, u = 0.005 each; a
    # first-order u is 0 for the first (from memory).
    inputs = [normal("real", middle, 0.005), normal("imaginary", 0.0, 0.005)]
    values = np.sum(samples_of(inputs, 2_000_000, seed=7).values() ** 2, axis=1)
    spread = spread_of(values, np.zeros_like(values))
    assert np.mean(values) == pytest.approx(mean, abs=2e-6)
    assert spread.standard_uncertainty == pytest.approx(deviation, abs=2e-6)
    assert spread.shortest.low == pytest.approx(low, abs=20e-6)
    assert spread.shortest.high == pytest.approx(high, abs=20e-6)


def test_calibration_of_a_gauge_block():
    # JCGM 101:2008, 9.5: deviation from 50 mm in nm, with inputs of few readings (scaled and
    # shifted t), an arc sine, and rectangles whose ends are uncertain (inputs from memory). Result
    # and 99 % interval as printed by a paper on digital certificates, Metrology 2(1), 3 (2022),
    # mdpi.com/2673-8244/2/1/3: 838, u = 36, 745 to 932.
    def few(name, middle, size, freedom):
        values = tuple(np.linspace(-1.0, 1.0, freedom + 1))
        shape = Distribution(word="data", values=values, deviation=size)
        return plain_input(name, middle, shape)

    inputs = [
        few("standard", 623.0, 25.0, 18),
        few("difference", 215.0, 6.0, 24),
        few("random", 0.0, 4.0, 5),
        few("systematic", 0.0, 7.0, 8),
        uniform("expansion", 11.5e-6, 2e-6),
        normal("temperature", -0.1, 0.2),
        *(uniform(f"share {one}", 0.5, 0.5) for one in range(5)),
    ]
    samples = samples_of(inputs, 500_000, seed=8).values().T
    standard, difference, scatter, offset, expansion, temperature, cycle, *shares = samples

    def uncertain_ends(half, off, end, within):
        low = -half - off + 2 * off * end
        return low - 2 * low * within

    cyclic = 0.5 * np.sin(np.pi * (2 * cycle - 1))
    of_expansion = uncertain_ends(1e-6, 0.1e-6, *shares[:2])
    of_temperature = uncertain_ends(0.05, 0.025, *shares[2:])
    warm = of_expansion * (temperature + cyclic) + expansion * of_temperature
    values = standard + difference + scatter + offset - (50e6 + standard) * warm
    spread = spread_of(values, np.zeros_like(values))
    low, high = np.quantile(values, [0.005, 0.995])
    assert np.mean(values) == pytest.approx(838, abs=0.6)
    assert spread.standard_uncertainty == pytest.approx(36, abs=0.6)
    assert low == pytest.approx(745, abs=1.5)
    assert high == pytest.approx(932, abs=1.5)


def test_shortest_interval_of_a_skewed_distribution():
    # Exponential: the shortest 95 % interval is (0, ln 20), the symmetric one ends at -ln 0.025.
    random = np.random.default_rng(2)
    values = random.exponential(size=100_000)
    spread = spread_of(values, np.zeros_like(values))
    assert spread.shortest.low == pytest.approx(0.0, abs=0.01)
    assert spread.shortest.high == pytest.approx(np.log(20), abs=0.06)
    assert spread.symmetric.high == pytest.approx(-np.log(0.025), abs=0.08)


@pytest.mark.parametrize("law", [stats.uniform(), stats.norm(), stats.expon(), stats.beta(2, 2)])
@pytest.mark.parametrize("count", [100, 1_000])
def test_an_interval_that_is_sought_as_the_shortest_holds_what_it_says(law, count):
    # Of 1,000 uniform values the shortest interval with 950 holds 94.2 % on average, of 100 92.6 %.
    held = []
    for seed in range(500):
        values = law.rvs(count, random_state=np.random.default_rng([seed, count]))
        spread = spread_of(values, np.zeros(count))
        held.append(np.diff(law.cdf([spread.shortest.low, spread.shortest.high])))
        symmetric = spread.symmetric.high - spread.symmetric.low
        assert spread.shortest.high - spread.shortest.low <= symmetric
    assert 0.948 <= np.mean(held) <= 0.96


@pytest.mark.parametrize(
    ("uncertainty", "digits", "delta"),
    # JCGM 101:2008, 7.9.2.1, example 1: u = 0.35 g has c = 35, l = -2, delta = 0.005 g for two
    # digits; example 2: u = 2 K is c = 2, l = 0, delta = 0.5 K for one (from memory).
    [(0.35, 2, 0.005), (2.0, 1, 0.5), (0.0996, 2, 0.005), (360.0, 1, 50.0), (0.0, 2, 0.0)],
)
def test_numerical_tolerance(uncertainty, digits, delta):
    assert numerical_tolerance(uncertainty, digits) == pytest.approx(delta, rel=1e-12)


def test_adaptive_stop_keeps_its_promise():
    # For a standard normal figure the true values are known: u = 1, ends -+ 1.959964. One digit:
    # delta = 0.5. Two: delta = 0.05, met from about 0.05 = 2 s, s of the end = 2.7/sqrt(samples).
    random = np.random.default_rng(9)
    values = random.standard_normal((1, 20_000))
    early, delta = settled(values[:, :2_000], 1_000, digits=2)
    assert delta == pytest.approx([0.05])
    assert not early
    done, delta = settled(values, 1_000, digits=2)
    assert done
    spread = spread_of(values[0], np.zeros(20_000))
    assert spread.symmetric.high == pytest.approx(1.959964, abs=delta[0])


def _linear():
    inputs = [normal("a", 3.0, 0.5), normal("b", -1.0, 0.2), normal("c", 10.0, 1.0)]
    weights = np.array([2.0, 5.0, 0.5])
    middle = weights @ [3.0, -1.0, 10.0]
    deviation = np.linalg.norm(weights * [0.5, 0.2, 1.0])
    return inputs, FunctionModel(lambda x: (x @ weights)[:, None]), stats.norm(middle, deviation)


def test_coverage_for_a_linear_model():
    # The figure is normal with known mean and deviation. 2,000 studies of 1,000 samples; what each
    # interval holds of the true distribution, on the mean, is its coverage.
    inputs, model, truth = _linear()
    held = {"symmetric": [], "shortest": []}
    means = 0
    for seed in range(REPEATS):
        values = model(samples_of(inputs, 1_000, seed), "").values[0]
        spread = spread_of(values, np.zeros_like(values))
        for name, shares in held.items():
            interval = getattr(spread, name)
            shares.append(truth.cdf(interval.high) - truth.cdf(interval.low))
        means += abs(spread.mean - truth.mean()) <= 1.96 * spread.mean_error
    assert 0.9495 <= np.mean(held["symmetric"]) <= 0.96
    assert 0.9485 <= np.mean(held["shortest"]) <= 0.96
    assert 0.94 <= means / REPEATS <= 0.96


def test_coverage_of_the_probability_of_acceptance():
    # Clopper and Pearson's interval covers at least as often as it says, whatever the truth.
    inputs, model, truth = _linear()
    limit_at = truth.ppf(0.10)
    covered = bound = 0
    for seed in range(REPEATS):
        values = model(samples_of(inputs, 400, seed), "").values[0]
        states = states_of(values, np.zeros_like(values), limit_at, np.nan)
        found = acceptance_of(states, 0.9, 0.95)
        covered += found.interval.low <= 0.9 <= found.interval.high
        bound += found.lower_bound <= 0.9
    assert 0.945 <= covered / REPEATS <= 0.975
    assert 0.94 <= bound / REPEATS <= 0.97


def test_clopper_pearson():
    # scipy.stats.binomtest computes the same interval by root finding.
    for hits, count in ((0, 10), (3, 10), (57, 59), (59, 59)):
        other = stats.binomtest(hits, count).proportion_ci(0.95, method="exact")
        assert clopper_pearson(hits, count, 0.95) == pytest.approx(
            (other.low, other.high), abs=1e-9
        )
    # Of 59 without a failure the one-sided bound is 0.05^(1/59) = 0.9505: Wilks' number again.
    assert clopper_pearson(59, 59, 0.95, sides=1)[0] == pytest.approx(0.05 ** (1 / 59))


def test_a_limit_within_the_numerical_error_decides_nothing():
    states = states_of(
        np.array([9.0, 9.95, 10.05, 11.0, np.nan]), np.full(5, 0.1), 10.0, float("nan")
    )
    assert states.tolist() == [0, -1, -1, 1, -1]
    found = acceptance_of(states, 0.95, 0.95)
    assert (found.accepted, found.refused, found.undecided) == (1, 1, 3)
    assert found.interval.low == pytest.approx(clopper_pearson(1, 5, 0.95)[0])
    assert found.interval.high == pytest.approx(clopper_pearson(4, 5, 0.95)[1])


def test_ishigami():
    # Ishigami and Homma, ISUMA '90 (1990) 398; a = 7, b = 0.1 on (-pi, pi): first order 0.3139,
    # 0.4424, 0; total 0.5576, 0.4424, 0.2437 (in closed form, e.g. Saltelli et al. 2008).
    def ishigami(x):
        return (np.sin(x[:, 0]) + 7 * np.sin(x[:, 1]) ** 2 + 0.1 * x[:, 2] ** 4 * np.sin(x[:, 0]))[
            :, None
        ]

    samples = samples_of([uniform(f"x{one}", 0.0, np.pi) for one in range(3)], 1, seed=1)
    found = sobol_indices(FunctionModel(ishigami), samples, 1024, ["y"])
    first, total = np.array([0.3139, 0.4424, 0.0]), np.array([0.5576, 0.4424, 0.2437])
    assert np.all((found.first_low[0] <= first) & (first <= found.first_high[0]))
    assert np.all((found.total_low[0] <= total) & (total <= found.total_high[0]))
    assert np.all(found.first_high - found.first_low < 0.25)


def test_indices_are_those_of_scipy():
    random = np.random.default_rng(8)
    figures = random.standard_normal((2, 5, 64)) + np.linspace(0, 3, 64)
    mine = indices_of(figures)
    other = stats.sobol_indices(
        func={
            "f_A": figures[:, 0],
            "f_B": figures[:, 1],
            "f_AB": np.moveaxis(figures[:, 2:], 1, 0),
        },
        n=64,
    )
    np.testing.assert_allclose(mine[0], other.first_order, rtol=1e-10)
    np.testing.assert_allclose(mine[1], other.total_order, rtol=1e-10)


def test_indices_of_a_sum_and_of_correlated_inputs():
    # A sum of independent inputs: each index is its share of the variance, first and total alike.
    # Two of them with correlation r count as one: (1 + 4 + 2 * 2 r) of the whole.
    inputs = [normal("a", 0.0, 1.0), normal("b", 0.0, 2.0), normal("c", 0.0, 1.5)]
    model = FunctionModel(lambda x: x.sum(axis=1, keepdims=True))
    correlation = [[1, 0.5, 0], [0.5, 1, 0], [0, 0, 1]]
    found = sobol_indices(model, samples_of(inputs, 1, 1, correlation=correlation), 512, ["y"])
    assert found.inputs == ("a + b", "c")
    shares = np.array([7.0, 2.25]) / 9.25
    for low, high in ((found.first_low, found.first_high), (found.total_low, found.total_high)):
        assert np.all((low[0] <= shares) & (shares <= high[0]))
