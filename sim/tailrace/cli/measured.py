"""What the commands have in common that hold a scenario against its measured signals."""

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from tailrace.cli.studying import Content, own_options, print_json, report_written, studying
from tailrace.display import Handed

if TYPE_CHECKING:
    from tailrace.figures.style import Picture
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
    told: "tuple[Callable[[Any], str], Callable[[Any], Mapping[str, Picture]]]",
    out: Path | None,
    as_json: bool,
    more: Callable[[Any], Mapping[Path, Content]] | None = None,
    steps: str = "measurements",
) -> Any:
    """Make a planned study, print it and write it.

    ``told``: what makes its text and its pictures; ``more``: further files.
    """
    from tailrace.records.provenance import provenance_of
    from tailrace.records.record import tree_of
    from tailrace.records.store import write_record
    from tailrace.report.forms import forms

    text_of, pictures_of = told
    file = None if out is None else out / RECORD
    with studying(planned, file, steps=steps) as study:
        found = answer(planned, study.runner)
    if as_json:
        print_json(forms(found).numbers())
    else:
        click.echo(text_of(found))
    if file is not None:
        record = tree_of(found, provenance_of(planned.scenario, own_options()))
        files: dict[Path, Content] = {file: lambda path: write_record(path, record)}
        for name, picture in pictures_of(found).items():
            files |= {
                file.with_name(f"{name}.svg"): picture.svg(),
                file.with_name(f"{name}.png"): picture.png(),
            }
        page = _page(record)
        files |= {file.with_name("report.html"): page.encode(), **(more(found) if more else {})}
        report_written(study.write(file, files))
    return found


def _page(record: Any) -> str:
    """Of a record with the options it was made with."""
    from tailrace.report.measured import comparison, diagnosis, fit, protocol

    pages = {
        "tailrace comparison": comparison.page,
        "tailrace fit": fit.page,
        "tailrace diagnosis": diagnosis.page,
        "tailrace measurement plan": protocol.page,
    }
    return pages[str(record.attrs["kind"])](record)
