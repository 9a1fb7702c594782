"""The page with sliders: one HTML file that computes nothing, fetches nothing and stands alone."""

import base64
import hashlib
import json
import shlex
from importlib import resources

import numpy as np
from jinja2 import Environment, StrictUndefined, Template
from markupsafe import Markup

from tailrace.measures.registry import CAPACITY, PLATES
from tailrace.records.provenance import Provenance
from tailrace.report.numbers import significant
from tailrace.report.sliders_data import sliders_data
from tailrace.studies.sliders import MOST_BYTES, Sliders, too_many


def sliders_page(study: Sliders, provenance: Provenance) -> str:
    """Every position of the sliders as one HTML file.

    The same input gives the same text. It holds no address; its policy lets this very script and
    style run and forbids whoever opens it to fetch anything. Raises BudgetError for more than
    MOST_BYTES bytes.
    """
    data = sliders_data(study)
    script, style = _file("sliders.js"), _file("sliders.css")
    page = _template().render(
        provenance=provenance,
        axes=data["axes"],
        solutes=data["solutes"],
        parts=data["parts"],
        rows=data["rows"],
        command=_command(study),
        count=len(data["cases"]),
        worst=_worst_error(study),
        has_column=any(part.separates for part in study.sweep.parts),
        data=Markup(_harmless(json.dumps(data, separators=(",", ":"), allow_nan=False))),
        script=Markup(script),
        style=Markup(style),
        script_hash=_hash(script),
        style_hash=_hash(style),
    )
    size, found = len(page.encode()), len(data["cases"])
    if size > MOST_BYTES:
        raise too_many(int(found * MOST_BYTES / size), found)
    return page


def _command(study: Sliders) -> str:
    """What makes this page again."""
    solutes = study.solutes if len(study.shown) < len(study.sweep.solutes) else ()
    options = [("--slide", text) for text in study.asked] + [("--solute", name) for name in solutes]
    return shlex.join(["tailrace", "page", "SCENARIO", *(one for pair in options for one in pair)])


def _worst_error(study: Sliders) -> str:
    """Largest discretisation error of the leading metric, in per cent, as text."""
    metrics = study.sweep.metrics
    name = CAPACITY if f"recorded/{CAPACITY}" in metrics else PLATES
    lanes = list(study.shown)
    share = metrics[f"numerical_error/{name}"] / metrics[f"recorded/{name}"]
    share = share[:, lanes]
    known = share[np.isfinite(share)]
    return significant(100 * float(known.max()), 2) if known.size else ""


def _harmless(text: str) -> str:
    """JSON that cannot end the element that it stands in."""
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def _hash(text: str) -> str:
    """Of an element's text, as a policy names it."""
    digest = hashlib.sha256(text.encode()).digest()
    return f"sha256-{base64.b64encode(digest).decode()}"


def _file(name: str) -> str:
    return resources.files("tailrace.report").joinpath(name).read_text("utf-8")


def _template() -> Template:
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    return environment.from_string(_file("sliders.html.j2"))
