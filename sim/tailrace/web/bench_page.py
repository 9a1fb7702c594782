"""The bench as one HTML file: a scenario to begin with, the others that come with tailrace."""

import hashlib
from pathlib import Path
from typing import Any

from tailrace.scenario.examples import examples
from tailrace.web.assemble import as_json, assembled
from tailrace.web.facts import facts

ROOM = Path(__file__).parent
EMPTY_TITLE = "An empty instrument: injection, column, detector"
ASSUMED = "# assumed by the bench: correct or confirm it"
"""As ``bench/toml_text.js`` marks what nobody has given."""
EMPTY = f"""\
title = "{EMPTY_TITLE}"

# Nothing is in the path but a column: add what your instrument has. Every size is a typical one.
[method]
flow        = "0.4 mL/min"  {ASSUMED}
temperature = "30 degC"  {ASSUMED}
eluent      = {{ water = 0.5, acetonitrile = 0.5 }}

[[solutes]]
name             = "solute"
retention_factor = 3  {ASSUMED}
molar_volume     = "200 mL/mol"  {ASSUMED}

[injection]
shape  = "plug"
volume = "1 uL"  {ASSUMED}

[[path]]
name              = "column"
part              = "column"
bore              = "2.1 mm"  {ASSUMED}
length            = "100 mm"  {ASSUMED}
particle_diameter = "2.7 um"  {ASSUMED}
particle          = "core-shell"

[detector]
time_constant = "0.05 s"  {ASSUMED}
interval      = "50 ms"  {ASSUMED}
"""


def bench_page(text: str, name: str) -> str:
    """The page with the scenario of this text open in it, as a file called ``name``.

    The same input gives the same bytes. It holds no address and fetches nothing.
    """
    style = "".join(
        (ROOM / file).read_text("utf-8")
        for file in ("vendor/uplot.css", "shown/lines.css", "bench/page.css", "bench/paper.css")
    )
    return assembled(
        ROOM / "bench" / "page.js",
        title="tailrace bench",
        body=(ROOM / "bench" / "page.html").read_text("utf-8"),
        style=style,
        packed={"facts": facts(), "start": _start(text, name)},
    )


def _start(text: str, name: str) -> dict[str, Any]:
    """What the page opens with."""
    return {
        "text": text,
        "name": name,
        "tables": hashlib.sha256(as_json(facts()).encode()).hexdigest(),
        "licences": (ROOM / "vendor" / "LICENSES.txt").read_text("utf-8"),
        "examples": [
            {"name": "instrument.toml", "title": EMPTY_TITLE, "text": EMPTY},
            *(
                {
                    "name": one.path.name,
                    "title": one.title,
                    "text": one.path.read_text(encoding="utf-8"),
                }
                for one in examples().values()
                if not one.files
            ),
        ],
    }
