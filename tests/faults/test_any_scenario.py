"""Whatever stands at whatever place of a scenario, the answer is a scenario or sentences."""

import json
import tomllib

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import tailrace
from tailrace.errors import ScenarioError

WORDS = st.text(st.characters(min_codepoint=32, max_codepoint=126), max_size=8)
JUNK = st.recursive(
    st.one_of(
        st.booleans(),
        st.integers(),
        st.floats(),
        WORDS,
        st.sampled_from(["1 mm", "1 uL", "tube", "cell", "column", "plug", "signal", "washout"]),
    ),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(WORDS, inner, max_size=3),
    max_leaves=4,
)


def as_toml(value):
    """A value as TOML, tables inline."""
    if isinstance(value, dict):
        inner = ", ".join(f"{json.dumps(key)} = {as_toml(one)}" for key, one in value.items())
        return f"{{ {inner} }}"
    if isinstance(value, list):
        return f"[{', '.join(as_toml(one) for one in value)}]"
    if isinstance(value, float):
        return repr(value)
    return json.dumps(value)


def places(value, path=()):
    """Every path in a document."""
    inner = value.items() if isinstance(value, dict) else enumerate(value)
    for key, one in inner:
        yield (*path, key)
        if isinstance(one, (dict, list)):
            yield from places(one, (*path, key))


def test_values_become_toml_and_back(sound):
    document = tomllib.loads(sound)
    assert tomllib.loads(f"a = {as_toml(document)}") == {"a": document}


@settings(
    max_examples=300, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(data=st.data())
def test_any_value_at_any_place_is_read_or_refused_in_sentences(data, sound, tmp_path):
    document = tomllib.loads(sound)
    for _ in range(data.draw(st.integers(1, 3))):
        *way, last = data.draw(st.sampled_from(list(places(document))))
        holder = document
        for step in way:
            holder = holder[step]
        action = data.draw(st.sampled_from(["replace", "delete", "add"]))
        if action == "delete":
            del holder[last]
        elif action == "replace" or isinstance(holder, list):
            holder[last] = data.draw(JUNK)
        else:
            holder[data.draw(WORDS)] = data.draw(JUNK)
        if not document:
            break
    path = tmp_path / "case.toml"
    path.write_text("".join(f"{json.dumps(k)} = {as_toml(v)}\n" for k, v in document.items()) + "#")
    try:
        tailrace.load(path).itinerary()
    except ScenarioError as error:
        assert error.problems
        for sentence in error.problems:
            assert sentence.startswith(f"{path}:")
            assert "\n" not in sentence
            assert len(sentence) < 400 + len(str(path))
