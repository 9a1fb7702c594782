"""The flow in a bent tube against closed forms and published values."""

import numpy as np
import pytest
from scipy.optimize import brentq

from tailrace.errors import AccuracyError
from tailrace.parts.tube.bent.dean import solve, terms
from tailrace.parts.tube.bent.flow import HIGHEST, dean_flow

R = np.linspace(0.0, 1.0, 11)


def white(dean):
    """C. M. White, Proc. R. Soc. A 123 (1929) 645: friction over that of the straight tube."""
    return 1 / (1 - (1 - (11.6 / dean) ** 0.45) ** (1 / 0.45))


def ito(dean):
    """H. Ito, J. Basic Eng. 81 (1959) 123, for Dean numbers from 13.5 to 2000."""
    return 21.5 * dean / (1.56 + np.log10(dean)) ** 5.73


def test_slow_flow_is_that_of_dean():
    # W. R. Dean, Phil. Mag. 5 (1928) 673
    flow = dean_flow(0.0)
    assert flow.axial_harmonics(R)[0] == pytest.approx(2 * (1 - R**2), abs=1e-9)
    expected = R * (1 - R**2) ** 2 * (4 - R**2) / 1152
    assert flow.stream_harmonics(R)[1] == pytest.approx(expected, abs=1e-12)
    assert flow.friction == pytest.approx(1.0, abs=1e-9)
    radius, angle = flow.vortex_centre
    # where f'(r) = 0: 7 r^6 - 30 r^4 + 27 r^2 - 4 = 0
    roots = np.roots([7.0, -30.0, 27.0, -4.0])
    assert radius == pytest.approx(np.sqrt(roots[(roots > 0) & (roots < 0.9)].min()), abs=1e-4)
    assert angle == pytest.approx(np.pi / 2, abs=1e-3)


def test_flow_at_one_pressure_gradient_is_that_of_deans_series():
    # flux ratio 1 - 0.0306 (K/576)^2 + 0.0110 (K/576)^4, K = 2 (a W/nu)^2 a/R with W the velocity
    # on the axis of the straight tube with the same gradient (Dean 1928; digits from memory)
    for k in (50.0, 100.0, 150.0):
        dean = brentq(lambda de, k=k: 2 * (de * dean_flow(de).friction) ** 2 - k, 0.1, 60.0)
        part = (k / 576) ** 2
        series = 1 - 0.0306 * part + 0.0110 * part**2
        assert 1 / dean_flow(dean).friction == pytest.approx(series, abs=3e-4 * part)


@pytest.mark.parametrize("dean", [20.0, 30.0, 50.0, 70.0, 100.0, 150.0])
def test_friction_is_within_what_measured_laws_leave_open(dean):
    # White's and Ito's laws follow measurements and differ from each other by up to 4 %
    friction = dean_flow(dean).friction
    assert friction == pytest.approx(ito(dean), rel=0.015)
    assert friction == pytest.approx(white(dean), rel=0.04)


def test_friction_and_a_general_library_agree():
    friction = pytest.importorskip("fluids.friction")
    # straight friction factor 64/Re (Darcy's)
    found = friction.helical_laminar_fd_White(1000.0, 0.01, 1.0) / (64 / 1000.0)
    assert found == pytest.approx(white(100.0), rel=1e-9)
    assert dean_flow(100.0).friction == pytest.approx(found, rel=0.04)


def test_fast_flow_moves_outward_and_the_vortices_follow():
    # as Collins and Dennis, Q. J. Mech. Appl. Math. 28 (1975) 133, describe it (from memory)
    outward = []
    for dean in (1.0, 20.0, 50.0, 100.0):
        flow = dean_flow(dean)
        profile = flow.axial_velocity(R, np.array([0.0]))[:, 0]
        outward.append(R[np.argmax(profile)])
        assert flow.fastest <= 2.0 + 1e-6
        mean = np.linspace(0.0, 1.0, 401)
        harmonic = flow.axial_harmonics(mean)[0]
        assert np.trapezoid(2 * mean * harmonic, mean) == pytest.approx(1.0, abs=2e-5)
    assert outward == sorted(outward)
    assert outward[-1] >= 0.6
    centres = [dean_flow(dean).vortex_centre[0] for dean in (1.0, 25.0, 50.0, 100.0)]
    assert centres == sorted(centres)


@pytest.mark.parametrize("dean", np.random.default_rng(9).uniform(1.0, 50.0, 1))
def test_the_table_is_a_solution_of_deans_equations(dean):
    start = None
    for near in (0.7 * dean, dean):
        axial, stream, friction = solve(near, 24, start)
        start = axial, stream
    flow = dean_flow(dean)
    assert flow.friction == pytest.approx(friction, abs=1e-9)
    rows, solved = flow.axial_harmonics(R), terms(24, 1).harmonics(axial, R)
    assert rows == pytest.approx(solved[: len(rows)], abs=2e-6)
    rows, solved = flow.stream_harmonics(R), terms(24, 2).harmonics(stream, R)
    assert rows == pytest.approx(solved[: len(rows)], abs=1e-10)


def test_beyond_the_table_there_is_no_answer():
    with pytest.raises(AccuracyError, match="Dean number"):
        dean_flow(1.01 * HIGHEST)
