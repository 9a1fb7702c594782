"""Instruments that drift: how many have fallen below a criterion, over time."""

import math
from typing import Any

from tailrace.figures.layout import panels
from tailrace.figures.sizes import on_narrow
from tailrace.figures.style import DASHES, INK, SERIES, Picture, pale
from tailrace.studies.tolerance.result import Drifting
from tailrace.wording import say


def draw_drift(found: Drifting) -> Picture:
    """Share fallen with its interval, the stated risk, and how long that is not exceeded."""
    across, upward = say("Months"), say("Fallen below a criterion, %")
    key, tall = ("upper left", 2), 3.0 if on_narrow() else 2.1
    with panels(1, 1, (0.8, 5.6), (0.9, tall), across=across, upward=upward, key=key) as figure:
        (panel,) = figure.axes
        low, high = 100 * found.fallen_low, 100 * found.fallen_high
        look: dict[str, Any] = {"color": pale(SERIES[0], 0.25), "lw": 0}
        panel.fill_between(found.times, low, high, label=say("95 % interval"), **look)
        fallen = say("fallen")
        panel.plot(found.times, 100 * found.fallen, "o-", color=SERIES[0], ms=4, label=fallen)
        look = {"color": SERIES[1], "linestyle": DASHES[1]}
        panel.axhline(100 * found.risk, label=say("stated risk"), **look)
        if 0 < found.assured < math.inf:
            label = say("not exceeded, with confidence")
            panel.axvline(found.assured, color=INK, lw=1.6, label=label)
        panel.set_ylim(0, min(105.0, max(250 * found.risk, 1.05 * float(high.max()))))
        panel.set_xlim(0, found.horizon)
    shares = ", ".join(
        say("{share:.3g} % after {time:.3g} months", share=100 * share, time=time)
        for time, share in zip(found.times[1:], found.fallen[1:], strict=True)
    )
    text = say("Fallen below a criterion: {shares}.", shares=shares) + _against(found)
    return Picture(figure, say("How many fall as they drift"), text)


def _against(found: Drifting) -> str:
    """The stated risk, and how long it is kept, in a sentence."""
    values = {"risk": 100 * found.risk, "confidence": 100 * found.confidence}
    text = (
        " With {confidence:.3g} % confidence the stated risk of {risk:.3g} % is not exceeded for "
        "{assured:.3g} months."
    )
    if not found.assured > 0:
        text = (
            " The instruments are too few to show with {confidence:.3g} % confidence that the "
            "stated risk of {risk:.3g} % is not exceeded."
        )
    elif math.isinf(found.assured):
        text = (
            " With {confidence:.3g} % confidence the stated risk of {risk:.3g} % is not exceeded "
            "as far as was looked."
        )
    return say(text, assured=found.assured, **values)
