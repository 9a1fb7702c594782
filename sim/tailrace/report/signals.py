"""Tables and a sentence on signal, noise and resolution."""

import math

import numpy as np

from tailrace.records.losses import worst_first
from tailrace.records.separation import separation
from tailrace.report.numbers import ABSENT, percent, significant, with_error
from tailrace.report.table import Table

PER_MILLILITRE = 1e6
"""1/m^3"""
MILLI = 1e-3

RELATIVE_HEAD = (
    ("solute", ""),
    ("in the cell", "1/mL"),
    ("height kept", "%"),
    ("noise over", "that at 1 s"),
    ("height kept", "over noise"),
)
ABSOLUTE_HEAD = (("height", "mAU"), ("noise", "mAU"), ("signal", "to noise"))
"""Shown where one of them is known."""

SEPARATION_HEAD = (
    ("neighbours", ""),
    ("resolution", "of column"),
    ("resolution", "recorded"),
    ("valley over", "lower peak, %"),
    ("resolution", "from valley"),
)


def signal_table(result):
    """Height and noise of each solute, the one that loses most first.

    Parameters
    ----------
    result : Result

    Returns
    -------
    Table
        ``in the cell`` is the greatest share of the amount in a millilitre; ``height kept`` the
        recorded height over that of the column's own peak, with its discretisation error.
    """
    signal = result.signal
    absolute = any(np.isfinite(signal[name]).any() for name in ("absorbance", "noise"))
    rows = []
    for lane in worst_first(result):
        row = (
            result.lanes[lane],
            significant(signal["concentration_in_cell"][lane] / PER_MILLILITRE),
            _kept(result, lane),
            significant(signal["relative_noise"][lane]),
            significant(signal["relative_signal_to_noise"][lane]),
            significant(signal["absorbance"][lane] / MILLI),
            significant(signal["noise"][lane] / MILLI, 2),
            significant(signal["signal_to_noise"][lane], 2),
        )
        rows.append(row if absolute else row[: len(RELATIVE_HEAD)])
    path = signal["light_path"][0]
    where = f"light path {significant(1000 * path)} mm" if math.isfinite(path) else "no light path"
    title = f"Signal and noise ({where}; white noise; ± discretisation error)"
    return Table(title, RELATIVE_HEAD + (ABSOLUTE_HEAD if absolute else ()), tuple(rows))


def separation_table(result):
    """Every pair of neighbours, in the order of elution.

    Parameters
    ----------
    result : Result
        Of two solutes or more.

    Returns
    -------
    Table
        A dash where two peaks have run into one, or where the valley lies on the base line.
    """
    pairs = separation(result)
    rows = [
        (
            f"{first} / {second}",
            significant(pairs.column_alone[pair]),
            with_error(pairs.half_height[pair], pairs.numerical_error[pair]),
            percent(pairs.valley_to_peak[pair]),
            significant(pairs.from_valley[pair]),
        )
        for pair, (first, second) in enumerate(zip(pairs.first, pairs.second, strict=True))
    ]
    title = "Neighbours (resolution from the widths at half height; ± discretisation error)"
    return Table(title, SEPARATION_HEAD, tuple(rows))


def critical_line(result):
    """One sentence on the two neighbours that are hardest to tell apart.

    Parameters
    ----------
    result : Result

    Returns
    -------
    str
        Empty where there are no neighbours.
    """
    pairs = separation(result)
    if pairs.critical is None:
        return ""
    pair = pairs.critical
    line = (
        f"Critical pair: {pairs.first[pair]} and {pairs.second[pair]}, resolution "
        f"{significant(pairs.half_height[pair])} recorded"
    )
    if math.isfinite(pairs.column_alone[pair]):
        line += f" of {significant(pairs.column_alone[pair])} that the column could give"
    if not math.isfinite(pairs.valley_to_peak[pair]):
        return line + "; on the recorded trace they have run into one peak."
    return line + "."


def signal_tables(result):
    """The tables that this result has, list of Table."""
    found = [signal_table(result)] if result.signal else []
    return [*found, separation_table(result)] if len(result.lanes) > 1 else found


def _kept(result, lane):
    kept = result.signal["relative_signal"][lane]
    error = result.numerical_error.get("height")
    if error is None or not math.isfinite(kept):
        return percent(kept) if math.isfinite(kept) else ABSENT
    return with_error(100 * kept, 100 * kept * error[lane] / result.recorded["height"][lane])
