"""What changes do to the tables, and what they may name."""

import pytest

from tailrace.scenario.change_rules import broken_changes
from tailrace.scenario.changed import merged

DOCUMENT = {
    "path": [
        {"name": "inlet", "part": "tube", "bore": "0.17 mm", "length": "100 mm"},
        {"name": "cell", "part": "cell", "volume": "13 uL", "tanks": 2.5},
    ],
    "injection": {"shape": "plug", "volume": "5 uL"},
    "detector": {"time_constant": "0.5 s", "interval": "50 ms"},
}


def broken(**change):
    document = DOCUMENT | {"changes": [{"name": "one"} | change]}
    return [(problem.path[2:], problem.sentence) for problem in broken_changes(document)]


@pytest.mark.parametrize(
    "new",
    [
        {"inlet": {"bore": "0.12 mm"}, "cell": {"volume": "2 uL", "light_path": "3 mm"}},
        {"detector": {"rise_time": "0.1 s"}},
        {"injection": {"volume": "1 uL"}},
        {"cell": {"read": "mean", "tanks": 2}},
    ],
)
def test_sound_changes_pass(new):
    assert broken(set=new) == []


@pytest.mark.parametrize(
    ("change", "path", "phrase"),
    [
        ({"set": {"outlet": {"bore": "1 mm"}}}, ("set", "outlet"), "expected a known part"),
        ({"set": {"inlet": {"boer": "1 mm"}}}, ("set", "inlet", "boer"), 'write "bore"'),
        ({"set": {"inlet": {"bore": "1 s"}}}, ("set", "inlet", "bore"), "not a unit of bore"),
        ({"set": {"inlet": {"part": "cell"}}}, ("set", "inlet", "part"), "to stay as it is"),
        ({"set": {"cell": {"read": "mean"}}}, ("tanks",), "a whole number"),
        ({"set": {"injection": {"sigma": "1 s"}}}, ("set", "injection", "sigma"), "belongs to"),
        ({"set": {"detector": {"interval": 1}}}, ("set", "detector", "interval"), "bare number"),
        (
            {"set": {"detector": {"rise_time": "1 s", "time_constant": "1 s"}}},
            ("set", "detector", "rise_time"),
            "found both",
        ),
        ({"remove": ["inlet", "cell"]}, ("remove",), "a part to stay on the path"),
        ({"remove": ["pump"]}, ("remove",), "expected a known part"),
        ({"needs": ["two"], "remove": ["inlet"]}, ("needs",), "expected a known change"),
        ({}, (), "found neither set nor remove"),
    ],
)
def test_unsound_changes_are_named_at_their_key(change, path, phrase):
    ((where, sentence),) = broken(**change)
    assert phrase in sentence
    assert where[-len(path) :] == path if path else where == ()


def test_new_values_go_over_old_ones_and_drop_what_they_exclude():
    old = {"time_constant": "0.5 s", "interval": "50 ms"}
    assert merged(old, {"rise_time": "0.1 s"}) == {"rise_time": "0.1 s", "interval": "50 ms"}
    assert merged(old, {"interval": "10 ms"}) == {"time_constant": "0.5 s", "interval": "10 ms"}
    assert old == {"time_constant": "0.5 s", "interval": "50 ms"}
