"""What ``tailrace tolerance`` prints: the text, and the JSON object of plain numbers in SI."""

from dataclasses import replace
from typing import Any

from tailrace.journey.verification import CrossCheck
from tailrace.records.layout import as_json as plain
from tailrace.records.provenance import Provenance
from tailrace.report.sentences import computed
from tailrace.report.table import Headline, Table, shown
from tailrace.report.tolerance import checking, readings, sentences, tables
from tailrace.report.tolerance import drifting as drifts
from tailrace.studies.tolerance.result import Tolerance


def as_text(study: Tolerance) -> str:
    """Everything that ``tolerance`` says, as plain text of at most 110 columns."""
    return shown(blocks(study))


def blocks(study: Tolerance) -> list[str | Table]:
    """The same, to be shown at any width."""
    numbers = (
        tables.spread_table(study),
        tables.intervals_table(study),
        tables.acceptance_table(study),
        tables.kinds_table(study),
        tables.tolerance_limits_table(study),
        tables.first_order_table(study),
        *tables.indices_tables(study),
        tables.widening_table(study),
    )
    qualification, read = tables.qualification_table(study), readings.readings_table(study)
    return [
        Headline(study.title),
        replace(tables.inputs_table(study), words=True),
        *([replace(read, words=True)] if read else []),
        *(one for one in numbers if one is not None),
        *(sentences.region(one) for one in study.maps),
        *([replace(qualification, words=True)] if qualification else []),
        *drifts.both_tables(study),
        "\n".join([*sentences.remarks(study), *filter(None, [drifts.retest(study)])]),
        Headline(sentences.conclusion(study)),
    ]


CONTRACT = 2
NOT_SAID = ("solutes", "parts", "part_kinds", "warnings", "metrics")
OF_EVERY_SAMPLE = ("values", "errors")
"""Left out: they are in the record."""


def as_json(
    study: Tolerance, provenance: Provenance, check: CrossCheck | None = None
) -> dict[str, Any]:
    """Turn a study into one object, with the keys of ``tailrace.studies.tolerance.result``.

    Beside them ``contract``, ``version``, ``scenario_sha256`` and ``libraries``; ``samples`` and
    ``computed`` are numbers; ``sentence`` and the like say in words what numbers mean;
    ``solvers_agree`` is None where the solvers were not compared. None where a number does not
    exist.
    """
    found = {key: value for key, value in plain(study).items() if key not in NOT_SAID}
    for row in (*found["inputs"], *found["outcomes"]):
        for name in OF_EVERY_SAMPLE:
            row.pop(name, None)
    for row, given in zip(found["inputs"], study.inputs, strict=True):
        row["sentence"] = sentences.distribution(given)
    for row, outcome in zip(found["outcomes"], study.outcomes, strict=True):
        remarks = sentences.first_order(outcome)
        row["linearised"]["remark"], row["first_order"]["remark"] = remarks
        row["limits"]["refused"] = sentences.refused(outcome)
        _with_answer(row["acceptance"])
    _with_answer(found["acceptance"])
    for one in filter(None, (*found["discrepancies"], found["population"])):
        _with_answer(one["acceptance"])
    found["retest"] = drifts.retest(study)
    if study.indices is not None:
        found["indices"]["remark"] = sentences.together(study)
    found["engine"]["sentence"] = computed(study.engine)
    if study.stop is not None:
        found["stop"]["sentence"] = sentences.stopped(study.stop)
    _describe_widenings(found["widenings"], study)
    checks = found.pop("checks")
    for row, one in zip(checks, study.checks, strict=True):
        row["what"], row["how"] = checking.measurement(one), checking.HOW[one.how]
        row["often"], row["rule"] = checking.often(one, study), checking.rule(one, study)
        row["because"] = checking.basis(one, study)
    return {
        "contract": CONTRACT,
        "version": provenance.version,
        "scenario_sha256": provenance.scenario_sha256,
        "libraries": provenance.libraries,
        **found,
        "samples": study.samples,
        "computed": study.samples - study.failed,
        "met": study.satisfied,
        "qualification": checks,
        "conclusion": sentences.conclusion(study),
        "cautions": sentences.cautions(study),
        "solvers_agree": None if check is None else check.agree,
    }


def _describe_widenings(rows: list[dict[str, Any]], study: Tolerance) -> None:
    """Add titles, rules, answers, and what each input is as stated and at its widest."""
    inputs = {one.name: one for one in study.inputs}
    for row, widening in zip(rows, study.widenings, strict=True):
        row["title"], row["rule"] = sentences.title(widening), sentences.rule(widening)
        row["sentence"] = sentences.widening(study, widening)
        row["tried"] = [[one["scale"], one["acceptance"]] for one in row["tried"]]
        for one in (*(acceptance for _, acceptance in row["tried"]), row["fresh"]):
            _with_answer(one)
        for one in row["inputs"]:
            given = inputs[one["name"]]
            one["stated"] = sentences.distribution(given)
            one["widest"] = sentences.distribution(given, one["scale"])


def _with_answer(acceptance: dict[str, Any] | None) -> None:
    """Add whether the required probability is reached."""
    if acceptance is not None:
        acceptance["met"] = acceptance["lower_bound"] >= acceptance["required"]
