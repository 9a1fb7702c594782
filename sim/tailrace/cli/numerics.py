"""The options that say how a journey is computed, in place of the scenario's own ``[numerics]``."""

from dataclasses import replace

import click

from tailrace.signals.resolution import DEFAULT_ACCURACY, SOLVERS, Resolution

solver_option = click.option(
    "--solver", type=click.Choice(SOLVERS), help="How a band goes through tubes."
)
accuracy_option = click.option(
    "--accuracy",
    type=click.FloatRange(1e-6, 0.1),
    help=f"Relative error asked of the signal behind a tube; {DEFAULT_ACCURACY:g} without it.",
)


def computed(itinerary, solver=None, accuracy=None):
    """Put what the command line asked for in place of the scenario's numerics.

    Parameters
    ----------
    itinerary : Itinerary
    solver : str, optional
    accuracy : float, 1, optional

    Returns
    -------
    Itinerary
    """
    resolution = itinerary.resolution
    if accuracy is not None:
        resolution = Resolution.for_accuracy(accuracy, resolution.solver)
    if solver is not None:
        resolution = replace(resolution, solver=solver)
    return replace(itinerary, resolution=resolution)
