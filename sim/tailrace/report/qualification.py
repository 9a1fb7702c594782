"""A qualification as text, JSON object and page to sign."""

import hashlib
import json
import math
import re
from typing import Any

from tailrace.identity import code_sha256, own_version
from tailrace.records.layout import as_json as plain
from tailrace.records.provenance import Provenance
from tailrace.report.numbers import significant, to_the_place_of
from tailrace.report.paper import rendered
from tailrace.report.table import Headline, Table, tabulated, words
from tailrace.studies.qualifying.result import Qualified, agreements

USE = (
    "Intended use: to compute how much of a column's efficiency a liquid chromatograph loses, "
    "where, and which changes pay. Not intended: to release a product, to replace a test of the "
    "instrument with a column, or to decide by itself anything that can hurt someone."
)
CONTRACT = 2
LEAST = 1e-4
"""Shares below this are not told apart."""


def verdict(found: Qualified) -> str:
    """Whether files and known answers are as they should be."""
    wrong = [one.name for one in found.known if not one.satisfied]
    files = (
        f"installed from a wheel, all {found.files} files as installed"
        if found.installation == "wheel" and not found.altered
        else f"{len(found.altered)} of {found.files} files NOT as installed: "
        f"{', '.join(found.altered[:8])}"
        if found.altered
        else f"used from a folder of sources, whose {found.files} files no list vouches for"
    )
    answers = f"all {len(found.known)} known answers met"
    if wrong:
        answers = f"NOT met: {'; '.join(wrong)}"
    start = "Qualified" if found.satisfied else "NOT qualified"
    took = f"{found.seconds:.0f} s, {found.processor_seconds:.0f} s of processors"
    return f"{start}: {files}; {answers} ({took})."


def evidence(found: Qualified) -> str:
    """How well the model is known to describe instruments."""
    beyond = sum(abs(one.difference) > 2 * one.u_validation for one in found.compared)
    return (
        f"Compared with {len(found.compared)} measured or published values, of parts, liquids and "
        f"peaks; {beyond} of them differ by more than twice u_val. No whole instrument is among "
        "them: no recorded peak of a column with all dimensions of its path was at hand. What "
        "[discrepancy] to state is therefore yours to judge."
    )


def agreement_table(found: Qualified) -> Table:
    """Bias and spread for each kind of quantity."""
    columns = (
        words("quantity", lambda one: one.quantity),
        words("values", lambda one: str(one.values)),
        words("bias of S/D", lambda one: _share(one.bias, "+"), "%"),
        words("spread of S/D", lambda one: _share(one.spread), "%"),
        words("u_val/D", lambda one: _share(one.expected), "%"),
    )
    return tabulated("Model against measured values", columns, agreements(found.compared))


def compared_table(found: Qualified) -> Table:
    """Each measured value: S, D, E and their uncertainties (ASME V&V 20-2009), to two digits of
    these."""

    def number(name: str) -> Any:
        return lambda one: to_the_place_of(float(getattr(one, name)), one.u_validation)

    def uncertainty(name: str) -> Any:
        return lambda one: significant(float(getattr(one, name)), 2)

    columns = (
        words("measured", lambda one: one.name),
        words("unit", lambda one: "" if one.unit == "1" else one.unit),
        *(
            words(head, number(name))
            for head, name in (("S", "model"), ("D", "measured"), ("E", "difference"))
        ),
        *(
            words(head, uncertainty(name))
            for head, name in (
                ("u_num", "u_num"),
                ("u_input", "u_input"),
                ("u_D", "u_measured"),
                ("u_val", "u_validation"),
            )
        ),
    )
    return tabulated("Each value", columns, found.compared)


def known_table(found: Qualified) -> Table:
    """Known answers beside what is computed here."""
    columns = (
        words("known answer", lambda one: one.name),
        words("unit", lambda one: "" if one.unit == "1" else one.unit),
        words("known", lambda one: significant(one.expected, 6)),
        words("here", lambda one: significant(one.found, 6)),
        words("differs by", lambda one: significant(one.difference, 2)),
        words("allowed", lambda one: significant(one.within, 2)),
        words("", lambda one: "met" if one.satisfied else "NOT met"),
    )
    return tabulated("Known answers", columns, found.known)


def _share(value: float, sign: str = "") -> str:
    if abs(value) < LEAST:
        return f"< {100 * LEAST:g}"
    return "-" if math.isnan(value) else f"{100 * value:{sign}.2g}"


def blocks(found: Qualified) -> list[str | Table]:
    """All of it, to be shown at any width."""
    return [
        known_table(found),
        agreement_table(found),
        evidence(found),
        Headline(verdict(found)),
    ]


def as_json(found: Qualified) -> dict[str, Any]:
    """One object; ``qualified`` is whether all is as it should be."""
    return {
        "contract": CONTRACT,
        "version": own_version(),
        "code_sha256": code_sha256(),
        "qualified": found.satisfied,
        **plain(found),
        "agreements": [plain(one) for one in agreements(found.compared)],
        "sentence": verdict(found),
    }


def trace(evidence: str) -> Table:
    """Requirements and the tests that hold them, out of the guide's page of evidence."""
    rows, headed, last = [], False, ""
    for line in evidence.splitlines():
        cells = [one.strip().replace("`", "") for one in line.strip("|").split("|")]
        headed = line.startswith("|") and (headed or cells[-1] == "test file")
        if not headed or cells[-1] == "test file" or not cells[-1].strip("- "):
            continue
        last = re.sub(r"^same", last, cells[-1])
        tests = [one if "/" in one else f"tests/agreement/{one}" for one in last.split(", ")]
        rows.append((cells[0], "; ".join(cells[1:-1]) or "-", ", ".join(tests)))
    columns = (
        words("requirement", lambda one: one[0]),
        words("against what, how closely", lambda one: one[1]),
        words("held by", lambda one: one[2]),
    )
    return tabulated("Requirements and the tests that hold them", columns, rows)


def points(text: str) -> list[tuple[str, list[str]]]:
    """Headings of a page in Markdown, each with its points and paragraphs, every one a line."""
    found: list[tuple[str, list[str]]] = []
    for part in re.split(r"^#+ ", text, flags=re.M)[1:]:
        heading, _, rest = part.partition("\n")
        whole = (" ".join(one.split()) for one in re.split(r"^- |\n\n", rest, flags=re.M))
        lines = [re.sub(r"\*\*|`|\[([^\]]+)\]\([^)]*\)", r"\1", one) for one in whole if one]
        found.append((heading, lines))
    return found


def page(found: Qualified, because: str, evidence_page: str, limits: str, changes: str) -> str:
    """The page to sign; ``because`` is what the user writes on it; then pages of the project."""
    of: dict[str, list[str]] = {}
    for one in found.known:
        of.setdefault(one.source, []).append(one.name)
    for two in found.compared:
        of.setdefault(two.source, []).append(two.quantity)
    sources = [f"{source}: {', '.join(dict.fromkeys(what))}" for source, what in of.items()]
    return rendered(
        "qualification.html.j2",
        (),
        provenance=Provenance(
            title="Qualification",
            scenario_sha256="",
            scenario="",
            version=own_version(),
            seal=hashlib.sha256(json.dumps(as_json(found)).encode()).hexdigest(),
        ),
        verdict=verdict(found),
        use=USE,
        because=because,
        evidence=evidence(found),
        known=known_table(found),
        agreement=agreement_table(found),
        compared=compared_table(found),
        sources=sources,
        code=code_sha256(),
        trace=trace(evidence_page),
        limits=points(limits),
        changes=points(changes),
    )
