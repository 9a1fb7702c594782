"""Whether a study is worth acting on: each outcome from an answer that differs in one thing."""

from dataclasses import replace

import numpy as np
import pytest
from reference.improvements import expected, improvement

from tailrace.studies.improving.assemble import outcome


def told(kind):
    """The made-up answer (10 000 plates to 20 000, each ± 2), changed so that it has an outcome."""
    whole = improvement(expected=expected())
    rows, steps = whole.combinations, whole.steps
    value = rows.value.copy()
    value[whole.best] = 10_300.0
    return {
        "worth it": whole,
        "infeasible": replace(whole, combinations=replace(rows, satisfied=np.zeros(8, bool))),
        "no gain": replace(whole, steps=steps[:1], best=0),
        "needed": replace(whole, combinations=replace(rows, satisfied=np.arange(8) > 0)),
        "within error": replace(whole, steps=(*steps[:-1], replace(steps[-1], error=1e4))),
        "within uncertainty": replace(whole, expected=replace(whole.expected, whole_low=-1.0)),
        "small": replace(whole, combinations=replace(rows, value=value)),
    }[kind]


@pytest.mark.parametrize(
    "kind",
    [
        "worth it",
        "infeasible",
        "no gain",
        "needed",
        "within error",
        "within uncertainty",
        "small",
    ],
)
def test_every_outcome(kind):
    assert outcome(told(kind)) == kind
    assert replace(told(kind), outcome=kind).worth_it == (kind in ("worth it", "needed"))
