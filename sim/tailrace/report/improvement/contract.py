"""What ``improve --json`` prints: one object of plain numbers in SI, always with the same keys."""

import math

from tailrace.report.improvement.figures import letters

CONSTRAINTS = ("pressure", "cell_pressure", "signal", "signal_to_noise", "budget", "effort")
STEP = (
    "figure",
    "error",
    "gain",
    "gain_error",
    "gain_low",
    "gain_high",
    "recovered",
    "theory",
    "theory_gain",
    "cost",
    "effort",
    "total_cost",
    "total_effort",
    "pressure",
    "cell_pressure",
    "signal",
    "noise",
    "signal_to_noise",
)
CHANGE = (
    "cost",
    "effort",
    "alone",
    "alone_error",
    "last",
    "last_error",
    "share",
    "share_error",
    "theory_alone",
)
COMBINATION = (
    "figure",
    "error",
    "ceiling",
    "theory",
    "cost",
    "effort",
    "pressure",
    "cell_pressure",
    "signal",
    "noise",
    "signal_to_noise",
)


def as_contract(improvement, version):
    """Turn an improvement into an object ready for ``json.dumps``.

    Parameters
    ----------
    improvement : Improvement
    version : str
        Of the program.

    Returns
    -------
    dict
        SI units; money in the file's own currency; None where a figure does not exist.

        - ``title``, ``scenario_sha256``, ``version``
        - ``aim``: ``key``, ``of``, ``figure``, ``remark``; ``constraints``; ``stop``; ``order``;
          ``searched``: empty where every combination was travelled
        - ``start``, ``ceiling``: the figure as it is, and that of the column alone
        - ``changes``: for each ``name``, ``letter``, what it costs, its gain ``alone``, ``last``
          and its ``share`` with their errors, ``theory_alone``, ``needs``, ``excludes``,
          ``caution``, ``forbidden``, ``in_best``, ``left_out``
        - ``steps``: from the start on; ``ties``; ``stop_after``; ``theory_order``
        - ``best``, ``whole``: places in ``combinations``, which hold for each ``changes``, the
          figure, its price, ``broken`` constraints and ``computed``
        - ``frontiers``: places in ``combinations`` by ``cost``, ``effort``, ``pressure`` and
          ``signal_to_noise``
        - ``disagreements``; ``worth_it``; ``verdict``
        - ``expected``: None, or ``basis`` and ``rows``
    """
    expected = improvement.expected
    return {
        **_question(improvement, version),
        "start": number(improvement.start),
        "ceiling": number(improvement.ceiling),
        "changes": [_change(improvement, index) for index in range(len(improvement.changes))],
        "steps": [_step(step) for step in improvement.steps],
        "ties": [list(group) for group in improvement.ties],
        "stop_after": improvement.stop_after,
        "theory_order": list(improvement.theory_order),
        "best": improvement.best,
        "whole": improvement.whole,
        "combinations": _combinations(improvement),
        "frontiers": {name: rows.tolist() for name, rows in improvement.frontiers.items()},
        "disagreements": [_disagreement(one) for one in improvement.disagreements],
        "worth_it": improvement.worth_it,
        "verdict": improvement.verdict,
        "expected": None
        if expected is None
        else {"basis": expected.basis, "rows": expected_rows(improvement)},
    }


def number(value):
    """A finite float, or None: JSON has no word for a number that does not exist."""
    plain = float(value)
    return plain if math.isfinite(plain) else None


def _question(improvement, version):
    aim = improvement.aim
    return {
        "title": improvement.scenario.title,
        "scenario_sha256": improvement.scenario.sha256,
        "version": version,
        "aim": {name: getattr(aim, name) for name in ("key", "of", "figure", "remark")},
        "constraints": _numbers(improvement.constraints, CONSTRAINTS),
        "stop": improvement.stop,
        "order": improvement.order,
        "searched": improvement.searched,
    }


def _disagreement(one):
    return {
        "better": one.better,
        "worse": one.worse,
        "simulated": [number(gain) for gain in one.simulated],
        "theory": [number(gain) for gain in one.theory],
    }


def _numbers(record, names):
    return {name: number(getattr(record, name)) for name in names}


def _change(improvement, index):
    change = improvement.changes[index]
    return {
        "name": change.name,
        "letter": letters(index),
        **_numbers(change, CHANGE),
        "needs": list(change.needs),
        "excludes": list(change.excludes),
        "caution": change.caution,
        "forbidden": change.forbidden,
        "in_best": change.in_best,
        "left_out": change.left_out,
    }


def _step(step):
    return {
        "number": step.number,
        "change": step.change,
        "taken": list(step.taken),
        "combination": step.combination,
        "of": step.of,
        **_numbers(step, STEP),
        "caution": step.caution,
        "broken": list(step.broken),
    }


def _combinations(improvement):
    rows = improvement.combinations
    return [
        {
            "changes": list(improvement.names(row)),
            "of": str(rows.of[row]),
            **{name: number(getattr(rows, name)[row]) for name in COMBINATION},
            "computed": bool(rows.computed[row]),
            "broken": list(rows.broken[row]),
        }
        for row in range(len(rows.figure))
    ]


def expected_rows(improvement):
    """The expected figures, list of dict; SI, None where a bound does not exist.

    Parameters
    ----------
    improvement : Improvement
        With ``expected``.
    """
    return [
        {
            "step": row.step,
            "change": improvement.steps[row.step].change,
            "of": row.of,
            "figure": row.figure,
            "unit": row.unit,
            **_numbers(row, ("value", "low", "high")),
        }
        for row in improvement.expected.rows
    ]
