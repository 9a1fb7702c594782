"""A study of changes as one HTML page that an auditor can follow and sign."""

from tailrace.figures.improvement.before_after import draw_before_after
from tailrace.figures.improvement.frontiers import draw_frontiers
from tailrace.figures.improvement.staircase import draw_staircase
from tailrace.records.improvement_answer import as_improvement, as_states
from tailrace.records.record import as_provenance
from tailrace.report.improvement import evidence, findings, inputs, tables
from tailrace.report.improvement.expected import basis_line, expected_table
from tailrace.report.paper import rendered
from tailrace.report.verification import check_tables, verdict


def page(record) -> str:
    """The report of a study of changes, from its record alone.

    Parameters
    ----------
    record : xarray.DataTree
        Of ``tailrace.records.improvement_store``.

    Returns
    -------
    str
        The same record gives the same text on one machine.
    """
    return as_page(record, pictures_of(record))


def pictures_of(record) -> dict:
    """Every picture of a study of changes.

    Parameters
    ----------
    record : xarray.DataTree

    Returns
    -------
    dict of str to Picture
        By the name of its file: ``steps``, ``frontiers``, ``peaks``.
    """
    improvement, (states, _) = as_improvement(record), as_states(record)
    return {
        "steps": draw_staircase(improvement),
        "frontiers": draw_frontiers(improvement),
        "peaks": draw_before_after(states),
    }


def as_page(record, pictures) -> str:
    """The same as ``page``, with its pictures at hand.

    Parameters
    ----------
    record : xarray.DataTree
    pictures : dict of str to Picture
        Of ``pictures_of``.
    """
    improvement, (states, checks) = as_improvement(record), as_states(record)
    return rendered(
        "improvement/audit.html.j2",
        pictures.values(),
        place={name: index for index, name in enumerate(pictures)},
        provenance=as_provenance(record),
        verdict=improvement.verdict,
        **_question(improvement),
        **_answer(improvement),
        warnings=evidence.warning_lines(states),
        states=evidence.state_tables(states),
        parts=evidence.part_tables(states),
        numerical=evidence.numerical_table(improvement),
        computed=evidence.computed_line(improvement),
        checks=[(name, verdict(check), check_tables(check)) for name, check in checks.items()],
    )


def _question(improvement):
    return {
        "about": findings.about(improvement),
        "asked": inputs.asked(improvement),
        "changes": inputs.changes_words(improvement),
        "uncertain": inputs.uncertain_words(improvement),
    }


def _answer(improvement):
    """Tables and sentences in the order in which they are read."""
    several = len(improvement.steps) > 1
    return {
        "steps": tables.steps_table(improvement),
        "done": inputs.steps_words(improvement),
        "order": [
            *([findings.order_line(improvement)] if several else []),
            *filter(None, (findings.doubt_line(improvement), findings.stop_line(improvement))),
            *findings.broken_lines(improvement),
        ],
        "worth": tables.changes_table(improvement),
        "chosen": [findings.best_line(improvement), *findings.left_out_lines(improvement)],
        "theory": findings.theory_lines(improvement),
        "frontiers": [
            tables.frontier_table(improvement, demand)
            for demand in tables.DEMANDS
            if len(improvement.frontiers[demand]) > 1
        ],
        "basis": "" if improvement.expected is None else basis_line(improvement),
        "expected": None if improvement.expected is None else expected_table(improvement),
    }
