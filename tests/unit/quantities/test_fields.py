"""Types for models: what they read and what they tell an editor."""

import re

import pytest
from pydantic import BaseModel, ValidationError

from tailrace.quantities.fields import Bore, Temperature


class _Table(BaseModel):
    bore: Bore
    temperature: Temperature | None = None


def test_fields_are_floats_in_si():
    table = _Table(bore="0.005 in", temperature="35 degC")
    assert (table.bore, table.temperature) == (0.127e-3, 308.15)


def test_the_sentence_of_the_refusal_is_the_message():
    with pytest.raises(ValidationError) as caught:
        _Table(bore="{0} mm")
    assert caught.value.errors()[0]["type"] == "quantity"
    assert caught.value.errors()[0]["msg"].startswith(
        'expected a bore with a unit such as "0.12 mm"'
    )


def test_the_schema_has_examples_that_match_its_pattern():
    schema = _Table.model_json_schema()["properties"]["bore"]
    assert schema["type"] == "string"
    assert "1 um to 100 mm" in schema["description"]
    for example in schema["examples"]:
        assert re.search(schema["pattern"], example)
    assert not re.search(schema["pattern"], "0.12")
