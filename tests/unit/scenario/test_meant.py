"""What the writer of a file most likely meant is said where it is refused."""

import pytest

from tailrace.errors import ScenarioError
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.unusual import unusual

TEXT = """\
[method]
flow = "0.4 mL/min"
eluent = { water = 1.0 }
[[solutes]]
name = "one"
retention_factor = 2
diffusivity = "1e-9 m^2/s"
[injection]
shape = "plug"
volume = "1 uL"
[[path]]
name = "tube"
part = "tube"
bore = "0.12 mm"
length = "100 mm"
[detector]
interval = "0.1 s"
"""
ELUENT = "{ water = 1.0 }"

MEANT = {
    "acetonitrile": (ELUENT, "{ water = 0.5, ACN = 0.5 }", 'write "acetonitrile"'),
    "methanol": (ELUENT, "{ water = 0.5, MeOH = 0.5 }", 'write "methanol"'),
    "a buffer": (ELUENT, '{ "phosphate buffer" = 1.0 }', "write a dilute buffer as water"),
    "a buffer alone": (ELUENT, '"phosphate buffer"', "write a dilute buffer as water"),
    "another liquid": (ELUENT, "{ water = 0.5, ethanol = 0.5 }", "give viscosity ="),
    "per cent": (ELUENT, "{ water = 60, methanol = 40 }", "write water = 0.6"),
    "inner diameter": ("bore =", "id =", 'write "bore"'),
    "no quotes": ('"0.4 mL/min"', "0.4 mL/min", 'write flow = "0.4 mL/min"'),
    "a bare bore in inches": ('"0.12 mm"', '"0.005"', 'write "0.005 in"'),
    "a response time": ("interval =", "response_time =", "write rise_time where it is from 10"),
    "inches": ('bore = "0.12 mm"', 'bore = 0.005"', 'write bore = "0.005 in"'),
    "inches in quotes": ('bore = "0.12 mm"', 'bore = "0.005""', 'write bore = "0.005 in"'),
    "a mark of inches": ('bore = "0.12 mm"', "bore = '0.005\"'", 'write "0.005 in" for inches'),
    "one quote": ('"0.12 mm"', '"0.12 mm', 'write bore = "0.12 mm"'),
    "no quotes around a name": ('name = "one"', "name = one", 'write name = "one"'),
    "a rate": ('"0.1 s"', '"5 Hz"', 'write rate = "5 Hz", or "0.2 s"'),
    "an interval": ('interval = "0.1 s"', 'rate = "0.2 s"', 'write interval = "0.2 s"'),
    "sampling rate": ('interval = "0.1 s"', 'sampling_rate = "5 Hz"', 'write "rate"'),
    "a retention time": ("factor = 2", 'factor = "2 min"', 'write retention_time = "2 min"'),
    "its short name": ("retention_factor = 2", 'rt = "2 min"', 'write "retention_time"'),
    "a capillary": ('part = "tube"', 'part = "capillary"', 'write part = "tube"'),
    "a union": ('part = "tube"', 'part = "union"', 'write part = "fitting"'),
    "a flow without its time": ('"0.4 mL/min"', '"0.4 mL"', 'write "0.4 mL/min"'),
}


@pytest.mark.parametrize("name", MEANT)
def test_what_was_meant_is_offered(name):
    old, new, advice = MEANT[name]
    with pytest.raises(ScenarioError) as refused:
        Scenario.from_text(TEXT.replace(old, new, 1))
    assert any(advice in one for one in refused.value.problems)


def test_what_is_wrong_within_a_part_of_unknown_kind_is_said_at_once():
    text = TEXT.replace('part = "tube"', 'part = "capillary"').replace("0.12 mm", "0.12")
    text = text.replace('shape = "plug"', 'shape = "plugg"').replace('"1 uL"', '"1 s"')
    with pytest.raises(ScenarioError) as refused:
        Scenario.from_text(text.replace("length =", "lenght ="))
    keys = [one.split(": ")[1] for one in refused.value.problems]
    path = ["path[0].part", "path[0].bore", "path[0].lenght"]
    assert keys == ["injection.shape", "injection.volume", *path]


def test_mistakes_of_several_sections_are_said_at_once():
    more = '[[accept]]\nmeasure = "plats"\nat_least = 1\n[[reading]]\nmeasure = "tail"\n'
    with pytest.raises(ScenarioError) as refused:
        Scenario.from_text(
            TEXT
            + more
            + '[[uncertain]]\nfield = "tub.bore"\ndistribution = "normal"\nrelative = 0.1\n'
        )
    assert len(refused.value.problems) == 3


def test_a_flow_that_hardly_anybody_uses_is_noted():
    assert unusual(Scenario.from_text(TEXT)) == []
    (line,) = unusual(Scenario.from_text(TEXT.replace('"0.4 mL/min"', '"40 mL/min"')))
    assert line.startswith("method: flow 40 mL/min lies outside what is usual")
    column = (
        '[[path]]\nname = "bed"\npart = "column"\nbore = "2.1 mm"\nlength = "50 mm"\n'
        'particle_diameter = "2.7 um"\n'
    )
    high = TEXT.replace('"0.4 mL/min"', '"4 mL/min"')
    assert unusual(Scenario.from_text(TEXT + column)) == []
    assert "with a column of 2.1 mm bore" in unusual(Scenario.from_text(high + column))[0]


def test_words_of_the_guides_for_uncertainty():
    text = (
        TEXT + '[[uncertain]]\nfield = "tube.bore"\nplus_minus = "5 %"\n'
        'distribution = "rectangular"\n'
    )
    with pytest.raises(ScenarioError) as found:
        Scenario.from_text(text)
    assert 'write "half_width"' in str(found.value)
    assert 'write "uniform"' in str(found.value)


def test_kw_and_s_at_odds_with_k_in_the_eluent():
    text = TEXT.replace(ELUENT, "{ water = 0.55, methanol = 0.45 }")
    text = text.replace('volume = "1 uL"', 'volume = "1 uL"\nstrong = 0.2', 1)
    column = '[[path]]\nname = "column"\npart = "column"\nbore = "2.1 mm"\nlength = "50 mm"\n'
    text += column + 'particle_diameter = "1.7 um"\nparticle = "core-shell"\n'
    text = text.replace("retention_factor = 2\n", "retention_factor = 2\nkw = 2000\ns = 4.5\n", 1)
    (line,) = unusual(Scenario.from_text(text))
    assert "k = 18.9 in the eluent" in line and "write kw = 212" in line
    assert unusual(Scenario.from_text(text.replace("kw = 2000", "kw = 212"))) == []
