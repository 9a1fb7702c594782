"""What the program refuses the page refuses, and nothing else: scenarios with mistakes in them."""

import copy
import random
import tomllib
from pathlib import Path

import pytest
from reference import javascript

from tailrace.errors import TailraceError
from tailrace.scenario.scenario import Scenario
from tailrace.web.facts import facts

pytestmark = pytest.mark.skipif(bool(javascript.missing()), reason=javascript.missing())
FOLDER = Path(__file__).parents[2] / "scenarios"
SHAPES = ("plug", "washout", "loop", "gaussian")
ONE = ("method", "injection", "detector", "limits")


@pytest.fixture(scope="module")
def ask():
    return javascript.engine()


@pytest.fixture(scope="module")
def shipped():
    read = [tomllib.loads(path.read_text("utf-8")) for path in sorted(FOLDER.rglob("*.toml"))]
    kept = [
        one for one in read if not {"measured", "columns"} & set(one) and "file" not in str(one)
    ]
    names = (*ONE, "title", "path", "solutes", "gradient")
    return [{name: one[name] for name in names if name in one} for one in kept]


def example(field, chance):
    """A value that the field can have."""
    if field["kind"] == "boolean":
        return chance.random() < 0.5
    numbers = [0.3, 1, 5] if field["kind"] == "number" else [None]
    return chance.choice(field.get("examples") or field.get("words") or numbers)


def mistaken(chance, tables, known):
    """The tables with a key taken out or put in, a part elsewhere, or another injection."""
    made = copy.deepcopy(tables)
    if chance.random() < 0.15:
        shape = chance.choice(SHAPES)
        fields = known[f"injection.{shape}"]["fields"].items()
        keys = {key: one for key, one in fields if one["needed"] or chance.random() < 0.4}
        made["injection"] = {key: example(one, chance) for key, one in keys.items()}
        made["injection"]["shape"] = shape
        return made
    places = [(name, made[name]) for name in ONE if name in made]
    places += [(f"path.{one['part']}", one) for one in made["path"]]
    places += [("solutes", one) for one in made["solutes"]]
    places += [("method.eluent", made["method"].get("eluent", {}))]
    name, table = chance.choice(places)
    name = f"injection.{table['shape']}" if name == "injection" else name
    if chance.random() < 0.3 and table:
        table.pop(chance.choice(list(table)))
    elif chance.random() < 0.9:
        key = chance.choice(list(known[name]["fields"]))
        value = example(known[name]["fields"][key], chance)
        table.update({} if value is None else {key: value})
    else:
        made["path"].insert(chance.randrange(len(made["path"])), made["path"].pop())
    return made


@pytest.mark.parametrize("seeds", [range(15), range(15, 2500)], ids=["few", "many"])
def test_mistakes_are_those_of_the_program(ask, shipped, seeds):
    known = facts()["tables"]
    refused = 0
    for seed in seeds:
        chance = random.Random(seed)
        tables = mistaken(chance, chance.choice(shipped), known)
        try:
            Scenario.from_tables(copy.deepcopy(tables))
            expected = ""
        except TailraceError as error:
            expected = str(error)
        answer = ask("answer", tables, {"platesBack": False})
        found = [one["sentence"] for one in answer["problems"]]
        assert bool(found) == bool(expected), (seed, found, expected)
        assert not any("NaN" in one or "undefined" in one for one in found), (seed, found)
        places = [str(one["place"][-1]) for one in answer["problems"]]
        assert not found or any(one in expected for one in places), (seed, places, expected)
        refused += bool(found)
    assert 0.2 < refused / len(seeds) < 0.9
