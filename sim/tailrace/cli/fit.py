"""``tailrace fit``: fields of a scenario fitted to its measured signals."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from tailrace.cli.measured import carried_out, out_option
from tailrace.cli.studying import Content, data_files, engine_option, json_option, replace_option

if TYPE_CHECKING:
    from tailrace.scenario.scenario import Scenario
    from tailrace.studies.measured.result import Fitted


@click.command()
@click.argument("scenario", type=click.Path(path_type=Path))
@click.argument("more", nargs=-1, metavar="[FIELD]...")
@click.option(
    "--free",
    multiple=True,
    required=True,
    metavar="FIELD",
    help="To be fitted; further ones after it.",
)
@out_option
@engine_option
@replace_option
@json_option
def fit(
    scenario: Path,
    more: tuple[str, ...],
    free: tuple[str, ...],
    out: Path | None,
    engine: str,
    as_json: bool,
) -> None:
    """Fit fields of SCENARIO to the signals of its [[measured]], all together.

    Least squares over whole curves, what [[uncertain]] says of a field counting as an observation.
    Says each value with its standard uncertainty and 95 % interval, which fields cannot be told
    apart, and whether what is left is more than noise: then the model is at fault. With --out also
    fitted.toml, the scenario with these values, and the data files that it names.

    \b
    tailrace fit instrument.toml --free "flow cell.volume"
    tailrace fit instrument.toml --free "tube to cell.bore" detector.time_constant --out f
    """
    from tailrace.scenario.scenario import Scenario
    from tailrace.studies.measured.fitting import answer, plan

    planned = plan(Scenario.load(scenario), (*free, *more))

    def files(study: "Fitted") -> dict[Path, Content]:
        assert out is not None
        return _fitted(out, study, planned.scenario)

    carried_out(planned, answer, out, as_json, files, marches=3, engine=engine)


def _fitted(out: Path, study: "Fitted", loaded: "Scenario") -> dict[Path, Content]:
    """The scenario that was found with its data files."""
    from tailrace.studies.measured.writing import fitted_text

    return data_files(out, loaded) | {out / "fitted.toml": fitted_text(loaded, study).encode()}
