"""Edges that no product of so many frequencies resolves: marched in studies, and counted."""

from dataclasses import replace

import numpy as np
import pytest
from reference.checkpoints import Shelves
from reference.journeys import itinerary, stream

from tailrace.errors import AccuracyError
from tailrace.journey.product import multiply, unresolved
from tailrace.journey.propagation import spread
from tailrace.parts.detector.part import Detector
from tailrace.parts.injector.part import Injector
from tailrace.parts.tube.part import Tube
from tailrace.report.sentences import computed
from tailrace.studies import runner as runners
from tailrace.studies.batch import Batch
from tailrace.studies.derivatives import derivatives
from tailrace.studies.runner import Runner

FLOW = 2e-6 / 60
NAMES = ("plates_half_height", "width_half", "variance", "tailing_5")


def journey(length):
    """20 nL at 2 mL/min straight into a tube of 0.3 mm."""
    return itinerary(
        Injector(shape="plug", volume=2e-11),
        Tube(name="tube", bore=3e-4, length=length),
        Detector(),
        passing=replace(stream(), flow_rate=FLOW),
    )


def test_cases_that_frequencies_do_not_resolve_are_marched_alone_and_counted(monkeypatch):
    lengths = np.linspace(1.6, 2.4, 64).tolist()
    short, *resolved = (journey(length) for length in (0.125, *lengths))
    assert "frequencies" in unresolved(spread(short))
    assert not unresolved(spread(resolved[0]))
    # what it would say, and how little is known of it
    wrong = multiply(short)
    assert wrong.recorded["plates_half_height"][0] == pytest.approx(91.2, rel=0.02)
    assert wrong.numerical_error["plates_half_height"][0] > 100
    batch = Batch("cases", (*resolved[:5], short, *resolved[5:]))
    shelves = Shelves()
    runner = Runner(checkpoint=shelves)
    found = runner.run(batch)
    alone = Runner(engine="march").run(replace(batch, itineraries=(resolved[0], short)))
    assert (runner.computed.multiplied, runner.computed.unresolved) == (64, 1)
    assert "1 more" in computed(runner.computed)
    assert found["computed"].all()
    # march and the spectral way agree on 76.37 plates
    assert found["recorded/plates_half_height"][5, 0] == pytest.approx(76.37, rel=3e-3)
    for name in NAMES:
        values, errors = found[f"recorded/{name}"], found[f"numerical_error/{name}"]
        for mine, other in ((0, 0), (5, 1)):
            apart = abs(values[mine] - alone[f"recorded/{name}"][other])
            assert apart <= errors[mine] + alone[f"numerical_error/{name}"][other], (name, mine)
    monkeypatch.setattr(runners, "MOST_MARCHED", 0)
    with pytest.raises(AccuracyError, match="1 journeys are too many to march"):
        Runner(checkpoint=shelves).run(batch)


def test_no_derivatives_of_what_is_not_resolved():
    with pytest.raises(AccuracyError, match="do not resolve the edge"):
        derivatives(lambda row: journey(float(row[0])), np.array([0.125]), [(0.0, np.inf)])
