"""The work sheet: what to do, in which order, and what to measure after each step."""

import math
from dataclasses import dataclass
from importlib import resources

from jinja2 import Environment, StrictUndefined

from tailrace.report.improvement.expected import basis_line, spelled
from tailrace.report.improvement.figures import bars, gained, money, ratio, share, spoken_time
from tailrace.report.improvement.findings import gain_band, left_out_lines, order_line, stop_line
from tailrace.report.improvement.words import works

BEFORE = (
    "The manuals of the instrument and the column, the rules of the place and of the country come "
    "first. Leave to qualified service what you are not trained for.",
    "A validated method needs its change control: ask before anything is changed, and write down "
    "what was changed. Say to everybody who uses the instrument what will be done, and when.",
    "Measure the figures of step 0 with a test substance now: without them no step can be judged.",
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
    """One figure to measure: its name, what is expected, and the band; all text."""

    figure: str
    expected: str
    band: str


@dataclass(frozen=True, kw_only=True)
class SheetStep:
    """One box of the sheet.

    Parameters
    ----------
    title : str
    facts : str
        Price and pressure in one line; empty for the start.
    doings, cautions : tuple of str
    checks : tuple of Check
    checks_title : str
    divider : str
        A sentence above the box; empty as a rule.
    """

    title: str
    facts: str
    doings: tuple[str, ...]
    cautions: tuple[str, ...]
    checks: tuple[Check, ...]
    checks_title: str
    divider: str


def as_sheet(improvement, provenance):
    """The work sheet as one HTML file that stands alone.

    Parameters
    ----------
    improvement : Improvement
        With ``expected``.
    provenance : Provenance

    Returns
    -------
    str
        The same input gives the same text. It holds no address, and its policy forbids whoever
        opens it to fetch anything.
    """
    work, watched = works(improvement), _watched(improvement)
    steps = [
        _step(improvement, step, done, watched)
        for step, done in zip(improvement.steps, work, strict=True)
    ]
    parts = [(number, part) for number, done in enumerate(work) for part in done.parts]
    remarks = [*left_out_lines(improvement)]
    if len(steps) > 1:
        remarks = [order_line(improvement), stop_line(improvement), *remarks]
    return _template().render(
        provenance=provenance,
        verdict=improvement.verdict,
        remarks=remarks,
        basis=basis_line(improvement),
        parts=parts,
        steps=steps,
        before=BEFORE,
        afterwards=AFTERWARDS,
    )


def _watched(improvement):
    """What is measured at the bench: the solutes and pairs that the aim is told of, the pressure.

    All figures of all solutes would be pages that nobody fills in.
    """
    told = {step.of for step in improvement.steps}
    names = {row.of for row in improvement.expected.rows}
    for pair in tuple(told):
        told |= {one for one in names for other in names if pair in _pairs(one, other)}
    return told | {""}


def _pairs(one, other):
    return f"{one}/{other}", f"{other}/{one}"


def _step(improvement, step, done, watched):
    checks = tuple(
        Check(figure=f"{row.of}: {name}" if row.of else name, expected=value, band=band)
        for row in improvement.expected.rows
        if row.step == step.number and row.of in watched
        for name, value, band in [spelled(row)]
    )
    cautions = [step.caution] if step.caution else []
    cautions += [f"{one.rstrip('.')}." for one in step.broken]
    return SheetStep(
        title=f"Step {step.number}: {step.change}" if step.number else "Step 0: as it is",
        facts=_facts(improvement, step) if step.number else "",
        doings=done.doings,
        cautions=tuple(cautions),
        checks=checks,
        checks_title="Measure after this step" if step.number else "Measure before any change",
        divider=_divider(improvement, step),
    )


def _facts(improvement, step):
    """Price, gain and pressure in one line."""
    before = improvement.steps[step.number - 1].figure
    said = [
        f"cost {money(step.cost)}",
        f"work {spoken_time(step.effort)}",
        f"{improvement.aim.figure} {gained(step.gain, step.gain_error)} "
        f"({share(step.gain / abs(before))} %)",
    ]
    if math.isfinite(step.gain_low):
        said[-1] += f", {gain_band(step)} within the input uncertainty"
    if math.isfinite(step.pressure):
        said.append(f"pressure {bars(step.pressure)} bar")
    if math.isfinite(step.signal_to_noise):
        said.append(f"signal to noise {ratio(step.signal_to_noise)} of the start's")
    return "; ".join(said)


def _divider(improvement, step):
    """Above the first step that is not worth making."""
    if not step.number or step.number != improvement.stop_after + 1:
        return ""
    return (
        f"Stop here: each step from here on brings less than {100 * improvement.stop:g} %. "
        "Make it only where there is another reason for it."
    )


def _template():
    folder = resources.files("tailrace.report.improvement")
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    return environment.from_string(folder.joinpath("worksheet.html.j2").read_text("utf-8"))
