"""``tailrace protocol``: what to measure at an instrument, before anything is measured."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from tailrace.cli.measured import carried_out, out_option
from tailrace.cli.studying import Content, engine_option, json_option, replace_option

if TYPE_CHECKING:
    from tailrace.studies.measured.protocol import Protocol


@click.command()
@click.argument("scenario", type=click.Path(path_type=Path))
@click.option(
    "--signal-to-noise", default=500.0, show_default=True, help="Height over noise, assumed."
)
@out_option
@engine_option
@replace_option
@json_option
def protocol(
    scenario: Path, signal_to_noise: float, out: Path | None, engine: str, as_json: bool
) -> None:
    """Plan the measurements that tell what the instrument of SCENARIO does to a peak.

    A union in place of the column, three flows, another response, tubes bypassed, repeats: what
    each signal should show, with bands from [[uncertain]], and which faults all of them together
    would and would not tell apart. With --out also sheet.txt, to fill in, and measured.toml: the
    scenario with a row of [[measured]] for each, for compare, fit and diagnose once the files lie
    beside it.
    """
    from tailrace.report.measured.protocol import sheet_of
    from tailrace.scenario.scenario import Scenario
    from tailrace.studies.measured.protocol import answer, plan

    planned = plan(Scenario.load(scenario), signal_to_noise)

    def more(study: "Protocol") -> dict[Path, Content]:
        assert out is not None
        return {
            out / "sheet.txt": sheet_of(study).encode(),
            out / "measured.toml": study.text.encode(),
        }

    carried_out(planned, answer, out, as_json, more, marches=0, engine=engine)
