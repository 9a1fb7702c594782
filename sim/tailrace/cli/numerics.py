"""The options that say how a journey is computed, in place of the scenario's own ``[numerics]``."""

from typing import Any

import click

from tailrace.signals.resolution import DEFAULT_ACCURACY, SOLVERS


class _Number(click.FloatRange):
    """A range that ``nan`` is not in, though no comparison says so."""

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        number: float = super().convert(value, param, ctx)
        if number != number:
            self.fail(f"{value!r} is no number.", param, ctx)
        return number


solver_option = click.option(
    "--solver", type=click.Choice(SOLVERS), help="How a band goes through tubes."
)
accuracy_option = click.option(
    "--accuracy",
    type=_Number(1e-6, 0.1),
    help=f"Relative error asked of the signal behind a tube; {DEFAULT_ACCURACY:g} without it.",
)
