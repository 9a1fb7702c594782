"""``[gradient]``: what is read, what is refused, and what a run says of it."""

import json

import numpy as np
import pytest
from click.testing import CliRunner

import tailrace
from tailrace.cli import main
from tailrace.errors import ScenarioError
from tailrace.journey.hydraulics import limited, pressure
from tailrace.journey.validity import PRESSURE_CAUTION, foreseen
from tailrace.scenario.build import most_viscous

SOUND = """\
[method]
flow = "0.60 mL/min"
eluent = { water = 0.5, acetonitrile = 0.5 }

[gradient]
dwell_volume = "600 uL"
programme = [
  { time = "0 min", strong = 0.3 },
  { time = "5 min", strong = 0.9 },
]

[[solutes]]
name = "first"
kw = 3000
s = 4.2
diffusivity = "1.2e-9 m^2/s"

[[solutes]]
name = "second"
kw = 6000
s = 4.2
diffusivity = "1.2e-9 m^2/s"

[injection]
shape = "plug"
volume = "5 uL"

[[path]]
name = "inlet tube"
part = "tube"
bore = "0.17 mm"
length = "300 mm"

[[path]]
name = "column"
part = "column"
bore = "2.1 mm"
length = "100 mm"
particle_diameter = "2.7 um"
plates = 15000

[[path]]
name = "outlet tube"
part = "tube"
bore = "0.17 mm"
length = "300 mm"
"""

# old text, new text, line of the table or of the key before a row, key, piece of the sentence
FAULTS = {
    "no kw": ("kw = 3000\n", "", 12, "solutes[0]", "add kw = 2000"),
    "no s": ("s = 4.2\ndiff", "diff", 12, "solutes[0]", "add s = 4.5"),
    "also k": (
        "kw = 3000\n",
        "kw = 3000\nretention_factor = 3.0\n",
        15,
        "solutes[0].retention_factor",
        "leave out retention_factor",
    ),
    "no gradient": (SOUND[SOUND.index("[gradient]") : SOUND.index("[[sol")], "", 7, "", "none"),
    "bare time": ('time = "5 min"', "time = 5", 7, "gradient.programme[1].time", "a bare number"),
    "falling": ('"5 min"', '"5 min", strong = 0.9 },\n{ time = "4 min"', 7, "[2].time", "order"),
    "share": ("strong = 0.9", "strong = 90", 7, "programme[1].strong", "1 or less"),
    "misspelt": ("strong = 0.9", "stong = 0.9", 7, "programme[1].stong", 'write "strong"'),
    "one row": ('  { time = "5 min", strong = 0.9 },\n', "", 7, "gradient.programme", "found"),
    "no programme": ("programme = [", "programm = [", 7, "gradient.programm", 'write "programme"'),
    "held back": ("kw = 3000", "kw = 1e20", 14, "solutes[0].kw", "leaves the column"),
}


def loaded(tmp_path, text):
    path = tmp_path / "case.toml"
    path.write_text(text)
    return tailrace.load(path)


@pytest.mark.parametrize("fault", FAULTS)
def test_a_fault_is_named(fault, tmp_path):
    old, new, line, key, piece = FAULTS[fault]
    with pytest.raises(ScenarioError) as refused:
        loaded(tmp_path, SOUND.replace(old, new, 1))
    text = refused.value.problems
    assert any(key in one and piece in one and f":{line}:" in one for one in text), text


def test_a_gradient_without_column(tmp_path):
    start, end = SOUND.index('[[path]]\nname = "column"'), SOUND.index('[[path]]\nname = "outlet')
    with pytest.raises(ScenarioError, match=r"gradient: expected a column on the path"):
        loaded(tmp_path, SOUND[:start] + SOUND[end:])


def test_what_is_read(tmp_path):
    scenario = loaded(tmp_path, SOUND)
    column, stream = scenario.itinerary().passages[2]
    assert column.programme_times.tolist() == [0.0, 300.0]
    assert column.dwell_volume == pytest.approx(600e-9)
    assert column.gradient_time == 300.0
    # k in the first composition: 3000 x 10^(-4.2 x 0.3)
    entering = column.elution(stream).entering_factor
    assert entering == pytest.approx(np.array([3000, 6000]) * 10**-1.26, rel=1e-9)
    text = " ".join(scenario.assumptions())
    assert "most viscous liquid of the programme (30 % strong)" in text


def test_the_pressure_of_the_most_viscous_liquid_is_told_and_held_against_the_limit(tmp_path):
    eluent = "water = 0.5, acetonitrile = 0.5"
    scenario = loaded(tmp_path, SOUND)
    itinerary = scenario.itinerary()
    thick = loaded(tmp_path, SOUND.replace(eluent, "water = 0.7, acetonitrile = 0.3")).itinerary()
    told, most = (pressure(one.passages).total for one in (itinerary, thick))
    assert pressure(itinerary.passages).highest == pytest.approx(most, rel=1e-12)
    assert pressure(thick.passages).highest == most
    assert most > told
    limit = f'\n[limits]\npressure = "{0.99e-5 * most:.3f} bar"\n'
    cautioned = loaded(tmp_path, SOUND + limit).itinerary()
    found = limited(pressure(cautioned.passages), cautioned.pressure_limit)
    assert found.total < found.limit
    (said,) = foreseen(cautioned.passages, cautioned, found)
    assert "most viscous" in said
    assert PRESSURE_CAUTION in said


def test_methanol_is_most_viscous_between_the_ends(tmp_path):
    text = SOUND.replace("water = 0.5, acetonitrile = 0.5", "methanol = 1.0")
    text = text.replace("strong = 0.3", "strong = 0.0").replace("strong = 0.9", "strong = 1.0")
    share, most = most_viscous(loaded(tmp_path, text).document)
    # 1.589 mPa s at 40 % by mass and 25 degC (Melinder 2010), and 0.544 of methanol alone
    assert 0.4 < share < 0.5
    assert most == pytest.approx(1.589 / 0.544, rel=0.07)
    assert "no dwell volume" not in text


def test_without_a_dwell_volume_it_is_said(tmp_path):
    scenario = loaded(tmp_path, SOUND.replace('dwell_volume = "600 uL"\n', ""))
    assert any("no dwell volume" in one for one in scenario.assumptions())


def answer(tmp_path, text, *options):
    path = tmp_path / "case.toml"
    path.write_text(text)
    done = CliRunner().invoke(main, ["run", str(path), *options])
    assert done.exit_code == 0, done.output
    return done.stdout


def test_a_run_says_what_is_healed(tmp_path):
    solute = json.loads(answer(tmp_path, SOUND, "--json"))["solutes"][0]
    injection, inlet, column, outlet = solute["parts"]
    assert inlet["gradient_focusing"] > 0.99
    assert injection["gradient_focusing"] == inlet["gradient_focusing"]
    assert column["gradient_focusing"] is None
    assert outlet["gradient_focusing"] == 0.0
    recorded = solute["recorded"]
    assert recorded["plates_half_height"] is None
    assert solute["column_alone"]["plates_half_height"] is None
    # 1 + gradient time over four standard deviations; 2.3548 of them are the half width
    assert recorded["peak_capacity"] == pytest.approx(
        1 + 300 / (4 * recorded["width_half"] / 2.354820), rel=1e-6
    )
    assert recorded["peak_capacity"] < solute["column_alone"]["peak_capacity"]
    left = [
        part["variance"]["simulated"] * (1 - (part["gradient_focusing"] or 0))
        for part in solute["parts"]
    ]
    assert sum(left) == pytest.approx(recorded["variance"], rel=1e-9)
    # what the column adds is its own: the inlet tube's variance is not taken off it
    theory = column["variance"]["exact"]
    assert column["variance"]["simulated"] == pytest.approx(theory, rel=5e-3)
    assert column["mean"]["simulated"] == pytest.approx(column["mean"]["closed_form"], rel=1e-5)


def test_the_text_says_it_too(tmp_path):
    text = " ".join(answer(tmp_path, SOUND).split())
    assert "The gradient focuses all but" in text
    assert "nothing of what those behind it add" in text
    assert "peaks side by side in the gradient (peak capacity)" in text


def test_an_inlet_tube_costs_nothing_and_an_outlet_tube_all(tmp_path):
    plain = SOUND
    wider_before = plain.replace('length = "300 mm"', 'length = "900 mm"', 1)
    at = plain.rindex('length = "300 mm"')
    wider_behind = plain[:at] + 'length = "900 mm"'
    variances = [
        json.loads(answer(tmp_path, text, "--json"))["solutes"][0]["recorded"]["variance"]
        for text in (plain, wider_before, wider_behind)
    ]
    assert variances[1] == pytest.approx(variances[0], rel=2e-3)
    assert variances[2] > 1.2 * variances[0]


def test_one_composition_throughout_gives_the_isocratic_run(tmp_path):
    flat = SOUND.replace("strong = 0.9", "strong = 0.3")
    start, end = SOUND.index("[gradient]"), SOUND.index("[[solutes]]")
    isocratic = SOUND[:start] + SOUND[end:]
    for kw in (3000, 6000):
        isocratic = isocratic.replace(
            f"kw = {kw}\ns = 4.2", f"retention_factor = {kw * 10**-1.26!r}"
        )
    one, two = (
        json.loads(answer(tmp_path, text, "--json"))["solutes"][0] for text in (flat, isocratic)
    )
    for name, rel in (("mean", 1e-8), ("variance", 1e-6)):
        assert one["recorded"][name] == pytest.approx(two["recorded"][name], rel=rel), name
    # figures read off samples: as near as the runs say that their own are
    for name in ("width_half", "tailing_5"):
        error = sum(each["numerical_error"][name] for each in (one, two))
        assert abs(one["recorded"][name] - two["recorded"][name]) < error, name
