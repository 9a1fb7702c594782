"""Every default and estimate is said; what the file gives is not."""

import pytest
from reference.tree import ROOT

import tailrace
from tailrace.errors import ScenarioError
from tailrace.scenario.scenario import Scenario

SPARSE = """\
[method]
flow = "1 mL/min"
eluent = { water = 1.0 }
[[solutes]]
name = "estimated"
retention_factor = 1
molar_volume = "180 cm^3/mol"
[injection]
shape = "plug"
volume = "5 uL"
[[path]]
name = "column"
part = "column"
bore = "4.6 mm"
length = "150 mm"
particle_diameter = "5 um"
[[path]]
name = "cell"
part = "cell"
volume = "8 uL"
"""
FULL = """\
title = "All given"
[method]
flow = "1 mL/min"
temperature = "25 degC"
viscosity = "0.89 mPa*s"
[[solutes]]
name = "given"
retention_factor = 1
diffusivity = "1e-9 m^2/s"
[injection]
shape = "plug"
volume = "5 uL"
[[path]]
name = "column"
part = "column"
bore = "4.6 mm"
length = "150 mm"
particle_diameter = "5 um"
particle = "fully porous"
plates = 10000
plates_flow = "1 mL/min"
porosity = 0.65
external_porosity = 0.4
[[path]]
name = "cell"
part = "cell"
volume = "8 uL"
tanks = 1
read = "outlet"
light_path = "10 mm"
[detector]
time_constant = "0.1 s"
interval = "50 ms"
noise = "0.02 mAU"
noise_time_constant = "0.1 s"
[limits]
pressure = "400 bar"
"""
SAID = [
    "method: temperature 25 degC, none given",
    "water: viscosity 0.8",
    "estimated: diffusivity 7.",
    # pi/4 (4.6 mm)^2 150 mm 0.65 at 1 mL/min, half the plug, a cell of 8 uL: 97.22 + 0.15 + 0.48 s
    "column: an unretained solute would be recorded at 97.85 s = 1.631 min (t0), of which "
    "97.22 s in the bed; where another t0 is measured: porosity = 0.65 (t0 - 0.63 s) / 97.22 s, "
    "retention_factor = (retention time - t0) / (t0 - 0.63 s)",
    "column: plates by its plate-height curve, since none are given: 11700 for estimated",
    "column: particle fully porous, none given",
    "column: total porosity 0.65, the usual one of fully porous particles",
    "column: 0.4 of the bed between the particles; pressure drop by Kozeny-Carman",
    "column: plates from the plate-height curve",
    "cell: 1 tank",
    "cell: the light beam sees the liquid that leaves",
    "path: no tube between column and cell",
    "detector: none given",
    "limits: no pressure given",
]


@pytest.fixture
def assumptions(tmp_path):
    """Function of a text: what the scenario in it assumes."""

    def said(text):
        path = tmp_path / "case.toml"
        path.write_text(text)
        return tailrace.load(path).assumptions()

    return said


def test_each_default_and_estimate_is_one_sentence(assumptions):
    *text, folded = assumptions(SPARSE)
    assert len(text) == len(SAID), text
    for beginning in SAID:
        assert sum(line.startswith(beginning) for line in text) == 1, beginning
    assert folded.startswith("moves no number of the peaks: cell (no light path given")


def test_what_most_depends_on_comes_first_and_parts_alike_are_told_together(assumptions):
    tube = 'name = "{name}"\npart = "tube"\nbore = "{bore}"\nlength = "300 mm"\n[[path]]\n'
    narrow, wide = (tube.format(name=f"of {bore}", bore=bore) for bore in ("0.05 mm", "0.25 mm"))
    waste = '[[path]]\nname = "waste"\npart = "tube"\nbore = "0.5 mm"\nlength = "1 m"\n'
    text = SPARSE.replace("[[path]]\n", f"[[path]]\n{narrow}{wide}", 1) + waste
    lines = assumptions(text)
    places = {line.split(":")[0]: at for at, line in reversed([*enumerate(lines)])}
    assert places["method"] < places["column"] < places["of 0.05 mm, of 0.25 mm"]
    assert places["of 0.05 mm, of 0.25 mm"] < places["cell"] < places["limits"]
    assert "waste (taken as straight" in lines[-1]  # behind the cell
    wider = assumptions(text.replace("0.25 mm", "0.8 mm"))
    places = {line.split(":")[0]: at for at, line in reversed([*enumerate(wider)])}
    assert places["of 0.05 mm, of 0.8 mm"] < places["column"]


def test_parts_before_a_heater_are_told_to_be_as_warm_as_the_method(assumptions):
    seat, heater = (
        f'name = "{name}"\npart = "tube"\nbore = "0.17 mm"\nlength = "100 mm"\n{more}[[path]]\n'
        for name, more in (("seat", ""), ("heater", "heater = true\n"))
    )
    text = SPARSE.replace("[[path]]\n", f"[[path]]\n{seat}{heater}", 1)
    assert any(line.startswith("seat: at the 25 degC of the method") for line in assumptions(text))
    cold = text.replace("[[path]]\n", '[[path]]\ntemperature = "21 degC"\n', 1)
    assert not any("though before heater" in line for line in assumptions(cold))


def test_what_plates_become_at_another_flow_is_told(assumptions):
    text = SPARSE.replace('"5 um"', '"5 um"\nplates = 12000\nplates_flow = "0.5 mL/min"')
    (line,) = (one for one in assumptions(text) if "12000 plates found at 0.5 mL/min" in one)
    loaded = Scenario.from_text(text)
    column, liquid = next(
        (part, liquid) for part, liquid in loaded.itinerary().passages if part.separates
    )
    assert f"{column.plate_number(liquid)[0]:.3g}" == f"{float(line.split()[-3]):.3g}"
    assert not any("plates found at" in one for one in assumptions(SPARSE))


def test_a_molecule_beyond_the_small_ones_is_told_to_need_a_measured_diffusivity(assumptions):
    def told(size):
        text = SPARSE.replace("180 cm^3/mol", size)
        return any("give a measured diffusivity" in line for line in assumptions(text))

    assert told("1300 cm^3/mol")
    assert not told("400 cm^3/mol")


def test_plates_of_the_curve_can_be_uncertain_once_their_number_is_written(tmp_path):
    path, uncertain = (
        tmp_path / "case.toml",
        ('[[uncertain]]\nfield = "column.plates"\ndistribution = "normal"\nrelative = 0.2\n'),
    )
    path.write_text(SPARSE + uncertain)
    with pytest.raises(ScenarioError, match=r"plates = 1.17e.04, which is what its") as no:
        tailrace.load(path)
    number = str(no.value).split("plates = ")[1].split(",")[0]
    path.write_text(SPARSE.replace('"5 um"', f'"5 um"\nplates = {number}') + uncertain)
    assert tailrace.load(path)


def test_nothing_is_assumed_where_all_is_given(assumptions):
    assert [line.split(":")[0] for line in assumptions(FULL)] == ["path"]  # no tube to the cell


def test_an_empty_detector_is_said_to_do_nothing(assumptions):
    text = assumptions(SPARSE + "[detector]\n")
    assert "detector: no time constant given; the signal is not smoothed" in text
    assert "detector: no interval given; recorded as finely as it is computed" in text


@pytest.mark.parametrize("where", ["method", "tube"])
def test_a_tube_that_is_said_to_be_straight_is_no_assumption(where):
    silent = tailrace.load(ROOT / "scenarios" / "bare-tube.toml")
    assert any("tube: taken as straight" in line for line in silent.assumptions())
    spoken = silent.changed({f"{where}.bend_radius": "straight"}).assumptions()
    assert any("tube: taken as round" in line for line in spoken)
    assert not any("straight" in line for line in spoken)
