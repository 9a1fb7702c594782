"""Orders of the column's marches."""

import numpy as np
import pytest
from reference import transfer
from reference.journeys import FLOW, bands_behind, gaussian, relative_l2, stream
from scipy.linalg import expm

from tailrace.parts.column.cells import march as cells
from tailrace.parts.column.part import Column
from tailrace.signals import Resolution
from tailrace.signals.cubic import sample

SIGMA, DEAD_TIME, K = 3.0, 60.0, 3.0
TIMES = np.linspace(60.0, 420.0, 800)


def column(**others):
    return Column(
        name="column",
        bore=np.sqrt(4 * DEAD_TIME * FLOW / (np.pi * 0.6 * 0.05)),
        length=0.05,
        particle_diameter=2e-6,
        porosity=0.6,
        **others,
    )


def errors(way, part, passing, expected, finenesses):
    (band,) = bands_behind((gaussian(SIGMA), passing), refinement=4.0)
    outlets = [way(part, passing.over(1), band, Resolution(refinement=f)) for f in finenesses]
    return [relative_l2(sample(out, TIMES[None])[0], expected) for out in outlets]


def stage_step(growth, held, rate, step):
    """One step of the scheme on c' = growth c - held x, q' = x, x = rate (c - q), as a matrix."""
    columns = []
    for start in np.eye(2):
        gains, given = [], []
        c = start[0]
        for flow, swap in zip(cells.FLOW_STAGES, cells.EXCHANGE_STAGES, strict=True):
            stage = len(gains)
            gains.append(growth * step * c)
            free = start[0] + flow[: stage + 1] @ gains
            taken = start[1]
            if stage:
                free = free - held * (swap[:stage] @ given)
                taken = taken + swap[:stage] @ given
            own = swap[stage]
            given.append((free - taken) / (1 / (rate * step) + own * (1 + held)))
            c = free - held * own * given[-1]
        columns.append((c, taken + own * given[-1]))
    return np.array(columns).T


def test_stages_of_flow_and_exchange_are_of_third_order():
    growth, held, rate = 0.7j, 2.0, 1.3
    matrix = np.array([[growth - held * rate, held * rate], [rate, -rate]])
    steps = (0.02, 0.01, 0.005)
    apart = [np.linalg.norm(stage_step(growth, held, rate, h) - expm(matrix * h)) for h in steps]
    # local errors are one order higher
    assert np.log2(apart[0] / apart[1]) == pytest.approx(4.0, abs=0.1)
    assert np.log2(apart[1] / apart[2]) == pytest.approx(4.0, abs=0.1)


def test_an_exchange_that_is_at_once_in_equilibrium_is_met_by_long_steps():
    # L-stable: what does not fit the isotherm is gone after one step
    held = 2.0
    kept = np.abs(np.linalg.eigvals(stage_step(0.0, held, 1e12, 1.0)))
    assert sorted(kept) == pytest.approx([0.0, 1.0], abs=1e-9)


def test_exchange_march_converges_to_the_transfer_function():
    rate, peclet = 1.0, 1000.0
    slow, retention = 2 * DEAD_TIME * K / rate, DEAD_TIME * (1 + K)
    part = column(
        plates=retention**2 / (slow + 2 * retention**2 / peclet),
        kinetics="lumped",
        mass_transfer_rate=rate,
    )

    def answer(omega):
        s = 1j * omega
        root = np.sqrt(1 + 4 * DEAD_TIME * s / peclet * (1 + K / (1 + s / rate)))
        return transfer.gaussian(omega, SIGMA) * np.exp(peclet / 2 * (1 - root))

    expected = transfer.back_to_time(answer, TIMES, 3.0, 1500)
    passing = stream(retention_factor=K)
    found = errors(cells.exchanging, part, passing, expected, (0.25, 0.5, 1.0))
    # third order in time is the least; the cells before the inlet leave a floor of some 1e-6
    assert np.log2(found[0] / found[1]) > 2.75
    assert np.log2(found[1] / found[2]) > 2.75
    assert found[2] < 1e-4


def test_langmuir_march_is_of_second_order_or_better():
    part, passing = column(plates=400.0, capacity=1.0), stream(retention_factor=K, amount=1e-9)
    expected = transfer.back_to_time(
        lambda omega: (
            transfer.gaussian(omega, SIGMA) * transfer.column(omega, DEAD_TIME * (1 + K), 400.0)
        ),
        TIMES,
        3.0,
        1500,
    )
    found = errors(cells.overloaded, part, passing, expected, (0.5, 1.0, 2.0))
    assert found[0] > 4 * found[1] > 16 * found[2]
    assert found[2] < 5e-4


def test_langmuir_march_converges_where_the_column_is_overloaded():
    part, passing = column(plates=400.0, capacity=1.0), stream(retention_factor=K, amount=0.05)
    (band,) = bands_behind((gaussian(SIGMA), passing), refinement=4.0)
    finest = cells.overloaded(part, passing.over(1), band, Resolution(refinement=4.0))
    expected = sample(finest, TIMES[None])[0]
    found = errors(cells.overloaded, part, passing, expected, (0.25, 0.5, 1.0))
    assert found[0] > 3.5 * found[1] > 3.5**2 * found[2]
