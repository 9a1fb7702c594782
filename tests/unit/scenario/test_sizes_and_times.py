"""Parts and solutes by what people know: volumes of tubes, rates, retention times, filters."""

import numpy as np
import pytest

import tailrace
from tailrace.errors import ScenarioError
from tailrace.journey import travel
from tailrace.scenario.changed import changed
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.unusual import unusual

TEXT = """\
[method]
flow = "0.4 mL/min"
viscosity = "0.5 mPa*s"
[[solutes]]
name = "one"
SOLUTE
diffusivity = "1e-9 m^2/s"
[injection]
shape = "plug"
volume = "1 uL"
[[path]]
name = "tube"
part = "tube"
TUBE
[[path]]
name = "column"
part = "column"
bore = "2.1 mm"
length = "50 mm"
particle_diameter = "2.7 um"
[[path]]
name = "cell"
part = "cell"
volume = "2 uL"
[detector]
DETECTOR
"""
SIZED = 'bore = "0.12 mm"\nlength = "300 mm"'


def scenario(tube=SIZED, solute="retention_factor = 2.0", detector="", more=""):
    text = TEXT.replace("TUBE", tube).replace("SOLUTE", solute).replace("DETECTOR", detector)
    return Scenario.from_text(text + more)


def tube_of(made):
    return made.itinerary().passages[1][0]


@pytest.mark.parametrize(
    ("keys", "bore", "length"),
    [
        ('bore = "0.12 mm"\nvolume = "4.5 uL"', 0.12e-3, 4.5e-9 / (np.pi / 4 * 0.12e-3**2)),
        ('length = "400 mm"\nvolume = "4.5 uL"', np.sqrt(4.5e-9 / 0.4 * 4 / np.pi), 0.4),
    ],
)
def test_a_tube_by_its_volume(keys, bore, length):
    tube = tube_of(scenario(keys))
    assert (tube.bore, tube.length) == pytest.approx((bore, length), rel=1e-12)
    assert tube.volume == pytest.approx(4.5e-9, rel=1e-12)


@pytest.mark.parametrize(
    ("keys", "key", "advice"),
    [
        (SIZED + '\nvolume = "4.5 uL"', "volume", "leave out one"),
        ('volume = "4.5 uL"', "bore", 'add bore = "0.12 mm"'),
        ('bore = "0.12 mm"', "length", 'add length = "300 mm"'),
        ('bore = "0.12 mm"\nvolume = "4.5 mL"', "volume", "check the volume and its unit"),
    ],
)
def test_sizes_that_do_not_make_a_tube(keys, key, advice):
    with pytest.raises(ScenarioError) as refused:
        scenario(keys)
    (problem,) = refused.value.problems
    assert f"path[0].{key}: " in problem
    assert advice in problem


def test_a_new_length_of_a_tube_given_by_its_volume():
    result = scenario('bore = "0.12 mm"\nvolume = "4.5 uL"')
    assert tube_of(result.changed({"tube.length": "100 mm"})).length == pytest.approx(0.1)
    assert tube_of(result.changed({"tube.volume": "9 uL"})).bore == pytest.approx(0.12e-3)


def test_a_rate_is_an_interval():
    result = scenario(detector='rate = "5 Hz"')
    assert result.itinerary().passages[-1][0].interval == pytest.approx(0.2)
    assert not any("no interval" in line for line in result.assumptions())
    with pytest.raises(ScenarioError, match="either interval or rate"):
        scenario(detector='rate = "5 Hz"\ninterval = "0.2 s"')


@pytest.mark.parametrize(
    ("keys", "advice"),
    [
        ('averaged = true\nrate = "5 Hz"\nmoving_average = "1 s"', "either averaged or moving"),
        ("sampling_phase = 0.5", 'add rate = "20 Hz"'),
        ('sampling_phase = 1.0\nrate = "5 Hz"', "below 1"),
    ],
)
def test_filters_that_do_not_go_together(keys, advice):
    with pytest.raises(ScenarioError, match=advice):
        scenario(detector=keys)


def test_a_retention_time_is_when_the_peak_is_recorded():
    made = scenario(solute='retention_time = "1.2 min"', detector='rate = "20 Hz"')
    result = travel(made.itinerary())
    assert result.recorded["mean"] == pytest.approx(72.0, rel=1e-6)
    (line,) = [line for line in made.assumptions() if "retention factor" in line]
    assert "dead time of the bed of 16.89 s" in line


def test_the_retention_stays_where_the_instrument_changes():
    more = """
[[changes]]
name = "short"
set = { tube = { length = "50 mm" }, method = { flow = "0.2 mL/min" } }
"""
    result = scenario(solute='retention_time = "1.2 min"', more=more)
    (factor,) = result.itinerary().passages[0][1].retention_factor
    after = changed(result, ["short"])
    assert after.itinerary().passages[0][1].retention_factor == pytest.approx([factor], rel=1e-12)
    later = result.changed({"one.retention_time": "1.5 min"})
    assert later.itinerary().passages[0][1].retention_factor > factor


@pytest.mark.parametrize(
    ("solute", "advice"),
    [
        ('retention_time = "10 s"', "an unretained solute is recorded .* found 10 s"),
        ('retention_time = "2 min"\nretention_factor = 2.0', "leave out one of them"),
        ("", "retention_time = "),
    ],
)
def test_retention_times_that_are_none(solute, advice):
    with pytest.raises(ScenarioError, match=advice):
        scenario(solute=solute)


def test_a_tube_by_volume_runs(tmp_path):
    path = tmp_path / "one.toml"
    text = TEXT.replace("TUBE", 'bore = "0.12 mm"\nvolume = "4.5 uL"').replace("DETECTOR", "")
    path.write_text(text.replace("SOLUTE", "retention_factor = 1.0"))
    assert tailrace.run(path).parts[1].volume == pytest.approx(4.5e-9)


TIMED = """
[method]
flow = "0.5 mL/min"
eluent = { water = 1.0 }
[[solutes]]
name = "one"
retention_factor = 0
diffusivity = "1e-9 m^2/s"
[injection]
shape = "plug"
volume = "2 uL"
[[path]]
name = "tube"
part = "tube"
bore = "0.12 mm"
length = "400 mm"
[[path]]
name = "column"
part = "column"
bore = "2.1 mm"
length = "50 mm"
particle_diameter = "2.7 um"
particle = "core-shell"
head_volume = "0.5 uL"
porosity = 0.54
[[path]]
name = "cell"
part = "cell"
volume = "2 uL"
"""


def test_a_dead_time_as_recorded_gives_the_porosity():
    """That of an unretained peak, simulated, brings back the porosity it was simulated with."""
    recorded = tailrace.run(Scenario.from_text(TIMED)).recorded["mean"][0]
    text = TIMED.replace("porosity = 0.54", f'dead_time = "{recorded} s"')
    made = Scenario.from_text(text)
    assert made.document.path[1].porosity == pytest.approx(0.54, rel=1e-6)
    assert any("from the dead time" in line for line in made.assumptions())
    slower = made.changed({"method.flow": "0.25 mL/min"})
    assert slower.document.path[1].porosity == pytest.approx(0.54, rel=1e-6)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("porosity = 0.54", 'dead_time = "5 s"', "expected a time between"),
        ("porosity = 0.54", 'porosity = 0.54\ndead_time = "12 s"', "either porosity or dead_time"),
        ("porosity = 0.54", 't0 = "12 s"', 'write "dead_time"'),
        ("retention_factor = 0", 'retention_factor = 0\nt0 = "1 min"', "table of the column"),
    ],
)
def test_a_dead_time_that_cannot_be_is_one_sentence(old, new, said):
    with pytest.raises(ScenarioError) as refused:
        Scenario.from_text(TIMED.replace(old, new))
    assert said in refused.value.problems[0]


def test_a_porosity_that_such_particles_hardly_have_is_noted():
    assert not unusual(Scenario.from_text(TIMED))
    (line,) = unusual(Scenario.from_text(TIMED.replace("0.54", "0.64")))
    assert "porosity 0.64 lies outside" in line


@pytest.mark.parametrize("factor", [0.5, 40])
def test_a_retention_time_holds_with_a_sample_in_a_solvent_of_its_own(factor):
    text = TIMED.replace(
        "retention_factor = 0", f'retention_time = "1.5 min"\nsample_retention_factor = {factor}'
    )
    made = Scenario.from_text(text)
    # that of the middle of the plug, which lasts 0.24 s, all of it in its solvent
    assert tailrace.run(made).recorded["mean"] == pytest.approx(90, abs=0.24)


def test_what_a_rise_time_is_taken_for_is_said():
    text = TIMED + '[detector]\nrise_time = "0.22 s"\n'
    assert any("time constant 0.1 s" in one for one in Scenario.from_text(text).assumptions())
