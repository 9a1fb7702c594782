"""Gains, prices and shares as people read them: no more digits than the error supports."""

import math
from collections.abc import Iterable

from tailrace.report.numbers import ABSENT, percent, significant, with_error

BAR = 1e5
"""Pa"""
MINUTE = 60.0
"""s"""
ALPHABET = "abcdefghijklmnopqrstuvwxyz"


def letters(index: int) -> str:
    """Short name of a change by its place in the file: a to z, then aa, ab …"""
    text = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, len(ALPHABET))
        text = ALPHABET[rest] + text
    return text


def gained(value: float, error: float) -> str:
    """A gain with its sign, rounded to the place where its error begins; 0 within the error."""
    if math.isfinite(value) and abs(value) <= (error if math.isfinite(error) else 0):
        return "0"
    text = with_error(value, error).partition(" ± ")[0]
    return f"+{text}" if math.isfinite(value) and value > 0 else text


def money(value: float) -> str:
    """Money in the file's own currency, to the unit; tenths and hundredths where there are any."""
    if not math.isfinite(value):
        return ABSENT
    return f"{value:.0f}" if abs(value - round(value)) < 0.005 else f"{value:.2f}"


def minutes(seconds: float) -> str:
    """A working time in minutes, to the minute."""
    return f"{seconds / MINUTE:.0f}" if math.isfinite(seconds) else ABSENT


def spoken_time(seconds: float) -> str:
    """A working time as it is said: ``45 min``, ``2 h 5 min``, ``no time``."""
    hours, rest = divmod(round(seconds / MINUTE), 60)
    parts = [f"{hours} h"] if hours else []
    parts += [f"{rest} min"] if rest else []
    return " ".join(parts) or "no time"


def bars(pressure: float) -> str:
    """A pressure in bar, three digits."""
    return significant(pressure / BAR)


def ratio(value: float) -> str:
    """A ratio to the start, two decimals."""
    return f"{value:.2f}" if math.isfinite(value) else ABSENT


def share(fraction: float) -> str:
    """A share in per cent without the sign, with its sign where it is negative."""
    if math.isfinite(fraction) and -0.005 < 100 * fraction <= 0:
        return "0.00"
    return percent(fraction)


def listed(names: Iterable[str]) -> str:
    """Names in a sentence: ``a``, ``a and b``, ``a, b and c``."""
    names = list(names)
    if len(names) < 2:
        return "".join(names)
    return ", ".join(names[:-1]) + " and " + names[-1]
