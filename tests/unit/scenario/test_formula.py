"""A solute gives its diffusivity, its molar volume or its formula: exactly one of them."""

import pytest

import tailrace
from tailrace.errors import ScenarioError

BEGIN = """\
[method]
flow = "1 mL/min"
eluent = { water = 1.0 }
[injection]
shape = "plug"
volume = "5 uL"
[[path]]
name = "capillary"
part = "tube"
bore = "0.12 mm"
length = "0.5 m"
[[solutes]]
name = "benzene"
"""


@pytest.fixture
def load(tmp_path):
    """Function of the solute's keys: the loaded scenario."""

    def loaded(keys):
        path = tmp_path / "case.toml"
        path.write_text(BEGIN + keys)
        return tailrace.load(path)

    return loaded


def test_a_formula_does_what_its_molar_volume_does(load):
    # Schroeder: benzene 98 cm^3/mol
    by_formula = load('formula = "C6H6"\nrings = 1\n').itinerary().passages[0][1]
    by_volume = load('molar_volume = "98 cm^3/mol"\n').itinerary().passages[0][1]
    assert by_formula.diffusivity == pytest.approx(by_volume.diffusivity, rel=1e-12)


def test_the_stream_has_the_density_of_the_eluent(load):
    # IAPWS-95 at 25 degC
    stream = load('formula = "C6H6"\nrings = 1\n').itinerary().passages[0][1]
    assert stream.density == pytest.approx(997.05, abs=0.1)


@pytest.mark.parametrize(
    ("keys", "text"),
    [
        ("", "solutes.0.: expected either diffusivity or molar_volume or formula, found neither"),
        ('formula = "C6H6"\nmolar_volume = "98 cm^3/mol"\n', "found both; leave out one of them"),
        (
            'formula = "C6H6"\nmolar_volume = "98 cm^3/mol"\ndiffusivity = "1e-9 m^2/s"\n',
            "found all three; leave out two of them",
        ),
        ('molar_volume = "98 cm^3/mol"\nrings = 1\n', "solutes.0..rings: expected rings beside"),
        ('formula = "C6H6"\nrings = 9\n', "solutes.0..formula: expected at most 4 rings"),
        ('formula = "benzene"\n', 'solutes.0..formula: expected a formula .* found "benzene"'),
        ("formula = 6\n", "solutes.0..formula: expected a text in quotes, found 6"),
    ],
)
def test_refused_with_the_key(load, keys, text):
    with pytest.raises(ScenarioError, match=text):
        load(keys)
