"""Chains of bends that are read between some that are solved for."""

from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from threadpoolctl import threadpool_limits

from tailrace.parts.tube.bent import between, box, leja, responses, spectral
from tailrace.parts.tube.bent.stretch import Stretch
from tailrace.parts.tube.bent.theory import chain_cumulants


def tubes(bores, fourier, schmidt=400.0, diffusing=1.0):
    """Of two stretches that bend both ways, whose bore varies; and of one."""
    found = []
    for bore in bores:
        both = [
            Stretch(
                dean=dean / np.sqrt(bore),
                strength=dean**2 / bore * schmidt / diffusing,
                length=share * fourier * diffusing,
                residence=share * bore**2,
                turned=turned,
            )
            for dean, share, turned in ((0.6, 0.4, False), (0.9, 0.6, True))
        ]
        found.append(tuple(both))
    return found


@pytest.mark.parametrize("stretches", [1, 2], ids=["one short bend", "two bends"])
def test_what_is_read_is_what_is_solved_for(stretches):
    random = np.random.default_rng(stretches)
    bores = random.uniform(0.94, 1.06, 24)
    chains = [one[-stretches:] for one in tubes(bores, (0.045, 0.3)[stretches - 1])]
    assert all(one is not None for _, one, _ in between._apart(chains))
    variance, third = between.cumulants(chains).T
    omega = np.linspace(0.0, 12.0, 60) / np.sqrt(variance)[:, None]
    found = between.response(chains, omega)
    for lane in (int(np.argmin(bores)),):
        exact = chain_cumulants(chains[lane])
        assert variance[lane] == pytest.approx(exact[0], rel=1e-4)
        assert third[lane] == pytest.approx(exact[1], rel=5e-4)
        with threadpool_limits(1, "blas"):
            expected = spectral.transfer(chains[lane], omega[lane], np.ones(60))
        transit = sum(one.transit for one in chains[lane])
        expected *= np.exp(-1j * omega[lane] * transit)
        assert np.abs(found[lane] - expected).max() < responses.ERROR / 2


def test_lanes_of_one_study_share_a_box_whatever_the_block():
    bores = np.random.default_rng(8).uniform(0.94, 1.06, 200)
    chains = tubes(bores, 0.3) + tubes(2 * bores, 0.3, diffusing=1.1)
    blocks = [list(box.boxes(chains[one::4])) for one in range(4)]
    assert len({one for block in blocks for _, one, _ in block}) <= 6
    for some, one, places in blocks[0]:
        assert one.directions == 1
        assert np.abs(places).max() <= 1
        for lane, place in list(zip(some, places, strict=True))[:3]:
            whole = sum(each.residence for each in chains[::4][lane])
            for each, told in zip(chains[::4][lane], one.chain(place), strict=True):
                assert told.dean == pytest.approx(each.dean, rel=1e-6)
                assert told.strength == pytest.approx(each.strength, rel=1e-6)
                assert told.length == pytest.approx(each.length, rel=1e-6)
                assert told.residence == pytest.approx(each.residence / whole, rel=1e-6)


def test_a_wide_range_is_cut_into_cells():
    chains = tubes(np.geomspace(0.5, 2.0, 100), 0.3)
    found = list(box.boxes(chains))
    assert len(found) > 2
    assert sorted(lane for some, _, _ in found for lane in some) == list(range(100))
    assert max(one.wide[0] for _, one, _ in found) <= box.CELLS[0]


def test_a_polynomial_of_two_numbers_goes_as_far_as_it_must():
    def of(degrees):
        at = leja.points()
        return [np.array([np.exp(at[i]) * np.cos(0.1 * at[j])]) for i, j in degrees]

    found = leja.fitted(2, of, lambda term: float(np.abs(term).max()), 1e-6, 160)
    places = np.random.default_rng(5).uniform(-1, 1, (50, 2))
    expected = np.exp(places[:, 0]) * np.cos(0.1 * places[:, 1])
    assert np.abs(found.at(places)[:, 0] - expected).max() < 2e-6
    assert found.left <= 1e-6
    assert found.degrees[:, 0].max() > found.degrees[:, 1].max()


def test_what_threads_share_is_computed_once_and_its_errors_are_theirs():
    shared, asked = leja.Shared(), []

    def of(key):
        asked.append(key)
        if key == 3:
            raise ValueError("three")
        return key**2

    with ThreadPoolExecutor(4) as pool:
        found = list(pool.map(lambda _: shared.all([1, 2], of), range(8)))
    assert found == [[1, 4]] * 8
    assert sorted(asked) == [1, 2]
    for _ in range(2):
        with pytest.raises(ValueError, match="three"):
            shared.all([3], of)
    assert asked.count(3) == 1


def test_where_much_passes_only_what_is_asked_is_solved_for(monkeypatch):
    bores = np.random.default_rng(3).uniform(0.97, 1.03, 12)
    chains = [one[-1:] for one in tubes(bores, 0.012)]
    variance, _ = between.cumulants(chains).T
    omega = np.linspace(0.0, 150.0, 90) / np.sqrt(variance)[:, None]
    solved, series = [], responses._series
    monkeypatch.setattr(
        responses, "_series", lambda box, reach: solved.append(reach) or series(box, reach)
    )
    found = between.response(chains, omega)
    assert solved == [1]
    lane = int(np.argmin(bores))
    with threadpool_limits(1, "blas"):
        expected = spectral.transfer(chains[lane], omega[lane], np.ones(90))
    expected *= np.exp(-1j * omega[lane] * sum(one.transit for one in chains[lane]))
    assert np.abs(found[lane] - expected).max() < responses.ERROR / 2
    assert np.abs(found[lane][omega[lane] * np.sqrt(variance[lane]) > 60]).max() > 2e-4
