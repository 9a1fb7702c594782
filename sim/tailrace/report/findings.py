"""The sentences of a run: pressure, cautions, and what to conclude."""

import math
from collections.abc import Sequence

from tailrace.journey.result import PartResult, Pressure, Result
from tailrace.records.losses import kept_fraction, shares_outside_column, worst_first
from tailrace.report.focusing import focusing
from tailrace.report.numbers import percent, significant

BAR = 1e5
"""Pa"""

ENOUGH = 0.8
"""Share of the loss that the named parts explain, if three of them can."""


def pressure_line(pressure: Pressure, parts: Sequence[PartResult] = ()) -> str:
    """On the pressure (Pressure, in Pa), and on parts (PartResult) behind the recording; str."""
    names = [part.name for part in parts if part.behind]
    line = _pressure(pressure)
    if names:
        line += (
            f" Behind the cell in which the signal is recorded: {', '.join(names)}; what lies "
            "there adds nothing to the recorded peak, only pressure."
        )
    return line


def _pressure(pressure: Pressure) -> str:
    if not math.isfinite(pressure.total):
        return "Pressure: not known, since the viscosity is not."
    line = f"Pressure: {significant(pressure.total / BAR)} bar over the whole path"
    if pressure.cell_inlet > 0:
        line += f", {significant(pressure.cell_inlet / BAR, 2)} bar at the inlet of the cell"
    elif pressure.cell_inlet == 0:
        line += "; what lies behind the cell is not on the path, and its pressure comes on top"
    return line + "."


def conclusion(result: Result) -> str:
    """One sentence for the person at the bench, on the solute that loses most.

    Parameters
    ----------
    result : Result

    Returns
    -------
    str
    """
    lane = worst_first(result)[0]
    shares = shares_outside_column(result, lane)
    if result.column_alone is None:
        spread = significant(result.recorded["variance"][lane]) + " s^2"
        if len(result.lanes) > 1:
            spread += f" of {result.lanes[lane]}"
        return (
            f"The path has no column; {_places(shares, f'the variance of {spread}')}, "
            "shares of the variance added by all parts."
        )
    of = f"Most is lost for {result.lanes[lane]}: of" if len(result.lanes) > 1 else "Of"
    gradient = "peak_capacity" in result.recorded
    name, what = ("plates_half_height", "plates")
    if gradient:
        name, what = "peak_capacity", "peaks side by side in the gradient (peak capacity)"
    could = significant(result.column_alone[name][lane])
    kept = kept_fraction(result)[lane]
    reach = "not one can be read at the recorder"
    if math.isfinite(kept):
        reached = significant(result.recorded[name][lane])
        reach = f"{reached} ({percent(kept)} %) reach the recorder"
    return (
        f"{of} {could} {what} that the column could give, {reach}; {_places(shares, 'the loss')}, "
        f"shares of the variance {'left of what is ' if gradient else ''}added outside the column."
        f"{' ' if gradient else ''}{focusing(result, lane)}"
    )


def _places(shares: dict[str, float], whole: str) -> str:
    """Where the variance comes from: the few parts that explain ENOUGH of it."""
    if not shares:
        return "no part adds to it"
    named, explained = [], 0.0
    for name, share in list(shares.items())[:3]:
        named.append(f"{name} ({percent(share)} %)")
        explained += share
        if explained >= ENOUGH:
            break
    text = named[0] if len(named) == 1 else ", ".join(named[:-1]) + " and " + named[-1]
    return f"{'most' if explained > 0.5 else 'the largest share'} of {whole} is in {text}"
