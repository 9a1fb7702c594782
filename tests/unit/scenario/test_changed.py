"""A scenario after some of its changes, and how changes may stand to each other."""

import sys
import tomllib
from collections import Counter
from copy import deepcopy
from random import Random

import pytest
from reference.improving import START, loaded

from tailrace.errors import ScenarioError
from tailrace.scenario.change_rules import broken_changes
from tailrace.scenario.changed import changed, document_with, heaters, with_needs
from tailrace.scenario.model import scenario_schema


def change(name, *lines):
    return "\n".join(("[[changes]]", f'name = "{name}"', *lines))


NARROW = change("narrow", 'set = { "inlet tube" = { bore = "0.12 mm" } }')
SHORT = change("short", 'set = { "inlet tube" = { length = "100 mm" } }')
BARE = change("bare", 'remove = ["inlet tube"]', 'excludes = ["narrow", "short"]')
NEW = change(
    "new heater",
    'replace = { "inlet tube" = { name = "small heater", part = "tube", bore = "0.1 mm", '
    'length = "80 mm", heater = true } }',
    'excludes = ["narrow", "short", "bare"]',
)
LATER = change("later", 'set = { "small heater" = { bore = "0.09 mm" } }', 'needs = ["new heater"]')
FILTER = change(
    "filter", 'insert = [{ after = "joint", name = "filter", part = "chamber", volume = "1 uL" }]'
)
FLOW = change("flow", 'set = { method = { flow = "0.5 mL/min" }, injection = { volume = "2 uL" } }')
ALL = (NARROW, SHORT, BARE, NEW, LATER, FILTER, FLOW)


@pytest.fixture
def scenario(tmp_path):
    return loaded(tmp_path, *ALL)


def names(made):
    return [part.name for part in made.document.path]


def test_values_of_parts_and_of_the_method_are_set(scenario):
    result = changed(scenario, ["flow", "short", "narrow"])
    inlet = result.document.path[0]
    assert (inlet.bore, inlet.length) == (0.12e-3, 0.1)
    assert result.document.method.flow == pytest.approx(0.5e-6 / 60)
    assert result.document.injection.volume == pytest.approx(2e-9)
    assert result.document.changes == []
    assert scenario.document.path[0].bore == 0.17e-3


def test_parts_are_removed_replaced_and_put_in(scenario):
    result = changed(scenario, ["filter", "bare"])
    assert names(result) == ["joint", "filter", "column", "flow cell"]
    result = changed(scenario, ["new heater", "later"])
    assert names(result)[0] == "small heater"
    assert result.document.path[0].bore == pytest.approx(0.09e-3)
    assert result.itinerary().passages[1][0].name == "small heater"


def test_before_and_after(tmp_path):
    both = change(
        "two",
        'remove = ["joint"]',
        'insert = [{ before = "joint", name = "one", part = "chamber", volume = "1 uL" },',
        '{ after = "joint", name = "other", part = "chamber", volume = "1 uL" }]',
    )
    result = changed(loaded(tmp_path, both), ["two"])
    assert names(result)[1:3] == ["one", "other"]


def test_needs_come_first(scenario):
    document = tomllib.loads(scenario.text)
    assert with_needs(document, ["later"]) == ("new heater", "later")
    assert heaters(document) == heaters(document_with(document, ["new heater"])) == 1
    assert heaters(document_with(document, ["bare"])) == 0


def test_two_changes_that_put_in_the_same_part_put_it_in_once(tmp_path):
    scenario = loaded(tmp_path, FILTER, FILTER.replace('name = "filter"\n', 'name = "too"\n'))
    assert names(changed(scenario, ["filter", "too"])).count("filter") == 1


@pytest.mark.parametrize(
    ("taken", "phrase"),
    [
        (["nothing"], "expected a known change"),
        (["later"], 'with later: "later" needs "new heater"'),
        (["narrow", "bare"], "with narrow, bare: "),
        (["bare", "narrow"], "exclude each other; leave out one"),
    ],
)
def test_what_cannot_be_taken_is_said(scenario, taken, phrase):
    with pytest.raises(ScenarioError) as reported:
        changed(scenario, taken)
    assert phrase in str(reported.value)


def test_what_goes_wrong_together_is_said_with_the_names(tmp_path):
    # each is sound by itself: the beam may see a mean, or a cell of two and a half tanks
    one = change("mean", 'set = { "flow cell" = { read = "mean" } }')
    other = change("tanks", 'set = { "flow cell" = { tanks = 2.5 } }')
    with pytest.raises(
        ScenarioError, match=r"with mean, tanks: path\[3\]\.tanks: expected a whole"
    ):
        changed(loaded(tmp_path, one, other), ["tanks", "mean"])


@pytest.mark.parametrize(
    ("changes", "line", "phrase"),
    [
        ((NARROW, NARROW.replace("0.12", "0.1").replace("narrow", "other")), 4, "both set"),
        ((NARROW, change("out", 'remove = ["inlet tube"]')), 4, "both change"),
        (
            (SHORT + '\nneeds = ["b"]', change("b", 'needs = ["short"]', 'remove = ["joint"]')),
            4,
            "circle",
        ),
        (
            (SHORT + '\nneeds = ["b"]\nexcludes = ["b"]', change("b", 'remove = ["joint"]')),
            4,
            "exclude each other",
        ),
        ((SHORT + '\nneeds = ["short"]',), 4, "itself"),
        ((SHORT + '\nexcludes = ["long"]',), 4, "expected a known change"),
        (
            (change("c", 'set = { "small heater" = { bore = "1 mm" } }'), NEW.split("\nexcl")[0]),
            3,
            'needs = ["new heater"]',
        ),
        ((change("d", 'replace = { joint = { part = "tube", bore = "1 mm" } }'),), 3, "key length"),
        (
            (change("e", 'insert = [{ name = "f", part = "chamber", volume = "1 uL" }]'),),
            3,
            "after",
        ),
        ((FILTER.replace("joint", "join"),), 3, 'write "joint"'),
        ((FILTER.replace('"filter", part', '"column", part'),), 1, "a name of its own"),
        ((change("g", 'set = { method = { temperature = "120 degC" } }'),), 1, "5 to 90 degC"),
        ((change("h", 'set = { "inlet tube" = { heater = false } }'),), 3, "heater to stay"),
        (
            (change("i", 'remove = ["joint"]', "set = { joint = { unswept = 0.1 } }"),),
            3,
            "either set or removed",
        ),
        ((change("j", 'remove = ["joint"]', "caution = 3"),), 4, "a text in quotes"),
    ],
)
def test_what_is_wrong_with_changes_is_said_at_its_line(tmp_path, changes, line, phrase):
    with pytest.raises(ScenarioError) as reported:
        loaded(tmp_path, *changes)
    first = reported.value.problems[0]
    assert phrase in first
    number = int(first.partition("changes.toml:")[2].partition(":")[0])
    assert number - START.count("\n") - 1 == line


def test_whatever_stands_in_the_tables_is_a_problem_and_no_crash():
    random = Random(1)
    junk = [None, 1, "x", [], {}, ["a"], {"a": 1}, {"a": {"b": 1}}, True, [{}], [{"name": 1}], [[]]]
    keys = ("name", "set", "remove", "replace", "insert", "needs", "excludes", "caution")
    sound = tomllib.loads("\n".join((START, *ALL)))
    assert broken_changes(sound) == []
    found = 0
    for _ in range(500):
        document = deepcopy(sound)
        for _ in range(random.randint(1, 3)):
            random.choice(document["changes"])[random.choice(keys)] = random.choice(junk)
        part = random.choice(document["path"])
        part[random.choice(list(part))] = random.choice(junk)
        found += bool(broken_changes(document))
    assert found > 250


def test_changes_that_say_what_comes_of_both_are_sound(tmp_path):
    builds = NARROW.replace("0.12", "0.1").replace("narrow", "other") + '\nneeds = ["narrow"]'
    result = changed(loaded(tmp_path, NARROW, builds), ["other", "narrow"])
    assert result.document.path[0].bore == pytest.approx(0.1e-3)
    loaded(tmp_path, NARROW, NARROW.replace("narrow", "the same"))


def test_a_new_eluent_asks_for_its_viscosity(tmp_path):
    start = START.replace("[numerics]", 'viscosity = "0.5 mPa*s"\n[numerics]').replace(
        "eluent = { water = 0.25, acetonitrile = 0.75 }\nviscosity", "viscosity"
    )
    new = change("new", "set = { method = { eluent = { methanol = 1.0 } } }")
    with pytest.raises(ScenarioError, match="expected the viscosity of the new eluent"):
        loaded(tmp_path, new, start=start)


def test_what_a_change_leaves_as_it_was_is_an_assumption(tmp_path):
    method = 'temperature = "35 degC"'
    start = START.replace(method, method + "\nneeds_temperature_control = true").replace(
        "heater = true\n", ""
    )
    warm = change("warm", 'set = { method = { temperature = "50 degC" } }')
    reported = loaded(tmp_path, warm, start=start).assumptions()
    assert "warm: retention factors kept as given, though the method changes" in reported
    assert any("no part is marked heater" in one for one in reported)


def test_the_schema_shows_all_keys():
    keys = scenario_schema()["$defs"]["ChangeTable"]["properties"]
    assert {"set", "remove", "replace", "insert", "needs", "excludes", "caution"} <= set(keys)
    assert {"after", "before"} <= set(keys["insert"]["items"]["properties"])
    assert "heater" in scenario_schema()["$defs"]["TubeTable"]["properties"]
    assert "needs_temperature_control" in scenario_schema()["$defs"]["MethodTable"]["properties"]


def test_twice_as_many_changes_take_hardly_more_than_twice_the_work(tmp_path):
    """They took four times as much: two hundred were read in 2 to 12 s."""

    def calls(count):
        new = '[{{ after = "joint", name = "f{0}", part = "chamber", volume = "1 uL" }}]'
        rows = [change(f"filter {at}", f"insert = {new.format(at)}") for at in range(count)]
        made = Counter()
        sys.setprofile(lambda frame, event, argument: made.update([event]))
        try:
            loaded(tmp_path, *rows)
        finally:
            sys.setprofile(None)
        return made["call"]

    assert calls(32) < 2.6 * calls(16)
