"""What would come back if one part alone were ideal, against journeys with a thousand tanks."""

import json

import numpy as np
import pytest
from reference.ideal_parts import plates_back, random_instrument

import tailrace
from tailrace.report.run import as_text
from tailrace.report.sentences import conclusion
from tailrace.scenario.scenario import Scenario


@pytest.fixture(scope="module", params=[3, 8, 21])
def asked(request):
    scenario = Scenario.from_text(random_instrument(request.param))
    return tailrace.run(scenario), plates_back(scenario.itinerary())


def test_plates_that_come_back_are_those_of_a_journey_without_the_part(asked):
    result, expected = asked
    for name, values in expected.items():
        # the thousand tanks leave a thousandth of the variance in place
        allowed = result.regained.numerical_error[name] + 4e-3 * np.abs(values) + 2
        assert np.all(np.abs(result.regained.plates[name] - values) <= allowed), name


def test_what_comes_back_of_the_cell_is_known_better_than_the_journey(asked):
    """It is asked finely, too: what the coarse journey errs by is then seen, and not feared."""
    back, error = asked[0].regained.plates["flow cell"], asked[0].regained.numerical_error
    assert np.all(error["flow cell"] > 0)
    assert np.all(error["flow cell"] < 0.25 * error["injection"] + 2e-3 * back)


def test_the_part_named_first_is_the_one_that_brings_most_back(asked):
    result, expected = asked
    lane = int(
        np.argmin(result.recorded["plates_half_height"] / result.column_alone["plates_half_height"])
    )
    best = max(expected, key=lambda name: expected[name][lane])
    assert result.regained.ranked(lane)[0][0] == best
    assert f"most comes back from {best}:" in conclusion(result)


BAD_JOINT = """
title = "a bad joint behind the column"
[method]
flow = "0.3 mL/min"
eluent = { water = 0.5, acetonitrile = 0.5 }
[[solutes]]
name = "one"
retention_factor = 2
diffusivity = "1.1e-9 m^2/s"
[injection]
shape = "plug"
volume = "1 uL"
[[path]]
name = "column"
part = "column"
bore = "2.1 mm"
length = "100 mm"
particle_diameter = "2.7 um"
plates = 17000
[[path]]
name = "bad joint"
part = "fitting"
gap_bore = "1 mm"
gap_length = "2 mm"
unswept = 0.9
exchange = 0  # by diffusion alone: a long tail, much variance, few plates
[[path]]
name = "tube to cell"
part = "tube"
bore = "0.17 mm"
length = "400 mm"
[[path]]
name = "flow cell"
part = "cell"
volume = "2 uL"
"""


def test_blame_goes_by_what_comes_back_not_by_variance():
    result = tailrace.run(Scenario.from_text(BAD_JOINT))
    variance = {
        part.name: part.variance_simulated[0] for part in result.parts if not part.separates
    }
    assert max(variance, key=variance.get) == "bad joint"
    assert result.regained.ranked(0)[0][0] == "tube to cell"
    assert "most comes back from tube to cell" in as_text(result, "").replace("\n", " ")
    found = json.loads(result.to_json())["solutes"][0]["parts"]
    back = {part["name"]: part["plates_back"] for part in found}
    assert back["column"] is None and back["tube to cell"] > back["bad joint"] > 0
