"""``tailrace compare``: measured signals against their simulation."""

from pathlib import Path

import click

from tailrace.cli.measured import carried_out, out_option
from tailrace.cli.studying import begun, engine_option, json_option, replace_option

DIFFER = 1
"""Exit code where they differ and --require was given."""


@click.command()
@click.argument("scenario", type=click.Path(path_type=Path))
@click.option("--require", is_flag=True, help="Exit code 1 where a metric differs.")
@click.option("--seed", default=15, show_default=True, help="Of the noise that is drawn.")
@out_option
@engine_option
@replace_option
@json_option
@click.pass_context
def compare(
    context: click.Context,
    scenario: Path,
    require: bool,
    seed: int,
    out: Path | None,
    engine: str,
    as_json: bool,
) -> None:
    """Hold the signals of [[measured]] in SCENARIO against their simulation.

    The simulated signal gets the points, the noise, the baseline and the window of the measured
    one. Says of each metric: measured, simulated, both with standard uncertainty, the difference
    over its uncertainty, and whether they agree, differ, or it cannot be said.
    """
    from tailrace.studies.measured.comparing import answer, plan

    planned = plan(begun(scenario), seed)
    study = carried_out(planned, answer, out, as_json, engine=engine)
    context.exit(DIFFER if require and not study.agrees else 0)
