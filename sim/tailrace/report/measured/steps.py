"""What measurements say of the steps that were made, in words, tables, JSON and as a page."""

from collections.abc import Iterator
from functools import partial
from typing import Any

from tailrace.measurements.result import metric_description
from tailrace.measures.registry import PLATES, TAILING, WIDTH
from tailrace.records.layout import as_json as plain
from tailrace.report.measured.comparison import metrics_table, one_json, width_in_words
from tailrace.report.measured.diagnosis import fitted
from tailrace.report.measured.section import Section, Telling, overlays_of
from tailrace.report.numbers import with_error
from tailrace.report.table import Table, tabulated, words
from tailrace.studies.measured.following import BROUGHT, SHORT, Followed, Made
from tailrace.studies.measured.result import DIFFERS, Comparison

TITLE = "Steps that were made"
METHOD = (
    "Each measurement is held against what was to be expected of the step after all measurements "
    "before it, metric by metric as by compare: a step brought what it should where no metric "
    "differs and the width at half height agrees. After each step what [[uncertain]] leaves open "
    "is fitted to its signals, with correlations, and what a change sets anew is known as the file "
    "says.",
    "Where a metric differs, the signals of that step are diagnosed, the instrument being taken as "
    "it was known before: what may be at fault is named, and what follows is predicted with the "
    "first of these as it was found, as if nothing were done about it.",
)
NEXT = (
    "a step that did not bring what it should is set right before the next one is made: what is "
    "predicted from here on takes the instrument as it is",
)


def name_of(step: Made) -> str:
    """A step as it is called."""
    return ", ".join(step.changes) if step.changes else "the start"


def steps_table(study: Followed) -> Table:
    """Width and plates of every measurement."""

    def both(metric: str, value: str) -> Any:
        def shown(one: Comparison) -> str:
            numbers = (getattr(one, key)[metric] for key in (value, f"{value}_uncertainty"))
            return with_error(*map(float, numbers))

        return shown

    columns = [
        words("measurement", lambda one: one.name),
        words("width", both(WIDTH, "measured"), "s ± u"),
        words("expected", both(WIDTH, "predicted"), "s ± u"),
        words("plates", both(PLATES, "measured"), "± u"),
        words("expected", both(PLATES, "predicted"), "± u"),
        words("agrees", lambda one: "yes" if one.agrees else "no"),
    ]
    return tabulated("After each step (at half height)", columns, list(study.measured.values()))


def reported(study: Followed) -> Iterator[str]:
    """A sentence for each step."""
    for step in study.steps:
        name = name_of(step)
        subject = f"Step {step.number}, {name}," if step.number else "The start"
        if step.verdict == BROUGHT:
            is_as = "brought what it should" if step.number else "is as the scenario says"
            yield f"{subject} {is_as}."
        elif step.verdict != SHORT:
            did = "brought what it should" if step.number else "is as the scenario says"
            yield f"{subject} cannot be judged: whether it {did} is within what these signals show."
        else:
            yield _short(study, step, subject)


def _short(study: Followed, step: Made, subject: str) -> str:
    differ = []
    alone = f"{step.measured[0]}: t" if len(step.measured) == 1 else ""
    for seen in (study.measured[name] for name in step.measured):
        keys = [key for key in seen.zeta if seen.verdict(key) == DIFFERS]
        if not {WIDTH, TAILING}.isdisjoint(keys):
            told = width_in_words(seen, "expected")
            differ.append("T" + told.removeprefix(alone) if alone else told)
        elif keys:
            labels = "; ".join(metric_description(key).label for key in keys)
            differ.append(f"{seen.name} differs ({labels}).")
    did = "did not bring what it should" if step.number else "is not as the scenario says"
    same: dict[tuple[float, ...], list[Any]] = {}
    for one in study.of(step):
        same.setdefault(one.values, []).append(one)
    look = "; or ".join(fitted(*group) for group in same.values())
    if not look:
        look = step.untold.rstrip(".") or (
            "a part that the scenario lacks, a leak, or another part than the one that was meant: "
            "none of the faults that were tried explains it"
        )
    return f"{subject} {did}. {' '.join(differ)} Look for {look}."


def conclusion(study: Followed) -> str:
    """The last step, and what is left."""
    return f"{list(reported(study))[-1]}\n{left(study)}"


def left(study: Followed) -> str:
    """What can still be done."""
    if not study.left:
        return "No change is left to be made."
    return f"Left to be made, planned anew: {', '.join(study.left)}."


def cautions(study: Followed) -> tuple[str, ...]:
    """What to be careful about."""
    return NEXT if study.steps[-1].verdict == SHORT else ()


def sections(study: Followed) -> list[Section]:
    """All steps but the last, which the page begins with; then each measurement."""
    first = Section(title="Steps", lines=list(reported(study))[:-1], tables=[steps_table(study)])
    return [
        first,
        *(
            Section(title="", tables=[metrics_table(one)], pictures=[at])
            for at, one in enumerate(study.measured.values())
        ),
    ]


def _printed(study: Followed) -> tuple[list[Section], str]:
    """What a terminal shows: all steps, and what is left."""
    lines = list(reported(study))
    return [Section(title="Steps", lines=lines, tables=[steps_table(study)])], left(study)


def numbers(study: Followed) -> dict[str, Any]:
    """What is in the JSON object; SI."""
    return {
        "steps": [
            plain(step)
            | {
                "sentence": sentence,
                "look_for": [
                    {
                        "fields": list(one.fields),
                        "values": plain(one.values),
                        "probability": one.probability,
                    }
                    for one in study.of(step)
                ],
            }
            for step, sentence in zip(study.steps, reported(study), strict=True)
        ],
        "measured": [one_json(one) for one in study.measured.values()],
        "left": list(study.left),
        "scenario": study.text,
    }


TOLD = Telling(
    title=TITLE,
    method=METHOD,
    conclusion=conclusion,
    sections=sections,
    numbers=numbers,
    cautions=cautions,
    drawings=partial(overlays_of, prefix="steps-overlay"),
    printed=_printed,
)
