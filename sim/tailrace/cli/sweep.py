"""``tailrace sweep``: what becomes of the metrics when fields of a scenario are varied."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from tailrace.cli.studying import (
    Content,
    begun,
    checked_file,
    cluster_option,
    engine_option,
    json_option,
    own_options,
    print_json,
    replace_option,
    report_written,
    show,
    studying,
)
from tailrace.errors import AccuracyError, BudgetError
from tailrace.records.provenance import provenance_of

if TYPE_CHECKING:
    from tailrace.studies.sweeping import Sweep


@click.command()
@click.argument("scenario", type=click.Path(path_type=Path))
@click.option(
    "--vary",
    multiple=True,
    required=True,
    metavar="'FIELD = VALUES'",
    help="A field and the values that it takes; can be given several times.",
)
@click.option("--together", is_flag=True, help="Vary the fields in step, not each with each.")
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    metavar="FILE.h5",
    help="Write the result to this file, and maps of it beside it where two numbers are varied in "
    "100000 cases or fewer.",
)
@cluster_option
@replace_option
@engine_option
@json_option
def sweep(
    scenario: Path,
    vary: Sequence[str],
    together: bool,
    out: Path | None,
    cluster: str | None,
    engine: str,
    as_json: bool,
) -> None:
    """Travel SCENARIO once for every choice of values, and print what becomes of the peaks.

    \b
    FIELD   method.flow          method.eluent.water     injection.volume
            tube.length          "inlet tube".length     detector.time_constant
            cohumulone.retention_factor
            (a part or a solute by its name, in quotes where it has a point in it;
            path.NAME or solutes.NAME where the name is that of a table)
    VALUES  0.1, 0.3, 1 mL/min           a list; the last unit holds for bare numbers
            50 mm .. 1 m, 40 points      a range in equal steps
            0.1 .. 10 mL/min, 21 points, log      in equal ratios
            core-shell, fully porous     words, where the field takes words

    With --out a sweep that was stopped goes on where it was: what is done is kept in the folder
    FILE.h5.parts until the file is written.

    \b
    tailrace sweep tube.toml --vary "tube.length = 50 mm .. 1 m, 40 points" \\
        --vary "method.flow = 0.1, 0.3, 1 mL/min" --out tube.h5
    """
    from tailrace.report.sweep import as_json as sweep_json
    from tailrace.report.sweep import blocks
    from tailrace.studies.sweeping import MANY, answer, plan

    planned = plan(begun(scenario), vary, together)
    if as_json and len(planned.itineraries) > MANY:
        raise BudgetError(
            f"--json: expected at most {MANY} cases, found {len(planned.itineraries)}; write them "
            "with --out, and read them with xarray"
        )
    file = None if out is None else checked_file(out, ".h5")
    with studying(planned, file, cluster, engine=engine) as study:
        answered = answer(planned, study.runner)
    if as_json:
        print_json(sweep_json(answered))
    else:
        show(blocks(answered))
    if file is not None:
        report_written(study.write(file, _files(file, answered)))
    _report_failures(answered)


def _files(out: Path, answered: "Sweep") -> dict[Path, Content]:
    """The record, and maps of it where two numbers are varied."""
    import xarray

    from tailrace.records.record import with_files
    from tailrace.records.store import write_record
    from tailrace.records.sweep_record import as_dataset, stored_part

    source = provenance_of(answered.plan.scenario, own_options())
    dataset = as_dataset(answered, source)
    record = with_files(xarray.DataTree(dataset), source)
    more = stored_part(answered)
    files: dict[Path, Content] = {out: lambda path: write_record(path, record, more)}
    if answered.mapped:
        from tailrace.figures.sweeps import draw_maps

        picture = draw_maps(dataset)
        files |= {out.with_suffix(".svg"): picture.svg(), out.with_suffix(".png"): picture.png()}
    return files


def _report_failures(answered: "Sweep") -> None:
    """Exit code 3 where a case is missing; the others have been printed and written."""
    failed = [case for case, done in enumerate(answered.metrics["computed"]) if not done]
    if failed:
        raise AccuracyError(
            f"{len(failed)} of {len(answered.plan.itineraries)} cases could not be computed; the "
            f"first, at {answered.plan.where(failed[0])}: {answered.metrics['warnings'][failed[0]]}"
        )
