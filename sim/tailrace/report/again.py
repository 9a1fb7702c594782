"""What came of computing a record again, in words."""

import math
from collections.abc import Sequence

from tailrace.identity import code_sha256, own_version
from tailrace.records.again import (
    BESIDE,
    ERRORS,
    EVIDENCE,
    OF_PARTS,
    SCORES,
    SOLVERS,
    Difference,
)
from tailrace.records.envelope import Signature
from tailrace.records.provenance import Provenance, computing
from tailrace.report.numbers import significant
from tailrace.report.table import Table, field, tabulated

FEW_DIGITS = 1e-6
"""From here on two records do not agree, on whatever they were computed."""


def where(found: Sequence[Difference]) -> Table:
    """Where two records differ."""
    columns = [field(Difference, name) for name in ("name", "largest", "rounding")]
    return tabulated("What came out otherwise", columns, found)


def scales(found: Sequence[Difference]) -> str:
    """What the differences listed are held over."""
    told = ["the largest number of that name in the record, at least 1 where it has no unit (of an "
            "error, of its unit beside it)"]  # fmt: skip
    names = [one.name for one in found]
    if any(name.endswith(OF_PARTS) for name in names):
        told.append(
            "a part's skewness over (variance behind the part / its own)^1.5, as third moments are "
            "subtracted for it"
        )
    if any(name.endswith(EVIDENCE) for name in names):
        told.append(
            "logarithms of evidence over half the points of the signals, as sums of that many "
            "squares are subtracted for them"
        )
    if any(f"{SCORES}/" in name for name in names):
        told.append("a zeta score over the measured value over the uncertainty, at least 1")
    if ERRORS in names:
        told.append("errors of samples over the largest value of their criterion")
    if any(name in SOLVERS for name in names):
        told.append(
            "a skewness by two solvers over how many times rounding of their bands counts in it, "
            "which points far from the peak do by the third power, at least 1"
        )
    if BESIDE in names:
        told.append(
            "how sure a change is beside all others times how many times less sure than alone that "
            "is, at least 1, as rounding counts so many times more"
        )
    return f"What they are made of: {'; '.join(told)}."


def verdict(found: Sequence[Difference], source: Provenance, same: bool) -> str:
    """Whether the record came out again, and what was not as when it was made."""
    others = [
        text
        for text, differs in (
            (f"version {source.version} of tailrace (here {own_version()})",
             source.version != own_version()),
            ("other code of tailrace", source.code_sha256 != code_sha256()),
            (f"{source.libraries} (here {computing()})", source.libraries != computing()),
        )
        if differs
    ]  # fmt: skip
    by = f" The record was made with {' and '.join(others)}." if others else ""
    if not found:
        return f"Computed again from the record alone: every number is the same, bit for bit.{by}"
    largest = max(one.rounding for one in found)
    made = "of what they are made of"
    size = f", by {significant(largest, 2)} {made} at most" if largest < math.inf else ""
    start = "agrees within rounding" if same else "does NOT agree"
    if not same and source.libraries != computing() and largest < FEW_DIGITS:
        start = f"agrees to {int(-math.log10(largest))} digits, not to the 12 of rounding"
    entries = f"{len(found)} entries differ" if len(found) > 1 else "1 entry differs"
    return f"Computed again from the record alone: the record {start}; {entries}{size}.{by}"


def signature_line(one: Signature) -> str:
    """Who signed, as what, why, when, and with which key."""
    key = f"key {one.fingerprint}" if one.fingerprint else "without a key"
    return f"Signed by {one.name} as {one.meaning}: {one.reason}; {one.time}, {key}."
