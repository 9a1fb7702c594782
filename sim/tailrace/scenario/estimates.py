"""What an estimated diffusivity means for the result."""

from dataclasses import replace

import numpy as np

from tailrace.eluent.diffusion import TYPICAL_ERROR, TYPICAL_ERROR_WORDS
from tailrace.parts import KINDS


def diffusion_remark(scenario) -> str | None:
    """One sentence on estimated diffusivities and the variance of the tubes.

    Parameters
    ----------
    scenario : Scenario

    Returns
    -------
    str or None
        None where all diffusivities are given.
    """
    solutes = scenario.document.solutes
    estimated = np.array([one.diffusivity is None for one in solutes])
    if not estimated.any():
        return None
    names = "all solutes" if len(solutes) > 1 else solutes[0].name
    if not estimated.all():
        names = ", ".join(
            one.name for one, guessed in zip(solutes, estimated, strict=True) if guessed
        )
    said = f"Diffusivity of {names}: an estimate, good to {TYPICAL_ERROR_WORDS}"
    response = tube_response(scenario.itinerary().passages)
    if response is None:
        return said + "."
    strongest = np.max(np.abs(response[estimated]))
    return (
        f"{said}; {100 * TYPICAL_ERROR:.0f} % less of it gives the tubes about "
        f"{100 * TYPICAL_ERROR * strongest:.2g} % more variance (closed form)."
    )


def tube_response(passages):
    """Relative change of the tubes' variance for a relative change of the diffusivity.

    Parameters
    ----------
    passages : tuple of (part, Stream)

    Returns
    -------
    (lanes,) array, 1, or None
        d ln(variance) / d ln(D) from the tubes' closed forms, between 0 for tubes too short for
        diffusion to matter and -1 for long ones. None where the path has no tubes.
    """
    step = 0.01
    tubes = [(part, stream) for part, stream in passages if part.laminar]
    if not tubes:
        return None
    less, more = (
        sum(
            KINDS[part.kind]
            .theory(part, replace(stream, diffusivity=stream.diffusivity * factor))
            .variance
            for part, stream in tubes
        )
        for factor in (1 - step, 1 + step)
    )
    return (more - less) / (more + less) / step
