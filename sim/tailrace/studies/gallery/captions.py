"""Captions that follow the values shown: one or several of them, wherever they lie."""

from collections.abc import Mapping, Sequence

import numpy as np

from tailrace.quantities.arrays import FloatArray
from tailrace.wording import say

OUTLET = (
    "Simulated signal at the outlet of a tube, in units of its residence time, for Fourier numbers "
    "X from {least:g} to {most:g}, and the Gaussian of long-tube theory (dashed). The theory holds "
    "from about X = 3 upward{below}."
)
ONE_OUTLET = (
    "Simulated signal at the outlet of a tube, in units of its residence time, for the Fourier "
    "number X = {least:g}, and the Gaussian of long-tube theory (dashed). The theory holds from "
    "about X = 3 upward{below}."
)
SHORT = (
    "; in shorter tubes the liquid on the axis arrives after half the residence time (at X = "
    "{least:g} the signal peaks at {crest:.2f}) and a long tail follows, of which a Gaussian knows "
    "nothing"
)
LONG = "; at X = {least:g} the signal peaks at {crest:.2f}, the Gaussian at 1"
TAILED = 1.0
"""Fourier number below which the tail of a tube is seen."""


def of_outlets(numbers: Sequence[float], crests: Sequence[float]) -> str:
    """``numbers``: Fourier numbers shown; ``crests``: times of the maxima, in residence times."""
    least, most = min(numbers), max(numbers)
    crest = crests[list(numbers).index(least)]
    below = say(SHORT if least < TAILED else LONG, least=least, crest=crest)
    return say(ONE_OUTLET if least == most else OUTLET, least=least, most=most, below=below)


NOISE = (
    "The peak of {solute}, which meets the detector with a standard deviation of {width:.2g} s, "
    "recorded with white noise and a time constant of {drawn}, and height, plates and signal over "
    "noise against the time constant. Of those shown, signal over noise is best at {best:.2g} s, "
    "{share:.2g} times the standard deviation, where {height:.0f} % of the height and {plates:.0f} "
    "% of the plates are kept{other}."
)
OTHER = (
    "; at {brief:.2g} s {plates_brief:.0f} % of the plates are kept, and {clear:.0f} % of the best "
    "signal over noise"
)


def of_noise(
    piece: Mapping[str, FloatArray], drawn: Sequence[int], solute: str, width: float
) -> str:
    """``piece``: the lines, by column; ``drawn``: places of the traces; ``width``: in s."""
    constants, kept, clear = (piece[name] for name in ("time_constant", "plates_kept", "clear"))
    best, other = int(np.argmax(clear)), ""
    if rest := [at for at in (*drawn[1:], drawn[0]) if at != best]:
        other = say(
            OTHER,
            brief=constants[rest[0]],
            plates_brief=100 * kept[rest[0]],
            clear=100 * clear[rest[0]],
        )
    return say(
        NOISE,
        solute=solute,
        width=width,
        drawn=", ".join(say("{constant:.2g} s", constant=constants[at]) for at in drawn),
        best=constants[best],
        share=constants[best] / width,
        height=100 * piece["height_kept"][best],
        plates=100 * kept[best],
        other=other,
    )


CELLS = (
    "The peak of {solute} at the inlet of the flow cell, {wide:.3g} µL wide at half height, and as "
    "cells of {least:.1g} to {most:.1g} times this volume show it, {mixed}. Plates kept, by the "
    "volume of the cell over this: {kept}."
)
ONE_CELL = (
    "The peak of {solute} at the inlet of the flow cell, {wide:.3g} µL wide at half height, and as "
    "a cell of {least:.1g} times this volume shows it, {mixed}. Plates kept, by the volume of the "
    "cell over this: {kept}."
)


def of_cells(shares: Sequence[float], **told: object) -> str:
    """``shares``: volumes over that of the peak; ``**told``: what else the caption names."""
    text = CELLS if len(shares) > 1 else ONE_CELL
    return say(text, least=min(shares), most=max(shares), **told)


RETENTION = (
    "Plates recorded, and their share of what the column alone gives, against the retention factor "
    "k, for columns of four formats at usual flows on the same instrument. Of the widest and "
    "longest column {wide:.0f} % are kept at k = {low:g} and {wide_late:.0f} % at k = {high:g}; of "
    "the smallest {small:.0f} % and {small_late:.0f} %, since early peaks of small columns are the "
    "narrowest."
)
ONE_RETENTION = (
    "Plates recorded, and their share of what the column alone gives, at a retention factor k of "
    "{low:g}, for columns of four formats at usual flows on the same instrument. Of the widest and "
    "longest column {wide:.0f} % are kept, of the smallest {small:.0f} %, whose peaks are the "
    "narrowest."
)


def of_retention(factors: Sequence[float], kept: FloatArray) -> str:
    """``kept``: (columns, factors) array, %, from the widest column to the smallest."""
    return say(
        RETENTION if len(factors) > 1 else ONE_RETENTION,
        low=factors[0],
        high=factors[-1],
        wide=kept[0, 0],
        wide_late=kept[0, -1],
        small=kept[-1, 0],
        small_late=kept[-1, -1],
    )


HEIGHTS = (
    "Length of the column over plates at half height, against the flow, for the column alone and "
    "as recorded on the instrument, for {solute} with a retention factor of {factor:g}. Of the "
    "flows shown, the column alone is best at {own_flow:.2g} mL/min with {own:.3g} µm; recorded, "
    "the best is {least:.3g} µm at {flow:.2g} mL/min, and at the highest flow the plate height is "
    "{fast:.1f} times the column's own."
)
ONE_HEIGHT = (
    "Length of the column over plates at half height, at {flow:.2g} mL/min, for the column alone "
    "and as recorded on the instrument, for {solute} with a retention factor of {factor:g}: "
    "{own:.3g} µm and {least:.3g} µm, {fast:.1f} times the column's own."
)


def of_heights(flows: FloatArray, **told: object) -> str:
    """``flows``: those shown; ``**told``: what the caption names."""
    return say(HEIGHTS if len(flows) > 1 else ONE_HEIGHT, **told)
