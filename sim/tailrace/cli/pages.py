"""``tailrace report`` and ``page``: a record as one HTML page, and a page with sliders."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from tailrace.cli.studying import checked_file, not_writable, progress_bar, write_files
from tailrace.errors import AccuracyError

if TYPE_CHECKING:
    from tailrace.studies.free_sliders import FreeSliders
    from tailrace.studies.sliders import Sliders


@click.command()
@click.argument("record", type=click.Path(path_type=Path))
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    metavar="FILE.html",
    help="Write the page to this file; without it beside the record, under the record's name.",
)
def report(record: Path, out: Path | None) -> None:
    """Make the report of RECORD, a file of a command with --out (`sweep` has none).

    One HTML file: question, inputs, method, results with their uncertainty, figures, numerical
    evidence, versions, hashes, cautions, and room for signatures. It holds no script and fetches
    nothing, and can be printed. Nothing is computed again.
    """
    from tailrace.records.store import write_bytes
    from tailrace.report.tellers import page_of

    page = page_of(record)
    out = record.with_suffix(".html") if out is None else out
    try:
        write_bytes(out, page.encode())
    except OSError as problem:
        raise not_writable(out, problem) from problem
    click.echo(f"wrote {out}", err=True)


@click.command()
@click.argument(
    "scenarios", metavar="SCENARIO...", nargs=-1, required=True, type=click.Path(path_type=Path)
)
@click.option(
    "--slide",
    multiple=True,
    metavar="'FIELD = VALUES'",
    help="A field and the values that its slider spans; can be given several times.",
)
@click.option(
    "--solute",
    "solutes",
    multiple=True,
    metavar="NAME",
    help="Show this solute only; can be given several times.",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    metavar="FILE.html",
    help="Write the page to this file; otherwise to the scenario's name, in this folder.",
)
def page(
    scenarios: Sequence[Path], slide: Sequence[str], solutes: Sequence[str], out: Path | None
) -> None:
    """Write a page on which fields of SCENARIO are moved by sliders, to play with.

    The page needs nothing but itself: no program, no network. FIELD and VALUES are those of
    `tailrace sweep`. The page computes the path itself, at any value within and beyond these; some
    positions are simulated now, and the page states how far the two differ. Where it cannot compute
    (a gradient, an overloaded column, bent tubes), every position is simulated now, and the sliders
    stop only there.

    Without --slide the scenario's own [page] says which sliders, with which words, and with the
    sheets of which lesson: what to predict, tables to fill in, answers. Several scenarios make one
    page with all of them.

    \b
    tailrace page tube.toml --slide "tube.length = 50 mm .. 500 mm, 8 points" \\
        --slide "method.flow = 0.2, 0.5, 1 mL/min" --out tube.html
    """
    from tailrace.studies.free_sliders import FreeSliders
    from tailrace.studies.runner import Runner
    from tailrace.web.sliding import page_with
    from tailrace.web.stations import stations_of

    out = checked_file(out or Path(f"{scenarios[0].stem}.html"), ".html", ".htm")
    with progress_bar("positions") as progress:
        stations = stations_of(scenarios, slide, solutes, Runner(progress=progress))
    content = page_with(stations).encode()
    write_files(out, {out: content})
    studies = [one.study for one in stations]
    count = sum(len(one.batch.itineraries) for one in studies)
    free = all(isinstance(one, FreeSliders) for one in studies)
    how = "positions simulated beside the page" if free else "positions"
    click.echo(f"wrote {out}: {count} {how}, {len(content) / 1e6:.2f} MB")
    for study in studies:
        _failed(study)


def _failed(study: "FreeSliders | Sliders") -> None:
    batch, metrics = study.batch, study.metrics
    count = len(batch.itineraries)
    failed = [position for position in range(count) if not metrics["computed"][position]]
    if failed:
        raise AccuracyError(
            f"{len(failed)} of {count} positions could not be computed and are empty; the first, "
            f"at {batch.where(failed[0])}: {metrics['warnings'][failed[0]]}"
        )
