"""What a gap in a joint does to a narrow peak, and what its unswept pocket does."""

from typing import Any

from tailrace.eluent.stream import Stream
from tailrace.journey.itinerary import Itinerary
from tailrace.journey.result import Result
from tailrace.measures.registry import VARIANCE, WIDTH
from tailrace.parts.fitting.part import EXCHANGE, Fitting
from tailrace.parts.injector.part import Injector
from tailrace.scenario.scenario import Scenario
from tailrace.studies.gallery.curves import curve_errors, points_of, travelled
from tailrace.studies.gallery.exhibit import ERROR, Exhibit, table_of
from tailrace.studies.lanes import band_of

FLOW, DIFFUSIVITY = 0.5e-6 / 60, 1e-9
SIGMA = 0.3
"""s, standard deviation of the peak that meets the joint."""
BORE, LENGTH, TINY = 1e-3, 1e-3, 1e-6
"""m, of the gap; a gap of TINY length does nothing that could be seen."""
UNSWEPT = 0.6
LEAST, LATEST = 1e-5, 12.0
"""Share of the height, and time in s, up to which tails are drawn."""
MEANINGS = {
    "joint": ("", "which"),
    "unswept": ("1", "share of the gap that the stream does not sweep"),
    "exchange": ("1", "flow between stream and unswept part over the flow through the joint"),
    "time": ("s", "from the middle of the peak that meets the joint"),
    "signal": ("1/s", "behind the joint, over the amount injected"),
    WIDTH: ("s", "width at half height"),
    VARIANCE: ("s^2", "of the whole signal"),
    ERROR: ("1", "of the curve, largest over its height"),
}


def exhibit(scenario: Scenario | None = None) -> Exhibit:
    """Compute the figure; no scenario matters to it."""
    cases = {
        "no gap": (TINY, 0.0, 0.0),
        "gap, all swept": (LENGTH, 0.0, 0.0),
        f"{100 * UNSWEPT:.0f} % unswept, stirred": (LENGTH, UNSWEPT, EXCHANGE),
        f"{100 * UNSWEPT:.0f} % unswept, still": (LENGTH, UNSWEPT, 0.0),
    }
    itineraries = [_journey(*case) for case in cases.values()]
    results = travelled(itineraries)
    errors = curve_errors(itineraries, results)
    pieces = [
        _piece(name, *cases[name][1:], result, error)
        for name, result, error in zip(cases, results, errors, strict=True)
    ]
    _, swept, stirred, still = (
        (100 * (one[WIDTH] / pieces[0][WIDTH] - 1), one[VARIANCE] / pieces[0][VARIANCE])
        for one in pieces
    )
    return Exhibit(
        name="joint",
        title="A gap in a joint, and a pocket that the stream does not sweep",
        caption=(
            f"A Gaussian peak of {SIGMA:g} s at {FLOW * 60e6:g} mL/min behind a joint with a gap "
            f"of {1e3 * BORE:g} mm bore and {1e3 * LENGTH:g} mm length, swept by the stream in "
            "full or in part; the right scale is logarithmic. The swept gap widens the half height "
            f"by {swept[0]:.2g} %. A pocket of {100 * UNSWEPT:.0f} % of it, stirred by the passing "
            f"jet, by {stirred[0]:.2g} %, and the variance {stirred[1]:.3g} times. If diffusion "
            f"alone filled the pocket, the half height would be wider by only {still[0]:.2g} % but "
            f"the variance {still[1]:.2g} times larger, by a tail that lasts far longer than the "
            "peak."
        ),
        alt=(
            "Two panels with the same four peaks. On the linear scale they nearly coincide. On the "
            "logarithmic one all fall straight down but the one with a still pocket, which leaves "
            f"a tail, still at about a ten-thousandth of the height after {LATEST:g} s."
        ),
        table=table_of(MEANINGS, pieces),
    )


def _journey(length: float, unswept: float, exchange: float) -> Itinerary:
    stream = Stream(flow_rate=FLOW, diffusivity=DIFFUSIVITY)
    joint = Fitting(
        name="joint", gap_bore=BORE, gap_length=length, unswept=unswept, exchange=exchange
    )
    passages = (Injector(shape="gaussian", sigma=SIGMA), stream), (joint, stream)
    return Itinerary(lanes=("a small molecule",), passages=passages)


def _piece(
    name: str, unswept: float, exchange: float, result: Result, error: float
) -> dict[str, Any]:
    times, values = points_of(band_of(result), LEAST, LATEST)
    return {
        "joint": name,
        "unswept": unswept,
        "exchange": exchange,
        "time": times,
        "signal": values,
        WIDTH: result.recorded[WIDTH][0],
        VARIANCE: result.recorded[VARIANCE][0],
        ERROR: error,
    }
