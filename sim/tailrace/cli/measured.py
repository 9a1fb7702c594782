"""What the commands have in common that hold a scenario against its measured signals."""

from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from tailrace.cli.studying import (
    PRODUCT,
    Content,
    drawn,
    own_options,
    print_json,
    report_written,
    studying,
)
from tailrace.display import Handed

if TYPE_CHECKING:
    from tailrace.records.provenance import Provenance
    from tailrace.report.measured.section import Telling
    from tailrace.scenario.scenario import Scenario
    from tailrace.studies.runner import Plan, Runner

RECORD, LONG, MINUTE = "record.h5", 20.0, 60.0
"""File of a study; s from which on it is told beforehand how long it takes."""
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
    marches: int = 1,
    engine: str = PRODUCT,
) -> Any:
    """Make a planned study, print it and write it.

    ``more``: further files; ``marches``: how many times what is no product is computed;
    ``engine``: as of ``Runner``.
    """
    from tailrace.records.kinds import kind_named
    from tailrace.records.provenance import provenance_of
    from tailrace.report.tellers import told_by

    file = None if out is None else out / RECORD
    if marches:
        _foretold(planned.scenario, marches, engine)
    with studying(
        planned, file, steps=steps, engine=None if engine == PRODUCT else engine
    ) as study:
        found = answer(planned, study.runner)
    teller, origin = told_by(kind_named(found)), provenance_of(planned.scenario, own_options())
    if as_json:
        print_json(teller.as_json(found, origin))
    else:
        click.echo(teller.text_of(found))
    if out is not None:
        files = written(out, teller, found, origin) | dict(more(found) if more else {})
        report_written(study.write(out / RECORD, files))
    return found


def _foretold(scenario: "Scenario", marches: int, engine: str) -> None:
    """Say how long it takes before it begins, where that is long."""
    from tailrace.studies.measured.bench import edged, marched_seconds

    if edged(scenario):
        click.echo(
            "an edge is left that no product of transfer functions resolves: every curve is "
            "marched, and a fit takes some hundred of each measurement",
            err=True,
        )
    seconds = marches * marched_seconds(scenario, engine)
    duration = f"{seconds:.0f} s" if seconds < 2 * MINUTE else f"{seconds / MINUTE:.0f} min"
    if seconds > LONG and engine != PRODUCT:
        click.echo(
            f"--engine {engine}: each measurement is marched, up to {marches} times: up to "
            f"{duration} of one processor",
            err=True,
        )
    elif seconds > LONG:
        click.echo(
            f"bent tubes are computed step by step, up to {marches} times for each measurement: up "
            f"to {duration} of one processor; as straight ones (bend_radius = "
            '"straight") they take no time',
            err=True,
        )


def written(out: Path, teller: "Telling", study: Any, origin: "Provenance") -> dict[Path, Content]:
    """Record, pictures and page of a study, in a folder."""
    from tailrace.records.record import tree_of
    from tailrace.records.store import write_bytes, write_record

    record = tree_of(study, origin)
    pictures = cache(lambda: teller.pictures_of(study))
    files: dict[Path, Content] = {out / RECORD: lambda path: write_record(path, record)}
    files |= drawn(out, pictures)
    report = out / "report.html"
    return files | {
        report: lambda path: write_bytes(path, teller.page(record, pictures()).encode())
    }
