"""``tailrace verify``: two independent solvers on one scenario, and where they differ."""

from pathlib import Path

import click

from tailrace.cli.numerics import accuracy_option

DISAGREE = 1
"""Exit code where the solvers differ by more than the error estimates foresee."""


@click.command()
@click.argument("scenario", type=click.Path(path_type=Path))
@accuracy_option
@click.pass_context
def verify(context: click.Context, scenario: Path, accuracy: float | None) -> None:
    """Compute the tubes of SCENARIO by finite differences and by a spectral solver, and compare.

    Says for each part how far the two bands behind it are apart and by how much the variances
    added differ, and for each recorded metric the difference beside the sum of the two error
    estimates. Exit code 1 where a difference is larger than that.
    """
    from tailrace.journey.verification import verify as compare
    from tailrace.report.text import check_text
    from tailrace.scenario.scenario import Scenario

    loaded = Scenario.load(scenario)
    comparison = compare(loaded.itinerary().computed(accuracy=accuracy))
    click.echo(check_text(comparison, loaded.title))
    context.exit(0 if comparison.agree else DISAGREE)
