"""``tailrace adjust``: which conditions of a method may be adjusted, and what then follows."""

from pathlib import Path

import click

from tailrace.cli.studying import (
    checked_file,
    json_option,
    print_json,
    report_written,
    show,
    write_files,
)

OUTSIDE = 1
"""Exit code where something lies outside of what is allowed, or a criterion is not kept."""


@click.command()
@click.argument("scenario", type=click.Path(path_type=Path))
@click.option(
    "--to",
    "asked",
    multiple=True,
    required=True,
    metavar="'FIELD = VALUE'",
    help="What is adjusted: sizes or particle of the column, method, injected volume, programme.",
)
@click.option(
    "--dwell",
    default="",
    metavar="VOLUME",
    help="Dwell volume of the instrument that the method was made for; by default the scenario's.",
)
@click.option(
    "--write",
    type=click.Path(path_type=Path),
    metavar="FILE.toml",
    help="Write the adjusted method as a scenario of its own.",
)
@json_option
@click.pass_context
def adjust(
    context: click.Context,
    /,
    scenario: Path,
    asked: tuple[str, ...],
    dwell: str,
    write: Path | None,
    as_json: bool,
) -> None:
    """Adjust the method of SCENARIO within what pharmacopoeias allow.

    Flow, injected volume and programme follow the column (USP <621>, Ph. Eur. 2.2.46); both methods
    are simulated on the instrument as it is, so that its dwell volume and what it takes of a
    smaller column are seen, and held against [[accept]]. Exit code 1 where something lies outside,
    or a criterion is not kept.

    \b
    tailrace adjust method.toml --to "column.length = 100 mm" --to "column.bore = 2.1 mm" \\
        --to "column.particle_diameter = 3 um" --write adjusted.toml
    """
    from tailrace.identity import own_version
    from tailrace.report.adjusting import as_json as plain
    from tailrace.report.adjusting import blocks
    from tailrace.scenario.scenario import Scenario
    from tailrace.studies.adjusting import adjust as adjusted

    file = None if write is None else checked_file(write, ".toml")
    found = adjusted(Scenario.load(scenario), asked, dwell)
    if as_json:
        print_json(plain(found, own_version()))
    else:
        show(blocks(found))
    if file is not None:
        report_written(write_files(file, {file: found.after.text.encode()}, "--write"))
    context.exit(0 if found.inside else OUTSIDE)
