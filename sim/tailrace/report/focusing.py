"""What a gradient focuses, in words."""

import numpy as np

from tailrace.journey.result import Result
from tailrace.report.numbers import percent, significant

NEARLY_ALL = 0.9
"""From this share on it is said what is left."""


def focusing(result: Result, lane: int) -> str:
    """One sentence on what the gradient takes back of the variance, and what it cannot.

    Parameters
    ----------
    result : Result
    lane : int

    Returns
    -------
    str
        Empty without a gradient.
    """
    focused = np.array(
        [np.broadcast_to(part.gradient_focusing, (len(result.lanes),)) for part in result.parts]
    )
    at = next((k for k, part in enumerate(result.parts) if part.separates), None)
    if at is None or np.isnan(np.delete(focused, at, axis=0)).any():
        return ""
    added = np.array([part.variance_simulated[lane] for part in result.parts])
    before, behind = (significant(added[part].sum()) for part in (slice(at), slice(at + 1, None)))
    share = float(focused[0, lane])
    if share < 0:
        taken = f"adds {percent(-share)} % to"
    elif share < NEARLY_ALL:
        taken = f"focuses {percent(share)} % of"
    else:
        taken = f"focuses all but {percent(1 - share)} % of"
    taken = f"{taken} what the parts before the column add ({before} s^2)"
    if at + 1 == len(result.recording):
        return f"The gradient {taken}."
    return f"The gradient {taken} and nothing of what those behind it add ({behind} s^2)."
