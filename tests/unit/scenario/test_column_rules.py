"""What does not go together around a column is refused, each with what to change."""

import pytest

import tailrace
from tailrace.errors import ScenarioError

BASE = """\
[method]
flow = "0.4 mL/min"
viscosity = "0.5 mPa*s"
[[solutes]]
name = "one"
retention_factor = 2
diffusivity = "1e-9 m^2/s"
AMOUNT
[injection]
shape = "plug"
volume = "1 uL"
[[path]]
name = "column"
part = "column"
bore = "2.1 mm"
length = "50 mm"
particle_diameter = "2.7 um"
"""


@pytest.fixture
def load(tmp_path):
    def loaded(keys, amount=""):
        path = tmp_path / "case.toml"
        path.write_text(BASE.replace("AMOUNT", amount) + keys)
        return tailrace.load(path)

    return loaded


REFUSED = {
    "core of nothing": ("core_ratio = 0.7", "core_ratio", 'write particle = "core-shell"'),
    "flow of no plates": ('plates_flow = "1 mL/min"', "plates_flow", "add plates"),
    "rate without exchange": (
        'mass_transfer_rate = "2 s^-1"',
        "mass_transfer_rate",
        'add kinetics = "lumped"',
    ),
    "rate without unit": (
        'kinetics = "lumped"\nmass_transfer_rate = 2.0',
        "mass_transfer_rate",
        r'write "2 s\^-1"',
    ),
    "too slow": (
        'kinetics = "lumped"\nmass_transfer_rate = "1 s^-1"\nplates = 9000',
        "mass_transfer_rate",
        "leaves .* plates, fewer than those given",
    ),
    "heads of more than all": (
        'head_volume = "40 uL"\nplates = 9000',
        "head_volume",
        "leaves .* plates, .* plates_include_head = false",
    ),
    "heads of no plates": ("plates_include_head = true", "plates_include_head", "add plates"),
    "a name for a solid core": ('particle = "core-enhanced"', "particle", 'write "core-shell"'),
    "capacity of unknown amounts": ('capacity = "1 umol"', "capacity", "add amount"),
    "all in the particles' way": ("porosity = 0.39", "porosity", "between 0.4 .* and 1 "),
    "shell of holes": (
        'particle = "core-shell"\ncore_ratio = 0.9\nporosity = 0.6',
        "porosity",
        "between 0.4 .* and 0.563",
    ),
    "core of all": ('particle = "core-shell"\ncore_ratio = 1.0', "core_ratio", "0.95 or less"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_does_not_go_together_is_refused(name, load):
    keys, key, advice = REFUSED[name]
    with pytest.raises(ScenarioError, match=advice) as refused:
        load(keys)
    assert f"path[0].{key}: " in str(refused.value)
    assert len(refused.value.problems) == 1


@pytest.mark.parametrize(
    ("written", "kind"),
    [
        ("superficially porous", "core-shell"),
        ("solid core", "core-shell"),
        ("solid-core", "core-shell"),
        ("totally porous", "fully porous"),
        ("Core-Shell", "core-shell"),
        ("core shell", "core-shell"),
        ("SPP", "core-shell"),
        ("FPP", "fully porous"),
        ("Fully Porous particles", "fully porous"),
    ],
)
def test_particles_go_by_all_names_of_the_trade(written, kind, load):
    ((_, (part, _))) = load(f'particle = "{written}"').itinerary().passages
    assert part.particle == kind
    assert part == load(f'particle = "{kind}"').itinerary().passages[1][0]


def test_a_core_ratio_goes_with_a_synonym_of_core_shell(load):
    _, (part, _) = load('particle = "solid core"\ncore_ratio = 0.63').itinerary().passages
    assert part.core == 0.63


def test_slow_exchange_and_capacity_are_one_too_many(load):
    with pytest.raises(ScenarioError, match="leave out capacity or kinetics"):
        load('kinetics = "lumped"\ncapacity = "1 umol"', 'amount = "1 nmol"')


def test_keys_reach_the_part(load):
    keys = 'particle = "core-shell"\ncore_ratio = 0.63\nhead_volume = "0.5 uL"\n'
    keys += 'capacity = "2 umol"\nplates = 9000\nplates_flow = "0.3 mL/min"'
    scenario = load(keys, 'amount = "20 nmol"')
    (_, (part, stream)) = scenario.itinerary().passages
    assert (part.core, part.head_volume) == (0.63, 0.5e-9)
    assert part.loading(stream) == pytest.approx(0.01)
    assert part.plates_flow == pytest.approx(5e-9)
    text = scenario.assumptions()
    assert any("Langmuir" in line for line in text)
    assert not any("core ratio" in line for line in text)


def test_a_bore_that_no_particle_fits_into_is_refused(tmp_path):
    path = tmp_path / "case.toml"
    path.write_text(BASE.replace("AMOUNT", "").replace('bore = "2.1 mm"', 'bore = "2.1 um"'))
    with pytest.raises(ScenarioError, match=r"path\[0\].bore: expected a bore wider .* 2.1 um"):
        tailrace.load(path)
