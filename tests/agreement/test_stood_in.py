"""Paths that are no products: what stands in for them answers as they would."""

import tomllib
from dataclasses import replace

import numpy as np
import pytest
from reference import transfer
from reference.journeys import stream
from reference.measured import DUMMY, ROW, SMALL, UNION, measured_scenario

from tailrace.measurements.measuring import metrics_of
from tailrace.parts import KINDS
from tailrace.parts.tube.bent.galerkin import section
from tailrace.parts.tube.bent.theory import ROUGH, at_lengths, stirred
from tailrace.parts.tube.part import Tube
from tailrace.parts.tube.theory import reduced_cumulants, reduced_fourth
from tailrace.scenario.scenario import Scenario
from tailrace.signals.cubic import sample
from tailrace.signals.resolution import Resolution
from tailrace.studies.measured import bench
from tailrace.studies.measured.bench import FLOW, benches, marched_seconds, signals, standing
from tailrace.studies.measured.diagnosing import diagnose
from tailrace.studies.measured.faults import faults_of, reach_of, with_joints
from tailrace.studies.measured.fitting import plan
from tailrace.studies.measured.inventing import Invention
from tailrace.studies.measured.problem import Problem, Side

GRADIENT = (
    UNION.replace("retention_factor = 1.0", "kw = 200\ns = 4.0")
    + """
[gradient]
dwell_volume = "200 uL"
programme = [{ time = "0 min", strong = 0.1 }, { time = "5 min", strong = 0.9 }]
[[measured]]
name = "column"
file = "column.csv"
"""
)
TUBE = ("path", "tube to column", "bore")
CHANGED = {
    TUBE: 1.5e-4,
    ("path", "flow cell", "volume"): 4e-9,
    ("path", "column", "plates"): 9000.0,
}


@pytest.fixture(scope="module")
def gradient():
    files = {row["file"]: DUMMY for row in tomllib.loads(GRADIENT)["measured"]}
    return benches(Scenario.from_text(GRADIENT, files=files))[0]


@pytest.mark.parametrize("where", [None, *CHANGED], ids=lambda one: one and one[1])
def test_a_gradient_and_what_stands_in_for_it(gradient, where):
    """Against the column through which every element of the band migrates by its own clock."""
    asked = ([where], [CHANGED[where]]) if where else ([], [])
    computed = metrics_of(signals([gradient.itinerary(*asked)]))
    found = metrics_of(standing(gradient).signals(asked[0], [asked[1]]))
    for name in ("variance", "width_half", "apex"):
        assert found[name][0] == pytest.approx(computed[name][0], rel=2e-3), name


def test_without_what_it_lacks_times_are_right_all_the_same(gradient):
    plain = metrics_of(replace(gradient, stand_in=True).signals([], [[]]))
    computed = metrics_of(signals([gradient.itinerary([], [])]))
    assert plain["mean"][0] == pytest.approx(computed["mean"][0], rel=1e-3)
    assert plain["variance"][0] == pytest.approx(computed["variance"][0], rel=0.02)


SHARP = (
    GRADIENT.partition("[gradient]")[0]
    .replace("kw = 200", "retention_factor = 3.0")
    .replace('volume = "1 uL"', 'volume = "10 uL"\nstrong = 0.1')
    .replace("[method]", "[method]\neluent = { water = 0.7, acetonitrile = 0.3 }")
    + """
[[measured]]
name = "column"
file = "column.csv"
"""
)
COIL = 'name = "tube to cell"\nbend_radius = "60 mm"'


@pytest.mark.parametrize(
    ("text", "finer"),
    [(GRADIENT, 2.0), (SHARP, 3.0), (GRADIENT.replace('name = "tube to cell"', COIL), 2.0)],
    ids=["gradient", "sharp sample in a solvent of its own", "bent behind a gradient"],
)
def test_a_fit_takes_the_derivatives_of_the_path_itself(text, finer):
    """Against wide differences of sixth order of what is computed on a finer grid."""
    scenario = measured_scenario(text, Invention(interval=0.1, signal_to_noise=500), 3)
    asked = plan(scenario, ["flow cell.volume", "tube to column.bore"]).problem
    problem = Problem([Side(standing(one)) for one in asked.benches], asked.parameters, True)
    (side,), at, step = problem.sides, problem.start, 0.01
    assert side.derived and not side.multiplied

    def signal(values):
        journey = side.bench.itinerary(problem.where, values[:-1] * problem.sizes)
        band = signals([replace(journey, resolution=Resolution(refinement=finer))])
        return sample(band, (side.times - values[-1] * side.bench.even.step)[None])[0]

    slopes = []
    for beside in np.eye(at.size) * step:
        one, two, three = (signal(at + k * beside) - signal(at - k * beside) for k in (1, 2, 3))
        slopes.append((45 * one - 9 * two + three) / (60 * step))
    wanted = side.projected(signal(at)[None], np.array(slopes))
    size = np.abs(wanted).max(axis=0)
    apart = np.abs(problem.jacobian(at) - wanted).max(axis=0) / size
    assert np.all(apart < 2e-5)
    # those of what stands in, by differences, are right to first order only
    assert np.abs(problem.jacobian(at, False) - wanted).max() > 5e-5 * size.max()


@pytest.mark.parametrize("fourier", [0.01, 0.3, 1.0])
def test_the_fourth_cumulant_of_a_tube_is_that_of_its_transfer_function(fourier):
    """Another basis, and even powers of the frequency in the logarithm of its size."""
    (variance,), _ = reduced_cumulants(np.array([fourier]))
    reduced = np.linspace(0.2, 1.0, 16) * min(1.0, 0.4 + fourier)
    found = np.log(np.abs(transfer.tube(reduced / np.sqrt(variance), fourier, fourier, 48)))
    powers = reduced[:, None] ** (2 * np.arange(5))
    (half, fourth, *_), *_ = np.linalg.lstsq(powers, found / reduced**2, rcond=None)
    assert -2 * half == pytest.approx(1, abs=1e-6)
    said = reduced_fourth(np.array([fourier]))[0] / variance**2
    assert said == pytest.approx(24 * fourth, rel=2e-3)
    assert np.isnan(reduced_fourth(np.array([1e-4])))[0]


ROWS = "".join(
    ROW.format(name=f"u{flow}") + f'flow = "{flow} mL/min"\n' for flow in ("0.5", "0.25", "1.0")
)


def test_what_is_computed_step_by_step_is_foretold_for_each_measurement(monkeypatch):
    monkeypatch.setattr(bench, "march_seconds", lambda passages, resolution: 7.0)
    files = {row["file"]: DUMMY for row in tomllib.loads(UNION + ROWS)["measured"]}
    bent = (UNION + ROWS).replace("[method]", '[method]\nbend_radius = "30 mm"')
    assert marched_seconds(Scenario.from_text(UNION + ROWS, files=files)) == 0
    assert marched_seconds(Scenario.from_text(bent, files=files)) == 7  # at the highest flow alone


@pytest.mark.parametrize("strength, length", [(1e3, 0.4), (1e4, 0.07), (1e4, 1.3)])
def test_a_bent_tube_and_the_straight_one_that_stands_in_for_it(strength, length):
    """Against the expansion over the section, between the lengths at which it is solved for."""
    faster = stirred(np.array([strength]), np.array([length]))
    straight = reduced_cumulants(length * faster)[0] / faster**2
    at = section(0.0, ROUGH)
    bent = at_lengths(at, strength, np.array([length]))[:, 0]
    assert straight == pytest.approx(bent, rel=0.02)


def test_of_a_bent_tube_lanes_that_are_tabulated_stay_and_closer_ones_widen():
    radii = np.array([0.1, 0.02, np.inf])
    tube = Tube(name="coil", bore=1e-4, length=0.3, bend_radius=radii)
    passing = stream().over(3)
    part, to = tube.as_factor(passing)
    own, stood = (KINDS["tube"].theory(*one).variance for one in ((tube, passing), (part, to)))
    assert stood[[0, 2]] == pytest.approx(own[[0, 2]], rel=1e-12)
    assert stood[1] == pytest.approx(own[1], rel=0.03)
    assert part.bend_radius[[0, 2]].tolist() == [0.1, np.inf]
    assert 0.02 < part.bend_radius[1] < 0.1


def test_a_bend_closer_than_is_tabulated_keeps_its_skewness():
    """Against the exact cumulants; that of the straight tube of the same variance is another."""
    tube = Tube(name="coil", bore=1.7e-4, length=0.5, bend_radius=0.03)
    passing = replace(stream(), flow_rate=1.13e-6 / 60, diffusivity=np.array([1e-9]))
    stands = tube.as_factor(passing), tube.straightened(passing)
    exact, stood, straight = (
        KINDS["tube"].theory(part, to.over(1)) for part, to in ((tube, passing), *stands)
    )
    assert stood.variance[0] == pytest.approx(exact.variance[0], rel=0.02)
    assert stood.third[0] == pytest.approx(exact.third[0], rel=0.1)
    assert abs(straight.third[0] / exact.third[0] - 1) > 0.2


def test_a_fault_is_tried_as_far_as_there_is_such_a_part():
    """Up to the plates that slow exchange alone leaves, the scenario's among them."""
    slow = 'plates = 5000\nkinetics = "two-site"\nslow_share = 0.1\nslow_rate = "30 s^-1"'
    text = UNION.replace("plates = 12000", slow)
    text += '[[measured]]\nname = "column"\nfile = "column.csv"\n'
    scenario, joints = with_joints(Scenario.from_text(text, files={"column.csv": DUMMY}))
    fault = next(one for one in faults_of(scenario, joints) if one.name == "column.plates")
    reach = reach_of(fault, benches(scenario))
    assert reach.values[0] < 2000 and 5000 <= reach.values[-1] + 1e-6 < fault.tried()[-1] / 10
    assert abs(reach.at(5000)) < 1e-9 and np.isfinite(reach.changes).all()


def test_a_pump_that_is_off_is_off_at_every_flow():
    rows = tomllib.loads(UNION + ROWS)["measured"]
    scenario = Scenario.from_text(UNION + ROWS, files={row["file"]: DUMMY for row in rows})
    journeys = [one.itinerary([FLOW], [1.06 * 0.5e-6 / 60]) for one in benches(scenario)]
    flows = np.array([one.passages[0][1].flow_rate for one in journeys])
    assert flows * 60e6 == pytest.approx([0.53, 0.265, 1.06], rel=1e-9)


def test_a_pump_is_found_to_be_at_fault():
    off = UNION + ROWS
    for flow in ("0.5", "0.25", "1.0"):
        off = off.replace(f'flow = "{flow} mL/min"', f'flow = "{1.06 * float(flow):.4f} mL/min"')
    how = [Invention(interval=0.05, signal_to_noise=800)] * 3
    files = measured_scenario(off, how, 4).files.contents()
    study = diagnose(Scenario.from_text(UNION + ROWS, files=files))
    assert study.first.name == "method.flow" and study.first.parts == ("pump",)
    assert study.first.values[0] * 60e6 == pytest.approx(0.53, rel=0.01)


def test_a_loop_is_looked_at_like_any_injector():
    text = SMALL.replace('shape = "washout"', 'shape = "loop"\nloop_bore = "0.25 mm"')
    text = text.replace('volume = "1 uL"\nwashout_volume = "0.1 uL"', 'volume = "5 uL"')
    text += ROW.format(name="u0.5") + 'flow = "0.5 mL/min"\n'
    how = Invention(interval=0.1, signal_to_noise=300)
    study = diagnose(measured_scenario(text, how, 3, **{"flow cell__volume": "3.4 uL"}))
    assert "flow cell.volume" in {one.name for one in study.alike}
    assert not study.stood_in
