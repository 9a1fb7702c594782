"""``tailrace report`` and ``page``: a record as one HTML page, and a page with sliders."""

from collections.abc import Sequence
from pathlib import Path

import click

from tailrace.cli.studying import checked_file, not_writable, progress_bar, write_files
from tailrace.errors import AccuracyError
from tailrace.records.provenance import provenance_of


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
    from tailrace.report.page import page_of

    page = page_of(record)
    out = record.with_suffix(".html") if out is None else out
    try:
        write_bytes(out, page.encode())
    except OSError as problem:
        raise not_writable(out, problem) from problem
    click.echo(f"wrote {out}", err=True)


@click.command()
@click.argument("scenario", type=click.Path(path_type=Path))
@click.option(
    "--slide",
    multiple=True,
    required=True,
    metavar="'FIELD = VALUES'",
    help="A field and the values at which its slider stops; one to three times.",
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
def page(scenario: Path, slide: Sequence[str], solutes: Sequence[str], out: Path | None) -> None:
    """Travel SCENARIO at every position of some sliders and write a page to play with.

    The page needs nothing but itself: no program, no network. FIELD and VALUES are those of
    `tailrace sweep`. Every position is computed now, so the sliders stop only at these values.

    \b
    tailrace page tube.toml --slide "tube.length = 50 mm .. 500 mm, 8 points" \\
        --slide "method.flow = 0.2, 0.5, 1 mL/min" --out tube.html
    """
    from tailrace.report.sliders import sliders_page
    from tailrace.scenario.scenario import Scenario
    from tailrace.studies.runner import Runner
    from tailrace.studies.sliders import sliders

    out = checked_file(out or Path(f"{scenario.stem}.html"), ".html", ".htm")
    loaded = Scenario.load(scenario)
    with progress_bar("positions") as progress:
        study = sliders(loaded, slide, solutes, Runner(progress=progress))
    content = sliders_page(study, provenance_of(loaded)).encode()
    write_files(out, {out: content})
    count = len(study.positions)
    click.echo(f"wrote {out}: {count} positions, {len(content) / 1e6:.2f} MB")
    failed = [position for position in range(count) if not study.computed(position)]
    if failed:
        raise AccuracyError(
            f"{len(failed)} of {count} positions could not be computed and are empty; the first, "
            f"at {study.sweep.plan.where(failed[0])}: {study.sweep.metrics['warnings'][failed[0]]}"
        )
