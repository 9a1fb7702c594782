"""Flow that joins or leaves behind the column: times, pressure and dilution by hand."""

import numpy as np
import pytest

from tailrace.errors import ScenarioError
from tailrace.journey.product import multiply
from tailrace.journey.travelling import travel
from tailrace.scenario.scenario import Scenario
from tailrace.studies.improving.instruments import Workshop

FLOW = 0.5e-6 / 60

METHOD = """
[method]
flow = "0.5 mL/min"
viscosity = "0.6 mPa*s"
[[solutes]]
name = "a"
retention_factor = 2.0
diffusivity = "1e-9 m^2/s"
amount = "1 nmol"
[injection]
shape = "plug"
volume = "0.5 uL"
"""
COLUMN = """
[[path]]
name = "column"
part = "column"
bore = "2.1 mm"
length = "50 mm"
particle_diameter = "2.7 um"
plates = 8000
"""
TUBE = '[[path]]\nname = "tube"\npart = "tube"\nbore = "0.12 mm"\nlength = "200 mm"\n'
CELL = '[[path]]\nname = "cell"\npart = "cell"\nvolume = "2 uL"\n'


def tee(what, name="tee"):
    return f'[[path]]\nname = "{name}"\npart = "tee"\n{what}\n'


def run(*path, flow="0.5 mL/min"):
    text = METHOD.replace("0.5 mL/min", flow) + "".join(path)
    return travel(Scenario.from_text(text).itinerary())


def part(result, name):
    return next(one for one in result.parts if one.name == name)


WAYS = {
    'make_up = "0.5 mL/min"': 2.0,
    "split_share = 0.6": 0.4,
    'split = "0.3 mL/min"': 0.4,
}


@pytest.mark.parametrize(("what", "ratio"), WAYS.items())
def test_times_and_pressure_behind_it_are_those_of_the_flow_there(what, ratio):
    result = run(COLUMN, tee(what), TUBE, CELL)
    # the same tube and cell, alone, at the flow that there is behind the tee
    alone = run(TUBE, CELL, flow=f"{0.5 * ratio:g} mL/min")
    for name in ("tube", "cell"):
        one, two = part(result, name), part(alone, name)
        assert one.residence == pytest.approx(two.residence, rel=1e-12)
        assert one.variance_exact == pytest.approx(two.variance_exact, rel=1e-12)
        assert one.variance_simulated == pytest.approx(one.variance_exact, rel=2e-3)
        assert result.pressure.parts[name] == pytest.approx(alone.pressure.parts[name], rel=1e-12)
    plain = run(COLUMN, TUBE, CELL)
    assert part(result, "column").residence == part(plain, "column").residence
    assert part(result, "cell").residence == pytest.approx(2e-9 / FLOW / ratio)


def test_make_up_dilutes_and_a_split_does_not():
    # next to nothing behind the column, so that only the flow counts
    small = CELL.replace("2 uL", "10 nL")
    plain, joined, split = (
        run(COLUMN, *more, small)
        for more in ((), (tee('make_up = "1 mL/min"'),), (tee("split_share = 0.9"),))
    )
    seen = [float(one.signal["concentration_in_cell"][0]) for one in (plain, joined, split)]
    assert seen[1] / seen[0] == pytest.approx(1 / 3, rel=1e-3)
    assert seen[2] / seen[0] == pytest.approx(1, rel=1e-3)
    kept = [float(one.signal["relative_signal"][0]) for one in (plain, joined, split)]
    assert kept[1] / kept[0] == pytest.approx(1 / 3, rel=1e-3)
    assert kept[2] / kept[0] == pytest.approx(1, rel=1e-3)
    # all of what flows on is recorded
    assert split.recorded["area"] == pytest.approx(1, abs=1e-8)


def test_one_behind_the_other_and_a_volume_that_mixes():
    result = run(
        COLUMN,
        tee('make_up = "0.5 mL/min"\nvolume = "1 uL"', "one"),
        tee('split_share = 0.75\nvolume = "1 uL"', "two"),
        CELL,
    )
    # 1 mL/min through both tees, a quarter of it behind the second
    for name, flow in (("one", 2 * FLOW), ("two", 2 * FLOW)):
        assert part(result, name).variance_exact == pytest.approx((1e-9 / flow) ** 2)
        assert part(result, name).variance_simulated == pytest.approx((1e-9 / flow) ** 2, rel=1e-6)
    assert part(result, "cell").residence == pytest.approx(2e-9 / (0.5 * FLOW))
    # in volume as pumped, so that parts add up
    volumes = sum(one.variance_volume[0] for one in result.parts if one.name != "column")
    outside = result.recorded["variance_volume_extra_column"][0]
    assert volumes == pytest.approx(outside, rel=1e-9)
    assert part(result, "cell").variance_volume == pytest.approx((2e-9 / 0.5) ** 2, rel=1e-6)


def test_the_product_of_transfer_functions_knows_it():
    text = METHOD + COLUMN + tee('make_up = "0.5 mL/min"\nvolume = "1 uL"') + CELL
    itinerary = Scenario.from_text(text).itinerary()
    one, two = multiply(itinerary), travel(itinerary)
    assert one.recorded["variance"] == pytest.approx(two.recorded["variance"], rel=1e-6)
    assert one.signal["concentration_in_cell"] == pytest.approx(
        two.signal["concentration_in_cell"], rel=1e-4
    )


def test_behind_the_cell_it_counts_for_the_pressure_alone():
    waste = TUBE.replace('name = "tube"', 'name = "waste"')
    plain, split = (run(COLUMN, CELL, *more, waste) for more in ((), (tee("split_share = 0.5"),)))
    for name in ("variance", "plates_half_height", "tailing_5"):
        assert split.recorded[name] == pytest.approx(plain.recorded[name], rel=1e-12)
    assert split.pressure.parts["waste"] == pytest.approx(plain.pressure.parts["waste"] / 2)


def test_retention_times_are_read_with_the_flow_that_there_is():
    path = (COLUMN, tee('make_up = "0.5 mL/min"'), TUBE, CELL)
    mean = float(run(*path).recorded["mean"][0])
    text = METHOD.replace("retention_factor = 2.0", f'retention_time = "{mean:.6f} s"')
    found = Scenario.from_text(text + "".join(path)).document.solutes[0].retention_factor
    # the plug's own half is in the mean, too
    assert found == pytest.approx(2.0, rel=1e-5)


def test_an_improved_instrument_has_the_flow_too():
    changes = """
[[changes]]
name = "more"
set = { tee = { make_up = "1 mL/min" } }
[[changes]]
name = "shorter"
set = { tube = { length = "100 mm" } }
"""
    read = Scenario.from_text(
        METHOD + COLUMN + tee('make_up = "0.5 mL/min"') + TUBE + CELL + changes
    )
    built = Workshop(read).build([(), ("more",), ("shorter",)])
    flows = [
        [float(np.max(stream.flow_rate)) for _, stream in built.itineraries[one].passages][-1]
        for one in built.which
    ]
    assert flows == pytest.approx([2 * FLOW, 3 * FLOW, 2 * FLOW])


@pytest.mark.parametrize(
    ("path", "said"),
    [
        ((tee("split_share = 0.5"), COLUMN, CELL), "behind the last column"),
        ((COLUMN, tee('split = "0.5 mL/min"'), CELL), "expected less to leave than the 0.5 mL/min"),
        ((COLUMN, tee(""), CELL), "expected one of make_up, split, split_share, found none"),
        (
            (COLUMN, tee('split_share = 0.5\nsplit = "0.1 mL/min"'), CELL),
            "found split and split_share",
        ),
        ((COLUMN, tee("split_share = 1.5"), CELL), "split_share"),
        ((COLUMN, tee('make_up = "0.5 mL"'), CELL), "make_up"),
    ],
)
def test_what_cannot_be(path, said):
    with pytest.raises(ScenarioError) as caught:
        Scenario.from_text(METHOD + "".join(path))
    assert said in str(caught.value)
