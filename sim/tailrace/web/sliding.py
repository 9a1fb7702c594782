"""The page with sliders as one HTML file: it computes what it can, and shows what was computed."""

import math
import re
import shlex
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, TypeAlias

import numpy as np
from markupsafe import escape

from tailrace.journey.hydraulics import thickest_of
from tailrace.measures.registry import CAPACITY, METRICS, PLATES, PLATES_OWN
from tailrace.records.provenance import Provenance
from tailrace.report.numbers import percent, with_error
from tailrace.report.paper import template
from tailrace.report.sentences import ABOUT
from tailrace.scenario.changed import OF_THE_START
from tailrace.scenario.page_table import PageTable
from tailrace.studies.axes import as_asked, size_of
from tailrace.studies.free_sliders import FreeSliders
from tailrace.studies.lanes import result_of
from tailrace.studies.sliders import MOST_BYTES, Sliders, too_many
from tailrace.web.assemble import ROOM, assembled, bundled
from tailrace.web.facts import computing_facts
from tailrace.web.sheet import Sheet, inline, marked
from tailrace.web.stops import DIGITS, rows_of, sliders_data, spoken, worst_error
from tailrace.wording import LANGUAGE, LANGUAGES, say, speaking, table, word
from tailrace.wording import number as local

COURSE = "What an instrument does to a peak"
ENTRY, WITH_BENDS = ROOM / "page" / "page.js", ROOM / "page" / "with_bends.js"
"""The module of the page that is run."""
TIME = "Time from the start of the injection, s"
FINE = 1000
"""Places on a slider that is free."""
Measured: TypeAlias = dict[str, Any]
"""A signal beside the sliders: name; start, step in s; values, noise as share of amount, 1/s."""
WIDE = 20.0
"""Greatest over least value from which on a slider's places stand in equal ratios."""


HEADINGS = {
    "picture": "The recorded peak of",
    "chromatogram": "The signal as it is recorded",
    "figures": "What is read off the peak",
    "parts": "Variance that each part adds",
    "along": "Along the slider",
    "trust": "How far to trust it",
    "choose": "Choose one answer to each question, then lock them. The instrument appears once "
    "they are locked; when you have tried it, you can see what is right.",
    "lock": "Lock my answers",
    "locked": "Locked. Now try it.",
    "anew": "Start this lesson anew",
    "numbers": "Show the program's numbers beside mine",
    "error": "Behind ± stands the program's estimate of its own error, where it reaches the last "
    "digit.",
    "predicted": "What you predicted",
    "show": "Show what is right",
    "right": "You said so, and it is right:",
    "wrong": "You said otherwise. Right is:",
    "teacher": "What a teacher would say",
    "mistakes": "Show them",
    "sideways": "More columns stand to the right: move the table sideways →",
    "installed": "commands need the program installed",
}
"""Headings of a page by their names, where a scenario has no words of its own."""


@dataclass(frozen=True, kw_only=True)
class Station:
    """One set of sliders, and where it stands on a page.

    ``sheet``: of a lesson; ``versions``: names of the instruments between which the lesson changes
    over, of which this is ``version``; ``name``: of the lesson, in the page's address.
    """

    study: Sliders | FreeSliders
    provenance: Provenance
    page: PageTable = field(default_factory=lambda: PageTable.model_validate({}))
    sheet: Sheet | None = None
    name: str = ""
    versions: tuple[str, ...] = ()
    version: int = 0
    measured: Measured | None = None


def page_of(study: Sliders | FreeSliders, provenance: Provenance) -> str:
    """The sliders as one HTML file.

    The same input gives the same text. It holds no address; its policy lets this very script and
    style run and forbids whoever opens it to fetch anything. Raises BudgetError for more than
    MOST_BYTES bytes.
    """
    return page_with([Station(study=study, provenance=provenance)])


def page_with(stations: Sequence[Station]) -> str:
    """As ``page_of``, of one or more stations; of several, one is shown at a time.

    In the language of the first, as far as the program has its words.
    """
    language = stations[0].page.language.partition("-")[0]
    with speaking(language if language in LANGUAGES else LANGUAGES[0]):
        return _page(stations)


def _page(stations: Sequence[Station]) -> str:
    first = stations[0]
    datas = [_data(one) for one in stations]
    bodies = [_body(stations, n, data) for n, data in enumerate(datas)]
    alone = len(stations) == 1
    names = list(dict.fromkeys((one.name, one.sheet.title) for one in stations if one.sheet))
    if not alone:
        held = (f'<template id="station-{n}">{body}</template>' for n, body in enumerate(bodies))
        told = {"names": names, "course": word(COURSE), "say": say}
        nav = template("nav.html.j2", "tailrace.web.page").render(told)
        bodies = [nav, *held]
    free = [one.study for one in stations if isinstance(one.study, FreeSliders)]
    bends = np.concatenate([np.zeros((0, 2)), *(study.bends for study in free)])
    title = first.sheet.title if first.sheet and len(names) == 1 else ""
    page = assembled(
        WITH_BENDS if len(bends) else ENTRY,
        title=title
        or (say("{title}: with sliders", title=first.provenance.title) if alone else word(COURSE)),
        body="\n".join([*bodies, _licence()]),
        style="".join(
            (ROOM / one).read_text("utf-8")
            for one in ("vendor/uplot.css", "shown/lines.css", "page/page.css")
        ),
        data={
            "data": datas[0] if alone else {"stations": datas},
            **_words(),
        },
        packed={"facts": computing_facts(bends)} if free else {},
        language=first.page.language,
    )
    size = len(page.encode())
    if alone and isinstance(first.study, Sliders) and size > MOST_BYTES:
        found = len(datas[0]["cases"])
        raise too_many(int(found * MOST_BYTES / size), found)
    return page


def _licence() -> str:
    """Of the library that draws, folded: it asks to be told."""
    text = (ROOM / "vendor" / "LICENSES.txt").read_text("utf-8").partition("-----")[0].strip()
    title = word("The library that draws, and its licence")
    folded = f"<summary>{title}</summary><pre>{escape(text)}</pre>"
    return f"<footer><details>{folded}</details></footer>"


def _words() -> dict[str, dict[str, str]]:
    """What stands for each text that the script has, where its page is not English."""
    words = table(LANGUAGE.get())
    if not words:
        return {}
    script = bundled(ENTRY)
    return {
        "words": {
            text: other
            for text, other in words.items()
            if f'"{text}"' in script or f"'{text}'" in script
        }
    }


def _data(station: Station) -> dict[str, Any]:
    """What the script reads of a station."""
    study = station.study
    data = free_data(study) if isinstance(study, FreeSliders) else sliders_data(study)
    injector, _ = study.batch.itineraries[0].passages[0]
    of_the_middle = getattr(injector, "shape", "") == "gaussian"
    data["time"] = say("Time from the middle of the injection, s") if of_the_middle else say(TIME)
    data["about"] = ABOUT
    if thickest_of(study.batch.itineraries[0].passages) > 1:
        data["about"] += f" {word('at its highest along the programme')}"
    if station.sheet or station.versions:
        data |= {"lesson": station.name, "version": station.version}
        data["instrument"] = station.provenance.scenario_sha256[:12]
    if station.measured:
        data["measured"] = station.measured
    return data


def _body(stations: Sequence[Station], number: int, data: dict[str, Any]) -> str:
    """HTML of one; sheet and scenario that an earlier one shows are taken from there."""
    station, text = stations[number], stations[number].provenance.scenario
    before = list(enumerate(stations[:number]))
    like = next((at for at, one in before if one.provenance.scenario == text), None)
    first = next((at for at, one in before if station.sheet and one.name == station.name), None)
    study, page, sheet = station.study, station.page, station.sheet
    free = isinstance(study, FreeSliders)
    several = "The chromatogram as it is recorded: all solutes together"
    headings = HEADINGS | ({"chromatogram": several} if len(data["solutes"]) > 1 else {})
    if station.measured:
        headings |= {"picture": "The simulated peak of", "chromatogram": "The simulated signal"}
    headings = {name: word(text) for name, text in headings.items()}
    axes = [
        {"words": [], "last": len(one["labels"]) - 1, "marks": range(len(one["labels"]))} | one
        for one in data["axes"]
    ]
    return template("lesson.html.j2" if sheet else "page.html.j2", "tailrace.web.page").render(
        free=free,
        like=like,
        first=first,
        provenance=station.provenance,
        axes=axes,
        heading=headings | page.headings,
        introduction=re.split(r"\n\s*\n", page.introduction.strip()) if page.introduction else [],
        language=page.language,
        steps=page.steps,
        sheet=sheet,
        questions=[one for part in sheet.parts for one in part.questions] if sheet else [],
        marked=marked,
        inline=inline,
        say=say,
        number=local,
        versions=station.versions,
        version=station.version,
        measured=station.measured,
        **{name: data[name] for name in ("solutes", "parts", "rows")},
        command=_command(study, data["solutes"]),
        has_column=data["rows"] and any(part.separates for part in _parts(study)),
        amounts=_amounts(study),
        focuses=word(METRICS[CAPACITY].label) == data["rows"][0],
        noise_known=_noise_known(study),
        about=ABOUT,
        own_time=word("plates at the recorded time") in data["rows"],
        **(
            {"checked": _checked(study), "leading_label": word(METRICS[data["leading"]].label)}
            if isinstance(study, FreeSliders)
            else {"count": len(data["cases"]), "worst": worst_error(study)}
        ),
    )


def free_data(study: FreeSliders) -> dict[str, Any]:
    """Everything that the script reads of sliders that are free.

    ``scenario``: its tables; ``axes``, with ``low``, ``high`` and ``stops`` in SI, ``start`` as the
    scenario has it; ``checks``: marched positions, with the ``leading`` metric and its error.
    """
    first = result_of(study.metrics, 0, study.batch.itineraries[0])
    leading = PLATES_OWN if PLATES_OWN in first.recorded else PLATES
    tables = study.scenario.tables
    return {
        "mode": "free",
        "scenario": {key: value for key, value in tables.items() if key not in OF_THE_START},
        "shown": list(study.shown),
        "solutes": [first.lanes[lane] for lane in study.shown],
        "parts": [word(part.name) for part in first.parts],
        "rows": list(rows_of(first)),
        "noun": word(METRICS[leading].label),
        "leading": leading,
        "axes": [_axis(study, number) for number in range(len(study.axes))],
        "checks": [
            _check(study, case, leading)
            for case in range(len(study.positions))
            if study.metrics["computed"][case]
        ],
    }


def _axis(study: FreeSliders, number: int) -> dict[str, Any]:
    one, start = study.axes[number], study.starts[number]
    labels = [as_asked(one, place) for place in range(len(one))]
    base = {"name": spoken(one.name), "place": list(one.target.place), "kind": one.target.kind}
    if one.unit == "":
        words = [str(value) for value in one.values]
        if start is not None and start not in words:
            words.append(str(start))
        return base | {"words": words, "stops": words, "labels": words, "start": start or words[0]}
    ends = [*one.values.tolist(), *([start] if isinstance(start, float) else [])]
    low, high = min(ends), max(ends)
    logarithmic = low > 0 and high / low >= WIDE
    share = np.log if logarithmic else np.asarray
    places = (share(one.values) - share(low)) / max(float(share(high) - share(low)), 1e-300)
    return base | {
        "words": [],
        "stops": one.values.tolist(),
        "labels": labels,
        "low": low,
        "high": high,
        "log": bool(logarithmic),
        "start": start,
        "unit": [one.said, size] if (size := size_of(one)) else None,
        "last": FINE,
        "marks": np.rint(FINE * places).astype(int).tolist(),
    }


def _check(study: FreeSliders, case: int, leading: str) -> dict[str, Any]:
    result = result_of(study.metrics, case, study.batch.itineraries[case])
    places = study.positions[case]
    at = [
        str(one.values[place]) if one.unit == "" else float(one.values[place])
        for one, place in zip(study.axes, places, strict=False)
    ]
    rows = []
    for lane in study.shown:
        value = float(result.recorded[leading][lane])
        error = float(result.numerical_error[leading][lane])
        rows.append(
            {"leading": [value, error], "shown": with_error(value, error, digits=DIGITS + 1)}
        )
    told = ", ".join(
        f"{one.name} = {as_asked(one, place)}"
        for one, place in zip(study.axes, places, strict=False)
    )
    text = told or word(study.batch.where(case))
    return {"at": at or list(study.starts), "text": text, "solutes": rows}


def _checked(study: FreeSliders) -> dict[str, str]:
    engine = study.engine
    return {
        "count": str(int(np.sum(study.metrics["computed"]))),
        "difference": percent(engine.difference),
        "error": percent(engine.error),
        "metric": word(METRICS[engine.metric].label) if engine.metric else word("no metric"),
    }


def _parts(study: Sliders | FreeSliders) -> list[Any]:
    return [part for part, _ in study.batch.itineraries[0].passages]


def _amounts(study: Sliders | FreeSliders) -> str:
    """By what solutes stand in the chromatogram."""
    stream = study.batch.itineraries[0].passages[0][1]
    known = [
        word(one)
        for one, values in (("amount", stream.amount), ("absorptivity", stream.absorptivity))
        if np.isfinite(values).all()
    ]
    if len(np.atleast_1d(stream.retention_factor)) == 1:
        return ""
    if not known:
        return word("Each solute with the same amount: the scenario gives none.")
    return say("Each solute by its {what} in the scenario.", what=f" {word('and')} ".join(known))


def _noise_known(study: Sliders | FreeSliders) -> bool:
    """Whether the scenario says how high signal and noise are."""
    passages = study.batch.itineraries[0].passages
    stream, recorder = passages[0][1], passages[-1][0]
    light = any(math.isfinite(float(np.max(part.light_path))) for part, _ in passages)
    given = np.isfinite(stream.amount).all() and np.isfinite(stream.absorptivity).all()
    return bool(light and given and np.isfinite(recorder.recorded_noise()).all())


def _command(study: Sliders | FreeSliders, names: list[str]) -> str:
    """What makes this page again."""
    solutes = names if len(names) < len(study.batch.itineraries[0].lanes) else []
    options = [("--slide", text) for text in study.asked] + [("--solute", name) for name in solutes]
    return shlex.join(["tailrace", "page", "SCENARIO", *(one for pair in options for one in pair)])
