"""``tailrace fit``: fields of a scenario fitted to its measured signals."""

from pathlib import Path
from typing import TYPE_CHECKING

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
    from tailrace.scenario.scenario import Scenario
    from tailrace.studies.measured.result import Fitted


@click.command()
@click.argument("scenario", type=click.Path(path_type=Path))
@click.option(
    "--free", multiple=True, required=True, metavar="FIELD", help="To be fitted; several times."
)
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Write record.h5, report.html, pictures, and fitted.toml with the data files it names.",
)
@json_option
def fit(scenario: Path, free: tuple[str, ...], out: Path | None, as_json: bool) -> None:
    """Fit fields of SCENARIO to the signals of its [[measured]], all together.

    Least squares over whole curves, what [[uncertain]] says of a field counting as an observation.
    Says each value with its standard uncertainty and 95 % interval, which fields cannot be told
    apart, and whether what is left is more than noise: then the model is at fault.

    \b
    tailrace fit instrument.toml --free "flow cell.volume"
    tailrace fit instrument.toml --free "tube to cell.bore" --free detector.time_constant --out f
    """
    if out is not None:
        make_folder(out)
    import tailrace
    from tailrace.report.measured.fit import as_json as numbers
    from tailrace.report.measured.fit import text_of
    from tailrace.scenario.scenario import Scenario

    loaded = Scenario.load(scenario)
    study = tailrace.fit(loaded, free)
    written = [] if out is None else write_files(out, _files(out, study, loaded))
    if as_json:
        print_json(numbers(study, provenance_of(loaded)))
    else:
        click.echo(text_of(study))
    report_written(written)


def _files(out: Path, study: "Fitted", loaded: "Scenario") -> dict[Path, Content]:
    """The record, the page, pictures, and the scenario that was found with its data files."""
    from tailrace.records.record import tree_of
    from tailrace.records.store import write_record
    from tailrace.report.measured.fit import page, pictures_of
    from tailrace.studies.measured.writing import fitted_text

    record = tree_of(study, provenance_of(loaded, own_options()))
    files: dict[Path, Content] = {out / "record.h5": lambda path: write_record(path, record)}
    for name, picture in pictures_of(study).items():
        files |= {out / file: made for file, made in picture.files(name).items()}
    files |= {out / "report.html": page(record).encode()}
    for name, content in loaded.files.contents().items():
        if out.resolve() in (out / name).resolve().parents:
            make_folder((out / name).parent)
            files[out / name] = content
    return files | {out / "fitted.toml": fitted_text(loaded, study).encode()}
