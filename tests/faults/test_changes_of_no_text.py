"""Names of parts in changes that are no text: a sentence, whatever stands there."""

import tomllib

import pytest
from reference.scenario_texts import TUBE

from tailrace.errors import ScenarioError
from tailrace.scenario.scenario import Scenario


@pytest.mark.parametrize("odd", [{}, [], {"a": 1}, ["tube"], 3])
@pytest.mark.parametrize("key", ["after", "name"])
def test_a_part_that_is_put_in(odd, key):
    new = {"name": "n", "part": "tube", "bore": "0.1 mm", "length": "1 mm", "after": "tube"}
    changes = [{"name": name, "insert": [new | {key: odd}]} for name in "ab"]
    with pytest.raises(ScenarioError):
        Scenario.from_tables(tomllib.loads(TUBE) | {"changes": changes})
