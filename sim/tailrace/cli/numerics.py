"""The options that say how a journey is computed, in place of the scenario's own ``[numerics]``."""

import click

from tailrace.signals.resolution import DEFAULT_ACCURACY, SOLVERS

solver_option = click.option(
    "--solver", type=click.Choice(SOLVERS), help="How a band goes through tubes."
)
accuracy_option = click.option(
    "--accuracy",
    type=click.FloatRange(1e-6, 0.1),
    help=f"Relative error asked of the signal behind a tube; {DEFAULT_ACCURACY:g} without it.",
)
