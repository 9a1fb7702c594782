"""``tailrace compare``: measured signals against their simulation."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from tailrace.cli.studying import (
    Content,
    json_option,
    make_folder,
    own_options,
    print_json,
    report_written,
    write_files,
)
from tailrace.records.provenance import provenance_of

if TYPE_CHECKING:
    from tailrace.studies.measured.result import Compared

DIFFER = 1
"""Exit code where they differ and --require was given."""


@click.command()
@click.argument("scenario", type=click.Path(path_type=Path))
@click.option("--require", is_flag=True, help="Exit code 1 where a metric differs.")
@click.option("--seed", default=15, show_default=True, help="Of the noise that is drawn.")
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Write record.h5, report.html and a picture of each measurement to this folder.",
)
@json_option
@click.pass_context
def compare(
    context: click.Context,
    scenario: Path,
    require: bool,
    seed: int,
    out: Path | None,
    as_json: bool,
) -> None:
    """Hold the signals of [[measured]] in SCENARIO against their simulation.

    The simulated signal gets the points, the noise, the baseline and the window of the measured
    one. Says of each metric: measured, simulated, both with standard uncertainty, the difference
    over its uncertainty, and whether they agree, differ, or it cannot be said.
    """
    if out is not None:
        make_folder(out)
    import tailrace
    from tailrace.report.measured.comparison import as_json as numbers
    from tailrace.report.measured.comparison import text_of
    from tailrace.scenario.scenario import Scenario

    loaded = Scenario.load(scenario)
    study = tailrace.compare(loaded, seed=seed)
    written = [] if out is None else write_files(out, files_of(out, study, loaded))
    if as_json:
        print_json(numbers(study, provenance_of(loaded)))
    else:
        click.echo(text_of(study))
    report_written(written)
    context.exit(DIFFER if require and not study.agrees else 0)


def files_of(out: Path, study: "Compared", loaded: Any) -> dict[Path, Content]:
    """The record, the pictures and the page."""
    from tailrace.records.record import tree_of
    from tailrace.records.store import write_record
    from tailrace.report.measured.comparison import page, pictures_of

    record = tree_of(study, provenance_of(loaded, own_options()))
    files: dict[Path, Content] = {out / "record.h5": lambda path: write_record(path, record)}
    for name, picture in pictures_of(study).items():
        files |= {out / file: made for file, made in picture.files(name).items()}
    return files | {out / "report.html": page(record).encode()}
