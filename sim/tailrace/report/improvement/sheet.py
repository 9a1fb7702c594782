"""The work sheet: what to do, in which order, and what to measure after each step."""

from __future__ import annotations

import math
from dataclasses import dataclass
from importlib import resources
from typing import TYPE_CHECKING

from jinja2 import Environment, StrictUndefined, Template

from tailrace.report.improvement.numbers import bars, gained, money, ratio, share, spoken_time
from tailrace.report.improvement.sentences import (
    basis_line,
    broken,
    gain_interval,
    left_out_lines,
    order_line,
    stop_line,
    verdict,
)
from tailrace.report.improvement.tables import shown
from tailrace.report.improvement.work import Work, works
from tailrace.studies.improving.result import Improvement, Step

if TYPE_CHECKING:
    from tailrace.records.provenance import Provenance

BEFORE = (
    "The manuals of the instrument and the column, the rules of the place and of the country come "
    "first. Leave to qualified service what you are not trained for.",
    "A validated method needs its change control: ask before anything is changed, and write down "
    "what was changed. Say to everybody who uses the instrument what will be done, and when.",
    "Measure what stands at step 0 with a test substance now: without them no step can be judged.",
    "Pressure: stop the pump, wait until the pressure is released and reads zero, and only then "
    "open a joint. Never tighten a joint under pressure.",
    "Solvents burn and are poisonous: eye protection, gloves, ventilation, no flame; catch what "
    "drips. Rinse out buffer and acid first.",
    "Lamp and heat: lamp off and mains unplugged before the detector is opened, since ultraviolet "
    "light harms the eyes; let lamp, oven and heater cool.",
    "Flow cell: it bears far less pressure than the column. Read its limit, and connect nothing "
    "narrow behind it.",
    "Cuts: square, smooth and clean. Push each tube to the stop of its seat and hold it there "
    "while the joint is tightened: a gap is one more volume in which the band is stirred.",
)
"""Before the first step, whatever the changes."""

AFTERWARDS = (
    "No joint leaks at the pressure of the method; the pressure is near the expected one.",
    "The test substance and a sample known from before give retention, plates, tailing and signal "
    "that the method allows.",
    "What was changed stands in the instrument's log; old parts are labelled and kept until the "
    "changes have proved themselves.",
)


@dataclass(frozen=True, kw_only=True)
class Check:
    """One metric to measure: its name, what is expected, and within what; all text."""

    metric: str
    expected: str
    interval: str


@dataclass(frozen=True, kw_only=True)
class SheetStep:
    """One box of the sheet.

    ``facts`` is its price and pressure in one line, empty for the start; ``divider`` a sentence
    above the box, empty as a rule.
    """

    title: str
    facts: str
    tasks: tuple[str, ...]
    cautions: tuple[str, ...]
    checks: tuple[Check, ...]
    checks_title: str
    divider: str


def as_sheet(improvement: Improvement, provenance: Provenance) -> str:
    """The work sheet of an improvement with ``expected``, as one HTML file that stands alone.

    The same input gives the same text. It holds no address, and its policy forbids whoever opens it
    to fetch anything.
    """
    work, measured = works(improvement), _measured(improvement)
    lines = (order_line(improvement), stop_line(improvement), *left_out_lines(improvement))
    return _template().render(
        provenance=provenance,
        verdict=verdict(improvement),
        remarks=[line for line in lines if line],
        basis=basis_line(improvement),
        parts=[(number, part) for number, done in enumerate(work) for part in done.parts],
        steps=[
            _step(improvement, step, done, measured)
            for step, done in zip(improvement.steps, work, strict=True)
        ],
        before=BEFORE,
        afterwards=AFTERWARDS,
    )


def _measured(improvement: Improvement) -> set[str]:
    """What is measured at the bench: the solutes and pairs of the aim, and the pressure.

    All metrics of all solutes would be pages that nobody fills in.
    """
    rows = () if improvement.expected is None else improvement.expected.rows
    found = {step.of for step in improvement.steps}
    names = {row.of for row in rows}
    for pair in tuple(found):
        found |= {one for one in names for other in names if pair in _pairs(one, other)}
    return found | {""}


def _pairs(one: str, other: str) -> tuple[str, str]:
    return f"{one}/{other}", f"{other}/{one}"


def _step(improvement: Improvement, step: Step, work: Work, measured: set[str]) -> SheetStep:
    rows = () if improvement.expected is None else improvement.expected.rows
    checks = tuple(
        Check(metric=f"{row.of}: {name}" if row.of else name, expected=value, interval=interval)
        for row in rows
        if row.step == step.number and row.of in measured
        for name, value, interval in [shown(row)]
    )
    cautions = [step.caution] if step.caution else []
    cautions += [f"{one.rstrip('.')}." for one in broken(improvement, step.combination)]
    return SheetStep(
        title=f"Step {step.number}: {step.change}" if step.number else "Step 0: as it is",
        facts=_facts(improvement, step) if step.number else "",
        tasks=work.tasks,
        cautions=tuple(cautions),
        checks=checks,
        checks_title="Measure after this step" if step.number else "Measure before any change",
        divider=_divider(improvement, step),
    )


def _facts(improvement: Improvement, step: Step) -> str:
    """Price, gain and pressure in one line."""
    before = improvement.steps[step.number - 1].value
    gain = (
        f"{improvement.aim.label} {gained(step.gain, step.gain_error)} "
        f"({share(step.gain / abs(before))} %)"
    )
    if math.isfinite(step.gain_low):
        gain += f", {gain_interval(step)} within the input uncertainty"
    facts = [f"cost {money(step.cost)}", f"work {spoken_time(step.effort)}", gain]
    if math.isfinite(step.pressure):
        facts.append(f"pressure {bars(step.pressure)} bar")
    if math.isfinite(step.signal_to_noise):
        facts.append(f"signal to noise {ratio(step.signal_to_noise)} of the start's")
    return "; ".join(facts)


def _divider(improvement: Improvement, step: Step) -> str:
    """Above the first step that is not worth making."""
    if not step.number or step.number != improvement.stop_after + 1:
        return ""
    return (
        f"Stop here: each step from here on brings less than {100 * improvement.stop:g} %. "
        "Make it only where there is another reason for it."
    )


def _template() -> Template:
    folder = resources.files("tailrace.report.improvement")
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    return environment.from_string(folder.joinpath("worksheet.html.j2").read_text("utf-8"))
