"""``tailrace page``: a scenario under sliders, as one HTML file to play with."""

from pathlib import Path

import click

from tailrace.cli.progress import progress_bar
from tailrace.cli.writing import no_file
from tailrace.errors import AccuracyError, TailraceError
from tailrace.records.provenance import provenance_of


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
def page(scenario, slide, solutes, out):
    """Travel SCENARIO at every position of some sliders and write a page to play with.

    The page needs nothing but itself: no program, no network. FIELD and VALUES are those of
    `tailrace sweep`. Every position is computed now, so the sliders stop only at these values.

    \b
    tailrace page tube.toml --slide "tube.length = 50 mm .. 500 mm, 8 points" \\
        --slide "method.flow = 0.2, 0.5, 1 mL/min" --out tube.html
    """
    from tailrace.records.atomic import write_bytes
    from tailrace.report.sliders import sliders_page
    from tailrace.scenario.scenario import Scenario
    from tailrace.studies.sliders import sliders

    out = Path(f"{scenario.stem}.html") if out is None else out
    _check(out)
    loaded = Scenario.load(scenario)
    with progress_bar("positions") as progress:
        study = sliders(loaded, slide, solutes, progress)
    content = sliders_page(study, provenance_of(loaded)).encode()
    try:
        write_bytes(out, content)
    except OSError as problem:
        raise no_file(out, problem) from problem
    count = len(study.positions)
    click.echo(f"wrote {out}: {count} positions, {len(content) / 1e6:.2f} MB")
    failed = [position for position in range(count) if not study.computed(position)]
    if failed:
        raise AccuracyError(
            f"{len(failed)} of {count} positions could not be computed and are empty; the first, "
            f"at {study.sweep.plan.where(failed[0])}: {study.sweep.figures['warnings'][failed[0]]}"
        )


def _check(out):
    """Refuse a bad name before anything is computed."""
    if out.suffix.lower() not in (".html", ".htm"):
        raise TailraceError(
            f"--out {out}: expected a file name that ends in .html, found another; add .html"
        )
    if out.is_dir():
        raise TailraceError(f"--out {out}: expected a file, found a folder; name a file in it")
    if not out.parent.is_dir():
        raise TailraceError(
            f"--out {out}: expected a file in a folder that is there, found no {out.parent}; "
            "make the folder or name another"
        )
