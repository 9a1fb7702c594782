"""The page with sliders as one HTML file: it computes what it can, and shows what was computed."""

import math
import shlex
from typing import Any

import numpy as np

from tailrace.measures.registry import METRICS, PLATES, PLATES_OWN
from tailrace.records.provenance import Provenance
from tailrace.report.numbers import significant, with_error
from tailrace.report.paper import template, text_of
from tailrace.scenario.changed import OF_THE_START
from tailrace.studies.axes import shown
from tailrace.studies.free_sliders import FreeSliders
from tailrace.studies.lanes import result_of
from tailrace.studies.sliders import MOST_BYTES, Sliders, too_many
from tailrace.web.assemble import ROOM, assembled
from tailrace.web.facts import facts
from tailrace.web.stops import rows_of, sliders_data, spoken, worst_error

FINE = 1000
"""Places on a slider that is free."""
WIDE = 20.0
"""Greatest over least value from which on a slider's places stand in equal ratios."""


def page_of(study: Sliders | FreeSliders, provenance: Provenance) -> str:
    """The sliders as one HTML file.

    The same input gives the same text. It holds no address; its policy lets this very script and
    style run and forbids whoever opens it to fetch anything. Raises BudgetError for more than
    MOST_BYTES bytes.
    """
    free = isinstance(study, FreeSliders)
    data = free_data(study) if isinstance(study, FreeSliders) else sliders_data(study)
    axes = [
        {
            "name": one["name"],
            "labels": one["labels"],
            "words": one.get("words", []),
            "last": one.get("last", len(one["labels"]) - 1),
            "marks": one.get("marks", range(len(one["labels"]))),
        }
        for one in data["axes"]
    ]
    body = template("page.html.j2", "tailrace.web.page").render(
        free=free,
        provenance=provenance,
        axes=axes,
        solutes=data["solutes"],
        parts=data["parts"],
        rows=data["rows"],
        command=_command(study, data["solutes"]),
        has_column=data["rows"] and any(part.separates for part in _parts(study)),
        amounts=_amounts(study),
        noise_known=_noise_known(study),
        **(
            {"checked": _checked(study), "leading_label": METRICS[data["leading"]].label}
            if isinstance(study, FreeSliders)
            else {"count": len(data["cases"]), "worst": worst_error(study)}
        ),
    )
    page = assembled(
        ROOM / "page" / "page.js",
        title=f"{provenance.title}: with sliders",
        body=body,
        style=text_of("page.css", "tailrace.web.page"),
        data={"data": data, **({"facts": facts()} if free else {})},
    )
    size = len(page.encode())
    if isinstance(study, Sliders) and size > MOST_BYTES:
        found = len(data["cases"])
        raise too_many(int(found * MOST_BYTES / size), found)
    return page


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
        "parts": [part.name for part in first.parts],
        "rows": list(rows_of(first)),
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
    labels = [shown(one, place) for place in range(len(one))]
    base = {"name": spoken(one.name), "place": list(one.target.place), "kind": one.target.kind}
    if one.unit == "":
        words = [str(value) for value in one.values]
        if start is not None and start not in words:
            words.append(str(start))
        return base | {"words": words, "stops": words, "labels": words, "start": start or words[0]}
    ends = [*one.values.tolist(), *([] if start is None else [float(start)])]
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
    told = []
    for lane in study.shown:
        value = float(result.recorded[leading][lane])
        error = float(result.numerical_error[leading][lane])
        told.append({"leading": [value, error], "shown": with_error(value, error)})
    return {"at": at or list(study.starts), "text": study.batch.where(case), "solutes": told}


def _checked(study: FreeSliders) -> dict[str, str]:
    engine = study.engine
    return {
        "count": str(int(np.sum(study.metrics["computed"]))),
        "difference": significant(100 * engine.difference, 2),
        "error": significant(100 * engine.error, 2),
        "metric": METRICS[engine.metric].label if engine.metric else "no metric",
    }


def _parts(study: Sliders | FreeSliders) -> list[Any]:
    return [part for part, _ in study.batch.itineraries[0].passages]


def _amounts(study: Sliders | FreeSliders) -> str:
    """By what solutes stand in the chromatogram."""
    stream = study.batch.itineraries[0].passages[0][1]
    known = [
        word
        for word, values in (("amount", stream.amount), ("absorptivity", stream.absorptivity))
        if np.isfinite(values).all()
    ]
    if len(np.atleast_1d(stream.retention_factor)) == 1:
        return ""
    if not known:
        return "Each solute with the same amount: the scenario gives none."
    return f"Each solute by its {' and '.join(known)} in the scenario."


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
