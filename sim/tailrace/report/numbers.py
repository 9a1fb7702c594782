"""Numbers as people read them: as many digits as they deserve."""

import math

ABSENT, NOT_RESOLVED = "-", "not resolved"


def significant(value: float, digits: int = 3) -> str:
    """Text of a number to ``digits`` significant digits; ``-`` where it does not exist.

    Plain decimals from 0.0001 to below 10 000 000, powers of ten outside.

    Parameters
    ----------
    value : float, any unit
    """
    if not math.isfinite(value):
        return ABSENT
    if value == 0:
        return "0"
    rounded = float(f"{value:.{digits - 1}e}")
    if not 1e-4 <= abs(rounded) < 1e7:
        return f"{value:.{digits - 1}e}"
    return f"{rounded:.{_decimals(rounded, digits)}f}"


UNRESOLVED = 0.3
"""Share of a value from which on its error leaves nothing to be said of it."""


def is_resolved(value: float, error: float) -> bool:
    """Whether a value says anything beside its error; a zero does, and so does an unknown error."""
    return not (value != 0 and error > UNRESOLVED * abs(value))


def with_error(value: float, error: float, *, digits: int = 0) -> str:
    """Text ``value ± error``: the error with one digit (two if it starts with 1), the value to
    the same place.

    Parameters
    ----------
    value, error : float, the same unit
        Where the error does not exist, four digits of the value stand alone. An error below a
        millionth of the value is shown as such: more digits help nobody.
    digits : int
        The most that the value has; one that its error does not reach stands alone. 0: as many as
        the error allows.
    """
    if not math.isfinite(value):
        return ABSENT
    if not math.isfinite(error):
        return significant(value, 4)
    error = max(abs(error), 1e-6 * abs(value))
    if error == 0:
        return "0"
    two = 2 if f"{error:.1e}" < "2" else 1
    decimals = two - 1 - math.floor(math.log10(float(f"{error:.{two - 1}e}")))
    if digits and value:
        last = digits - 1 - math.floor(math.log10(abs(float(f"{value:.{digits - 1}e}"))))
        if error < 0.5 * 10.0**-last:
            return significant(value, digits)
        decimals, error = min(decimals, last), max(error, 10.0**-last)
    places = max(decimals, 0)
    # adding zero leaves no minus before one
    return f"{round(value, decimals) + 0.0:.{places}f} ± {round(error, decimals):.{places}f}"


def by_powers(value: float, error: float) -> str:
    """As ``with_error``, below 0.0001 with a power of ten behind both: ``(1.10 ± 0.02)e-09``."""
    size = max(abs(value), abs(error))
    if not 0 < size < 1e-4:
        return with_error(value, error)
    exponent = math.floor(math.log10(size))
    return f"({with_error(value / 10**exponent, error / 10**exponent)})e{exponent:+03d}"


def to_the_place_of(value: float, uncertainty: float) -> str:
    """Text of a value to the place of the second digit of an uncertainty in the same unit; with a
    power of ten where that is farther behind the point than six places."""
    if not (math.isfinite(value) and math.isfinite(uncertainty) and uncertainty > 0):
        return significant(value, 4)
    place = math.floor(math.log10(float(f"{uncertainty:.1e}"))) - 1
    if place >= -6:
        return f"{round(value, -place) + 0.0:.{max(-place, 0)}f}"
    power = math.floor(math.log10(max(abs(value), uncertainty)))
    return f"{value / 10**power:.{power - place}f}e{power:+03d}"


def percent(fraction: float) -> str:
    """Text of a fraction in per cent without the sign: three digits, at most two decimals.

    Just below 100 four digits, so that only all is 100."""
    if not math.isfinite(fraction):
        return ABSENT
    shown = 100 * fraction
    if 0 < shown < 0.005:
        return "<0.01"
    # Nearly all is not all: a bound of 99.97 % must not be told as 100 %.
    if 99.95 <= shown < 100 - 1e-9:
        return f"{shown:.2f}" if shown < 99.995 else ">99.99"
    if abs(shown) >= 99.95:
        return f"{shown:.0f}"
    return f"{shown:.1f}" if abs(shown) >= 9.995 else f"{shown:.2f}"


def _decimals(value: float, digits: int) -> int:
    return max(0, digits - 1 - math.floor(math.log10(abs(value))))
