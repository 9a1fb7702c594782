"""Instruments chosen from few versions of each part are those that are built one by one."""

from dataclasses import replace

import numpy as np
import pytest
from reference.improving import CELL, FAST, TUBE, loaded

from tailrace.studies import cases, chosen
from tailrace.studies.cases import alike, joined, kin
from tailrace.studies.chosen import Chosen, against_all
from tailrace.studies.improving import instruments
from tailrace.studies.improving.instruments import Workshop
from tailrace.studies.improving.planning import planned

SET = '[[changes]]\nname = "{0}"\nset = {{ {0} = {{ {1} }} }}\n'
MORE = (
    SET.format("injection", 'volume = "1 uL"'),
    SET.format("joint", 'gap_length = "0.1 mm"'),
    SET.format("column", 'length = "100 mm"'),
    '[[changes]]\nname = "short"\nneeds = ["tube"]\n'
    'set = { "inlet tube" = { length = "100 mm" } }\n',
)


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    folder = tmp_path_factory.mktemp("chosen")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(instruments, "AT_RANDOM", 4)
        yield planned(loaded(folder, CELL, TUBE, FAST, *MORE))


@pytest.fixture(scope="module")
def built(plan):
    return Workshop(plan.scenario).build([plan.taken(one) for one in plan.combinations])


def test_they_are_the_same_instruments(plan, built):
    chosen = plan.instruments
    assert isinstance(chosen.itineraries, Chosen)
    assert len(plan.combinations) == 96  # half of those with the short tube lack what it needs
    assert [one for (one,) in chosen.which] == list(built.which)
    np.testing.assert_array_equal(np.ravel(chosen.cell_limits), built.cell_limits)
    pairs = zip(chosen.itineraries, built.itineraries, strict=True)
    assert all(alike(one, other) for one, other in pairs)
    assert [sorted(one) for one in kin(chosen.itineraries)] == kin(built.itineraries)
    assert not against_all(chosen.itineraries)
    assert against_all(built.itineraries)


def test_joined_they_are_the_same_lanes(plan, built):
    rows = kin(built.itineraries)[0][5:29]
    assert alike(
        plan.instruments.itineraries.picked(rows).joined(),
        joined([built.itineraries[row] for row in rows]),
    )


def test_versions_are_few(plan):
    versions = [len(one) for one in plan.instruments.itineraries.versions]
    assert versions == [2, 3, 2, 2, 2, 2]
    one = plan.instruments.itineraries[3]
    assert len(one.passages) == len(versions)
    assert len(plan.instruments.itineraries[2:5]) == 3


def test_blocks_are_told_by_looking_at_each_version_once(plan, monkeypatch):
    """Of a million combinations it took minutes to look at every part of each."""
    looked, kind_of = list[object](), cases.kind_of

    def counted(part):
        looked.append(part)
        return kind_of(part)

    for module in (cases, chosen):
        monkeypatch.setattr(module, "kind_of", counted)
    blocks = replace(plan.batch).blocks
    assert len(looked) == sum(len(one) for one in plan.instruments.itineraries.versions)
    one_by_one = replace(plan.batch, itineraries=tuple(plan.batch.itineraries))
    assert blocks == one_by_one.blocks


def test_changes_that_take_a_part_away_are_built_one_by_one(tmp_path, monkeypatch):
    monkeypatch.setattr(instruments, "AT_RANDOM", 4)
    gone = '[[changes]]\nname = "no joint"\nremove = ["joint"]\n'
    plan = planned(loaded(tmp_path, CELL, TUBE, FAST, gone))
    assert plan.bench.choose(plan.combinations, plan) is None
