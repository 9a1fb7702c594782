"""Many chains of bent stretches: each solved for, or read between some that are, where they are so
much alike that they lie in a box (``box.py``).
"""

from collections.abc import Iterator, Sequence

import numpy as np

from tailrace.parts.tube.bent import responses, spread
from tailrace.parts.tube.bent.box import Box, boxes, lone
from tailrace.parts.tube.bent.stretch import Chain
from tailrace.parts.tube.bent.theory import chain_cumulants, chain_seconds
from tailrace.quantities.arrays import ComplexArray, FloatArray, IntArray

FEW = 8
"""Chains up to which each is solved for."""
LEAST, MOST = 0.003, 30.0
"""Fourier numbers of lone tubes that are solved for."""
MOST_STRENGTH, MOST_DEAN = 1e5, 40.0


def covers(dean: FloatArray, strength: FloatArray, length: FloatArray) -> bool:
    """Whether all lanes lie where they are solved for."""
    return bool(
        np.all((length >= LEAST) & (length <= MOST) & (strength <= MOST_STRENGTH))
        and np.all(dean <= MOST_DEAN)
    )


def response(chains: Sequence[Chain], omega: FloatArray) -> ComplexArray:
    """Flux average at the end of each chain, entered uniform over the section.

    Parameters
    ----------
    omega : (chains, frequencies) array, rad/s

    Returns
    -------
    (chains, frequencies) complex array, 1
        In time from the inlet; good to ``responses.ERROR``, and AccuracyError raised as there.
    """
    found = np.empty(omega.shape, complex)
    for some, box, places in _apart(chains):
        asked = omega[some] * _residences(chains, some)[:, None]
        if box is not None:
            found[some] = responses.response(box, places, asked)
            continue
        for lane, own in zip(some, asked, strict=True):
            found[lane] = responses.response(lone(chains[lane]), np.empty((1, 0)), own[None])[0]
    return found


def cumulants(chains: Sequence[Chain]) -> FloatArray:
    """Variance, s^2, and third cumulant, s^3, of each chain; (chains, 2) array."""
    found = np.empty((len(chains), 2))
    for some, box, places in _apart(chains):
        if box is None:
            found[some] = [chain_cumulants(chains[lane]) for lane in some]
            continue
        unit = _residences(chains, some)[:, None] ** np.array([2, 3])
        found[some] = spread.cumulants(box, places) * unit
    return found


def seconds(chains: Sequence[Chain]) -> float:
    """Of one processor, about, until they are solved for, or those between which they are read."""
    whole = 0.0
    for some, box, _ in _apart(chains):
        if box is not None:
            whole += responses.seconds(box)
        else:
            whole += sum(responses.seconds(lone(one)) for one in {chains[lane] for lane in some})
    return whole


def cumulant_seconds(chains: Sequence[Chain]) -> float:
    """Of one processor, about, until their cumulants are solved for, or those between."""
    whole = 0.0
    for some, box, _ in _apart(chains):
        if box is not None:
            whole += box.count() * chain_seconds(box.chain((0.0,) * box.directions))
        else:
            whole += sum(chain_seconds(one) for one in {chains[lane] for lane in some})
    return whole


def _apart(chains: Sequence[Chain]) -> Iterator[tuple[IntArray, Box | None, FloatArray]]:
    """Which of them lie in which box, and where; in none where it costs less to solve each."""
    for some, box, places in boxes(chains) if len(set(chains)) > FEW else ():
        few = len({chains[lane] for lane in some}) <= max(FEW, box.count())
        yield some, None if few else box, places
    if len(set(chains)) <= FEW and chains:
        yield np.arange(len(chains)), None, np.empty((len(chains), 0))


def _residences(chains: Sequence[Chain], some: IntArray) -> FloatArray:
    return np.array([sum(one.residence for one in chains[lane]) for lane in some])
