"""Random parts and paths for property tests (hypothesis strategies); residences about a second."""

from hypothesis import strategies as st

from reference.journeys import FLOW, gaussian, plug, stream, tube_with
from tailrace.parts.cell.part import Cell
from tailrace.parts.chamber.part import Chamber
from tailrace.parts.column.part import Column
from tailrace.parts.detector.part import Detector
from tailrace.parts.fitting.part import Fitting

BETWEEN_JOINTS = {"bore": 2e-3, "particle_diameter": 3e-6, "porosity": 0.6}


def numbers(least, most):
    return st.floats(least, most, allow_subnormal=False).map(lambda value: round(value, 4))


def tube():
    return st.builds(tube_with, numbers(0.01, 10.0), numbers(0.1, 1.0))


def chamber():
    return st.builds(
        lambda residence, tanks: (
            Chamber(name="c", volume=residence * FLOW, tanks=tanks),
            stream(),
        ),
        numbers(0.02, 0.5),
        numbers(1.0, 6.0),
    )


def fitting():
    def made(residence):
        length = 4 * residence * FLOW / (3.14159 * 1e-6)
        return Fitting(name="joint", gap_bore=1e-3, gap_length=length), stream()

    return st.builds(made, numbers(0.01, 0.2))


def cell():
    outlet = st.builds(
        lambda residence, tanks: (
            Cell(name="cell", volume=residence * FLOW, tanks=tanks),
            stream(),
        ),
        numbers(0.02, 0.5),
        numbers(1.0, 6.0),
    )
    mean = st.builds(
        lambda residence, tanks: (
            Cell(name="cell", volume=residence * FLOW, tanks=tanks, read="mean"),
            stream(),
        ),
        numbers(0.02, 0.5),
        st.integers(1, 6),
    )
    return outlet | mean


def column():
    def made(retention, plates):
        length = retention * FLOW / (0.6 * 3.14159 * 1e-6)
        return Column(name="column", length=length, plates=plates, **BETWEEN_JOINTS), stream()

    return st.builds(made, numbers(1.0, 10.0), st.integers(50, 5000).map(float))


def filter_of_a_detector():
    """A detector that keeps every instant, so that it is linear and shifts with time."""
    return st.builds(
        lambda constant: (Detector(time_constant=constant), stream()), numbers(0.01, 0.5)
    )


def part():
    return st.one_of(tube(), chamber(), fitting(), cell(), column(), filter_of_a_detector())


def injection():
    shape = st.one_of(st.builds(gaussian, numbers(0.05, 0.3)), st.builds(plug, numbers(0.1, 0.5)))
    return shape.map(lambda injector: (injector, stream()))


def smooth_injection():
    return st.builds(gaussian, numbers(0.05, 0.3)).map(lambda injector: (injector, stream()))


def path(longest=3):
    return st.lists(part(), min_size=1, max_size=longest)
