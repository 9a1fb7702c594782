"""Samples: repeatable, correlated as asked, and laid upon scenarios without losing a digit."""

from dataclasses import fields, replace

import numpy as np
import pytest

import tailrace
from tailrace.errors import ScenarioError
from tailrace.scenario.target import StudyError
from tailrace.studies.axes import cases_of
from tailrace.studies.samples import (
    GENERATORS,
    as_axis,
    sampled,
    scores_of,
    uniform_points,
)

ROWS = """
[[uncertain]]
field = "inlet tube.bore"
distribution = "uniform"
half_width = "12 um"

[[uncertain]]
field = "path.late.plates"
distribution = "normal"
relative = 0.05
kind = "measurement"

[[uncertain]]
field = "method.temperature"
distribution = "triangular"
half_width = "2 K"

[[uncertain]]
field = "solutes.late.retention_factor"
distribution = "normal"
standard_deviation = 0.1

[[uncertain]]
field = "injection.volume"
distribution = "lognormal"
relative = 0.02

[[uncertain]]
field = "detector.time_constant"
distribution = "trapezoidal"
half_width = "20 ms"
top_half_width = "5 ms"

[[uncertain]]
field = "method.flow"
distribution = "normal"
relative = 0.01

[[correlated]]
fields = ["inlet tube.bore", "path.late.plates"]
coefficient = -0.6
"""


@pytest.fixture
def uncertain(tmp_path, text):
    file = tmp_path / "uncertain.toml"
    plates = 'particle_diameter = "2.7 um"'
    file.write_text(text.replace(plates, plates + "\nplates = 5000") + ROWS)
    return tailrace.load(file)


def same(one, other):
    """Whether two itineraries hold the very same numbers."""
    assert one.lanes == other.lanes
    assert one.resolution == other.resolution
    for mine, its in zip(one.passages, other.passages, strict=True):
        for record, twin in zip(mine, its, strict=True):
            assert type(record) is type(twin)
            for field in fields(record):
                np.testing.assert_array_equal(
                    getattr(record, field.name), getattr(twin, field.name), strict=False
                )


def test_the_fast_way_gives_what_checking_each_sample_as_a_file_gives(uncertain):
    samples = sampled(uncertain, 6, seed=4)
    axes = tuple(
        as_axis(one, column) for one, column in zip(samples.inputs, samples.values().T, strict=True)
    )
    slow = [case.itinerary() for case in cases_of(uncertain, axes, together=True)]
    fast = samples.itineraries(uncertain)
    assert len(fast) == len(slow) == 6
    for one, other in zip(fast, slow, strict=True):
        same(one, other)


@pytest.mark.parametrize("generator", GENERATORS)
def test_the_same_seed_gives_the_same_samples_and_another_gives_others(uncertain, generator):
    one, again = (sampled(uncertain, 64, 7, generator) for _ in range(2))
    other = sampled(uncertain, 64, 8, generator)
    assert one.scores.tobytes() == again.scores.tobytes()
    assert np.abs(one.scores - other.scores).min() > 0
    assert one.independent == (generator == "random")
    assert np.isfinite(one.values()).all()


@pytest.mark.parametrize("generator", ["random", "sobol", "halton"])
def test_more_samples_begin_with_the_same(generator):
    few, many = (uniform_points(count, 3, 7, generator) for count in (32, 128))
    np.testing.assert_array_equal(few, many[:32])


def test_streams_are_apart(uncertain):
    samples = sampled(uncertain, 2_000, 7)
    again = samples.again(2_000, stream=3)
    assert not np.isin(samples.scores, again.scores).any()
    # Correlation of independent columns: a standard deviation of 1/sqrt(2000).
    both = np.corrcoef(samples.scores[:, 0], again.scores[:, 0])[0, 1]
    assert abs(both) < 4 / np.sqrt(2_000)


def test_scores_are_correlated_as_asked(uncertain):
    samples = sampled(uncertain, 20_000, 1)
    found = np.corrcoef(samples.scores.T)
    wanted = np.eye(7)
    wanted[0, 1] = wanted[1, 0] = -0.6
    np.testing.assert_allclose(found, wanted, atol=4 / np.sqrt(20_000))
    assert samples.groups == ((0, 1), (2,), (3,), (4,), (5,), (6,))
    # Spearman's coefficient of a Gaussian copula is 6/pi asin(r/2) (Kruskal, JASA 53 (1958) 814).
    from scipy.stats import spearmanr

    rank = spearmanr(samples.values()[:, 0], samples.values()[:, 1]).statistic
    assert rank == pytest.approx(6 / np.pi * np.arcsin(-0.3), abs=0.02)


def test_points_at_the_ends_of_the_unit_interval_are_finite():
    assert np.isfinite(scores_of(np.array([[0.0, 1.0]]), np.eye(2))).all()


def test_a_changed_scenario_takes_the_same_deviations(uncertain):
    samples = sampled(uncertain, 50, seed=4)
    document = uncertain.document
    tube = document.path[0].model_copy(update={"bore": 1.0e-4})
    # The tube moves behind the column, and the cell is gone.
    changed = replace(
        uncertain, document=document.model_copy(update={"path": [document.path[1], tube]})
    )
    mine, its = samples.values(), samples.values(changed)
    np.testing.assert_allclose(its[:, 0] - 1.0e-4, mine[:, 0] - 1.7e-4, atol=1e-18)
    np.testing.assert_array_equal(its[:, 1:], mine[:, 1:])
    itinerary = samples.itineraries(changed)[3]
    assert [part.name for part, _ in itinerary.passages[1:-1]] == ["late", "inlet tube"]
    assert itinerary.passages[2][0].bore == its[3, 0]
    bare = replace(uncertain, document=document.model_copy(update={"path": [document.path[1]]}))
    assert np.isnan(samples.values(bare)[:, 0]).all()
    assert samples.itineraries(bare)[3].passages[1][0].plates == mine[3, 1]


def test_scales_widen_and_switch_off(uncertain):
    samples = sampled(uncertain, 50, seed=4)
    still = samples.scaled(np.zeros(7)).values()
    assert np.ptp(still, axis=0).max() == 0
    same(
        samples.scaled(np.zeros(7)).itineraries(uncertain)[0],
        uncertain.itinerary(),
    )
    twice = samples.scaled([2.0, *np.ones(6)])
    deviations = samples.values()[:, 0] - 1.7e-4
    np.testing.assert_allclose(twice.values()[:, 0] - 1.7e-4, 2 * deviations, rtol=1e-9)


def test_far_ends_are_checked_as_a_file(uncertain, tmp_path, text):
    sampled(uncertain, 1, 1).check(uncertain)
    file = tmp_path / "porous.toml"
    porosities = "porosity = 0.52\nexternal_porosity = 0.40"
    where = 'particle_diameter = "2.7 um"'
    file.write_text(
        text.replace(where, f"{where}\n{porosities}")
        + '\n[[uncertain]]\nfield = "path.late.porosity"\ndistribution = "uniform"\n'
        "half_width = 0.15\n"
    )
    scenario = tailrace.load(file)
    with pytest.raises(ScenarioError, match=r"at path\.late\.porosity = 0\.37: "):
        sampled(scenario, 1, 1).check(scenario)


def test_what_cannot_be_drawn(scenario, uncertain):
    with pytest.raises(StudyError, match=r"found no \[\[uncertain\]\]"):
        sampled(scenario, 10, 1)
    with pytest.raises(StudyError, match=r"power of 2 .* found 100 samples; take 64 or 128"):
        sampled(uncertain, 100, 1, "sobol")
    with pytest.raises(StudyError, match="expected a generator of random, sobol"):
        sampled(uncertain, 100, 1, "dice")
