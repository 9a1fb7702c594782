"""``plume``: which tube and solute, which moments, and what comes back."""

import numpy as np
import pytest

import tailrace
from tailrace.scenario.target import StudyError
from tailrace.studies.plume import passage, plume

COARSE = {"rings": 6, "sections": 12}
SCENARIO = """
title = "Two tubes"
[method]
flow = "0.60 mL/min"
eluent = { viscosity = "1.0 mPa*s" }
[[solutes]]
name = "quick"
diffusivity = "3.0e-9 m^2/s"
[[solutes]]
name = "slow"
diffusivity = "0.5e-9 m^2/s"
[injection]
shape = "gaussian"
sigma = "0.1 s"
[[path]]
name = "first tube"
part = "tube"
bore = "0.17 mm"
length = "100 mm"
[[path]]
name = "volume"
part = "chamber"
volume = "2 uL"
[[path]]
name = "second tube"
part = "tube"
bore = "0.25 mm"
length = "150 mm"
"""


@pytest.fixture(scope="module")
def scenario(tmp_path_factory):
    file = tmp_path_factory.mktemp("plume") / "two.toml"
    file.write_text(SCENARIO)
    return tailrace.load(file)


@pytest.fixture(scope="module")
def second(scenario):
    return plume(scenario, "second tube", "slow", **COARSE, recorded=True)


def test_the_first_tube_and_solute_without_names(scenario):
    found = plume(scenario, times=[0.2], **COARSE)
    assert (found.part, found.solute, found.title) == ("first tube", "quick", "Two tubes")
    assert found.concentration.shape == (1, 6, 12)


def test_the_tube_and_the_solute_that_are_named(second):
    assert (second.part, second.solute) == ("second tube", "slow")
    assert (second.bore, second.length) == (0.25e-3, 0.15)
    assert second.fourier_number == pytest.approx(np.pi * 0.5e-9 * 0.15 / 1e-8)
    assert second.flow_rate == pytest.approx(1e-8)
    assert second.volumes.sum() == pytest.approx(np.pi / 4 * 0.25e-3**2 * 0.15)
    assert second.radii[-1] == 0.125e-3
    assert second.lengths[[0, -1]].tolist() == [0.0, 0.15]


def test_five_moments_tell_the_story(second):
    assert second.times.shape == (5,)
    assert second.left[0] < 0.01
    assert second.left[-1] > 0.8
    assert np.all(np.diff(second.left) > 0)
    assert second.held + second.left == pytest.approx(second.entered, abs=1e-9)


def test_the_signal_goes_on_behind_the_last_moment(second):
    assert second.outlet.times[0, -1] > second.times[-1]


def test_nothing_is_recorded_behind_the_last_part(second, scenario):
    assert second.recorded is None
    assert plume(scenario, times=[0.2], **COARSE).recorded is None


def test_the_end_of_the_path_is_recorded(scenario):
    found = plume(scenario, times=[0.2], recorded=True, **COARSE)
    assert found.recorded.area == pytest.approx(1.0, abs=1e-6)
    assert found.recorded.times[0, -1] > found.outlet.times[0, -1]


def test_so_many_moments_span_the_passage(scenario):
    found = plume(scenario, times=4, **COARSE)
    assert found.times.shape == (4,)
    assert np.ptp(np.diff(found.times)) < 1e-12
    assert found.entered[0] < 1e-5
    assert found.left[-1] > 0.9
    assert np.ptp(found.times) == pytest.approx(passage(scenario), rel=1e-6)


def test_the_tube_is_empty_before_anything_comes(scenario):
    found = plume(scenario, times=[-50.0, 0.2], **COARSE)
    assert not found.concentration[0].any()
    assert (found.entered[0], found.left[0]) == (0.0, 0.0)


def test_a_finer_grid_says_the_same(scenario):
    coarse, fine = (
        plume(scenario, times=[0.25], rings=rings, sections=6 * rings) for rings in (4, 8)
    )
    amounts = (fine.concentration * fine.volumes)[0].reshape(4, 2, 24, 2).sum(axis=(1, 3))
    assert amounts == pytest.approx((coarse.concentration * coarse.volumes)[0], abs=1e-4)


def test_an_instrument_of_its_own_without_a_scenario():
    found = plume(times=[0.3], **COARSE)
    assert found.part == "tube"
    assert 0.05 < found.fourier_number < 0.3


def test_progress_is_told(scenario):
    reported = []
    plume(
        scenario, times=[0.2], **COARSE, progress=lambda done, total: reported.append((done, total))
    )
    done, totals = zip(*reported, strict=True)
    assert list(done) == sorted(done)
    assert len(set(totals)) == 1
    assert done[-1] <= totals[0]


@pytest.mark.parametrize(
    ("names", "text"),
    [
        (("third tube",), 'a known tube, found "third tube"'),
        (("volume",), 'a known tube, found "volume"'),
        ((None, "other"), 'a known solute, found "other"'),
    ],
)
def test_unknown_names(scenario, names, text):
    with pytest.raises(StudyError, match=text):
        plume(scenario, *names)


def bent(folder, method="", first="", second=""):
    text = SCENARIO.replace("[[solutes]]", f"{method}\n[[solutes]]", 1)
    for length, key in (("100 mm", first), ("150 mm", second)):
        text = text.replace(f'length = "{length}"', f'length = "{length}"\n{key}')
    file = folder / "bent.toml"
    file.write_text(text)
    return tailrace.load(file)


def test_a_bent_tube_shows_its_plane_and_its_sections(tmp_path):
    found = plume(bent(tmp_path, first='bend_radius = "50 mm"'), times=[0.2], **COARSE)
    assert found.part == "first tube"
    assert found.plane.shape == (1, 12, 12)
    assert found.across.shape == (1, 5, 49, 49)
    assert found.held + found.left == pytest.approx(found.entered, abs=1e-6)
    # the fast liquid is thrown outward: what goes ahead is there
    front = found.plane[0][:, -1]
    assert front[6:].sum() > 1.1 * front[:6].sum()


@pytest.mark.parametrize("times", [[], 0, [np.nan], [[0.1, 0.2]]])
def test_times_that_are_none(scenario, times):
    with pytest.raises(StudyError, match="times: expected moments"):
        plume(scenario, times=times, **COARSE)
