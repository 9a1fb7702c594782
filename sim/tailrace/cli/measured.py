"""What the commands have in common that hold a scenario against its measured signals."""

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from tailrace.cli.studying import Content, drawn, own_options, print_json, report_written, studying
from tailrace.display import Handed

if TYPE_CHECKING:
    from tailrace.records.provenance import Provenance
    from tailrace.report.measured.section import Telling
    from tailrace.studies.runner import Plan, Runner

RECORD = "record.h5"
out_option = click.option(
    "--out",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Write record.h5, report.html and pictures to this folder.",
)


def carried_out(
    planned: "Plan",
    answer: "Callable[[Any, Runner], Handed]",
    out: Path | None,
    as_json: bool,
    more: Callable[[Any], Mapping[Path, Content]] | None = None,
    steps: str = "measurements",
) -> Any:
    """Make a planned study, print it and write it; ``more``: further files."""
    from tailrace.records.kinds import kind_named
    from tailrace.records.provenance import provenance_of
    from tailrace.report.tellers import told_by

    file = None if out is None else out / RECORD
    with studying(planned, file, steps=steps) as study:
        found = answer(planned, study.runner)
    told, origin = told_by(kind_named(found)), provenance_of(planned.scenario, own_options())
    if as_json:
        print_json(told.as_json(found, origin))
    else:
        click.echo(told.text_of(found))
    if out is not None:
        files = written(out, told, found, origin) | dict(more(found) if more else {})
        report_written(study.write(out / RECORD, files))
    return found


def written(out: Path, told: "Telling", study: Any, origin: "Provenance") -> dict[Path, Content]:
    """Record, pictures and page of a study, in a folder."""
    from tailrace.records.record import tree_of
    from tailrace.records.store import write_bytes, write_record

    record = tree_of(study, origin)
    files: dict[Path, Content] = {out / RECORD: lambda path: write_record(path, record)}
    files |= drawn(out, lambda: told.pictures_of(study))
    return files | {out / "report.html": lambda path: write_bytes(path, told.page(record).encode())}
