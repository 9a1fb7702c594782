"""``tailrace diagnose``: which part is at fault, from measured signals."""

from pathlib import Path

import click

from tailrace.cli.measured import carried_out, out_option
from tailrace.cli.studying import engine_option, json_option, replace_option


@click.command()
@click.argument("scenario", type=click.Path(path_type=Path))
@out_option
@engine_option
@replace_option
@json_option
def diagnose(scenario: Path, out: Path | None, engine: str, as_json: bool) -> None:
    """Say which part of SCENARIO is at fault, from the signals of its [[measured]].

    One fault at a time (each joint's gap, each bore, the cell, the response, bends, the column's
    plates, the injection), and pairs where one does not do, each fitted to all signals and weighed
    by its evidence. Says plainly what these signals cannot tell apart, and which next measurement
    would do so best for the time that it takes. State in [[uncertain]] what is not exactly known.

    \b
    tailrace diagnose instrument.toml
    tailrace diagnose instrument.toml --out diagnosis
    """
    from tailrace.scenario.scenario import Scenario
    from tailrace.studies.measured.diagnosing import answer, plan

    planned = plan(Scenario.load(scenario))
    carried_out(planned, answer, out, as_json, steps="hypotheses", engine=engine)
