"""Write the table of transfer functions and cumulants of tubes with one bend.

    python benchmarks/bent_spectrum_table.py FOLDER

An hour of a processor. Rows that lie in the folder are not made again, so that it can be stopped,
and run twice at once.
"""

import sys
from itertools import pairwise
from pathlib import Path

import numpy as np
from numpy.polynomial import chebyshev
from threadpoolctl import threadpool_limits

from tailrace.parts.tube.bent import spectrum
from tailrace.parts.tube.bent.galerkin import section
from tailrace.parts.tube.bent.spectral import Model
from tailrace.parts.tube.bent.spectrum import (
    ACROSS,
    ALONG,
    DENSE,
    LATE,
    LEAST,
    LONG,
    MIXED,
    ROWS,
    STEP_LENGTH,
    STEP_STRENGTH,
    STIRRED,
    turning,
)
from tailrace.parts.tube.bent.stretch import Stretch
from tailrace.parts.tube.bent.theory import at_lengths
from tailrace.quantities.arrays import ComplexArray, FloatArray

BLOCKS = (0.0, 0.03, 0.12, 0.6, 30.0)
"""X between which one space of a few dimensions serves."""
SHOTS, STEPS, DENSITY = 12, 12, 1.7
"""Frequencies from which a space is made; steps to a decade of X; frequencies solved for, over
those that seem needed."""
PASSES = 2e-6
FITTED = 0.35
"""Of u, below which rounding shows in p and q."""


def strength_of(row: float) -> float:
    """C of a row."""
    return max(float(STIRRED * np.sinh(row * STEP_STRENGTH)), 1e-3)


def lengths_of(row: int) -> tuple[int, FloatArray]:
    """Number of the first column and X of all columns of a row, as its neighbours' lines ask."""
    low = LEAST * turning(strength_of(max(row - ACROSS / 2, 0.0)))
    high = LONG * turning(strength_of(min(row + ACROSS / 2, ROWS - 1)))
    first, last = (int(np.floor(spectrum.columns(one))) for one in (low, high))
    columns = np.arange(first - ALONG // 2 + 1, last + ALONG // 2 + 1)
    logarithms = np.log(np.geomspace(low / 3, high * 3, columns.size))
    for _ in range(40):  # Newton's method
        turned = np.exp(logarithms)
        rise = 1 / STEP_LENGTH + DENSE * turned / MIXED / (1 + (turned / MIXED) ** 2)
        logarithms -= (spectrum.columns(turned) - columns) / rise
    return int(columns[0]), np.exp(logarithms) / float(turning(strength_of(row)))


def terms_for(strength: float, length: float, highest: float = 0.0) -> int:
    """Order over the section: layers grow thin with C, in short tubes and with the frequency."""
    stirred, short = max(1.0, strength / 1e3) ** 0.37, max(1.0, 0.1 / length) ** 0.2
    layers = 6 + 14 * max(stirred, short) * min(stirred, short) ** 0.25
    return int(2 * np.ceil(max(16.0, layers, 62 * (min(highest, 1e5) / 1e5) ** 0.25) / 2))


def row_of(strength: float, square: float, lengths: FloatArray) -> tuple[FloatArray, ComplexArray]:
    """Variance and third cumulant at all lengths, and T without its frame at ``grid`` of u."""
    dean = float(np.sqrt(square * spectrum.highest_square(strength)))
    found, values = [], []
    for low, high in pairwise(BLOCKS):
        x = lengths[(lengths >= low) & (lengths < high)]
        if x.size:
            at = section(dean, terms_for(strength, float(x[0])) + 6)
            found.append(at_lengths(at, strength, x, STEPS))
            values.append(_block(dean, strength, x, np.sqrt(found[-1][:, 0])))
    return np.concatenate(found), np.concatenate(values)


def _block(dean: float, strength: float, x: FloatArray, sigma: FloatArray) -> ComplexArray:
    stretch = Stretch(dean=dean, strength=strength, length=float(x[-1]), residence=float(x[-1]))
    lowest, u = 1 / float(x[-1]), spectrum.grid()
    probes = np.geomspace(3 / sigma[-1], u[-1] / sigma[0], 16)
    order = min(24, terms_for(strength, float(x[0])))
    small = np.abs(_solved(stretch, order, probes, x[:1], 8)[:, 0]) < PASSES
    top = float(probes[np.argmax(small)] if small.any() else probes[-1])
    reach = np.arcsinh(top / lowest)
    points = chebyshev.chebpts1(int(DENSITY * (14 + 6.5 * reach)))
    omega = lowest * np.sinh((points + 1) / 2 * reach)
    values = _solved(stretch, terms_for(strength, float(x[0]), top), omega, x, SHOTS)
    # counted from the mean, not from the first to arrive
    values *= np.exp(1j * np.outer(omega, x) * (1 - stretch.transit / stretch.residence))
    fit = chebyshev.chebvander(points, points.size - 1).T * (2 / points.size)
    fit[0] /= 2
    out = np.zeros((x.size, u.size), complex)
    for k, length in enumerate(x):
        series = fit @ (
            values[:, k] / _frame(strength * length, length / sigma[k], omega * sigma[k])
        )
        inside = u / sigma[k] <= top
        at = 2 * np.arcsinh(u[inside] / sigma[k] / lowest) / reach - 1
        out[k, inside] = chebyshev.chebval(at, series)
    return out


def _solved(
    stretch: Stretch, order: int, omega: FloatArray, x: FloatArray, shots: int
) -> ComplexArray:
    lowest = 1 / stretch.length
    rates = 1j * np.concatenate([[0.0], np.geomspace(lowest / 2, omega.max(), shots - 1)])
    with threadpool_limits(1, "blas"):
        return Model.built([stretch], order, rates).at_lengths(omega, x)


def _frame(turned: float, length: float, u: FloatArray) -> ComplexArray:
    """From the mean where u is small to the front where it is large; C X and X over sigma given."""
    return np.asarray(np.exp(1j * spectrum.ahead(turned) * length * u**3 / (LATE**2 + u**2)))


def entries_of(
    strength: float, lengths: FloatArray, found: FloatArray, values: ComplexArray
) -> FloatArray:
    """What ``row_of`` gives as the table holds it: logarithms, p and q. (columns, ...) array."""
    u, sigma = spectrum.grid(), np.sqrt(found[:, 0])
    near, front = u**2 / (1 + u**2), spectrum.ahead(strength * lengths) * lengths / sigma
    twist = found[:, 1] / sigma**3 / 6 - front / LATE**2
    whole = values * np.sqrt(1 + u**2)
    out = np.zeros((len(lengths), 2, u.size))
    out[:, 0, 1:] = (whole.real[:, 1:] - 1) / near[1:] ** 2
    out[:, 1, 1:] = whole.imag[:, 1:] / near[1:] ** 1.5 - twist[:, None]
    # rounding shows over u^4: what is near 0 as an even polynomial
    low = int(np.searchsorted(u, FITTED))
    fitted = slice(low, 3 * low)
    for k, start in ((0, 0), (1, 2)):
        powers = np.arange(start, start + 8, 2)
        fit = np.linalg.lstsq(u[fitted, None] ** powers, out[:, k, fitted].T, rcond=None)[0]
        out[:, k, :low] = (u[:low, None] ** powers @ fit).T
    ratio = found / np.stack(spectrum.growth(lengths), axis=1)
    logs = np.log(np.stack([ratio[:, 0], ratio[:, 1] / ratio[:, 0] ** 1.5], axis=1))
    return np.concatenate([logs, out.reshape(len(lengths), -1)], axis=1)


def assembled(folder: Path) -> dict[str, np.ndarray]:
    """The arrays of the table, from the rows in a folder."""
    rows = []
    for row in range(ROWS):
        still, fast = (_stored(folder, row, square) for square in (0.0, 1.0))
        rows.append(np.stack([still, fast - still], axis=1))
    whole = np.moveaxis(np.rint(np.concatenate(rows) / spectrum.units()), 0, -1).astype(np.int64)
    sizes = [len(one) for one in rows]
    return {
        "values": np.diff(whole, 2, prepend=np.zeros((*whole.shape[:2], 2))).astype(np.int32),
        "first": np.array([lengths_of(row)[0] for row in range(ROWS)]),
        "starts": np.cumsum([0, *sizes[:-1]]),
    }


def _stored(folder: Path, row: int, square: float) -> FloatArray:
    held, lengths = np.load(folder / f"{row}-{square:g}.npz"), lengths_of(row)[1]
    return entries_of(strength_of(row), lengths, held["found"], held["values"])


def made(folder: Path) -> bool:
    """Solve for all rows that nobody else has begun; whether all are there."""
    asked = [(row, square) for square in (0.0, 1.0) for row in range(ROWS)]
    for row, square in asked:
        file = folder / f"{row}-{square:g}.npz"
        try:
            file.with_suffix(".begun").touch(exist_ok=False)
        except FileExistsError:
            continue
        found, values = row_of(strength_of(row), square, lengths_of(row)[1])
        np.savez(file, found=found, values=values)
        print(file.stem, flush=True)
    return all((folder / f"{row}-{square:g}.npz").exists() for row, square in asked)


if __name__ == "__main__":
    rows = Path(sys.argv[1] if len(sys.argv) > 1 else "bent-spectrum-rows")
    rows.mkdir(exist_ok=True)
    if made(rows):
        path = Path(spectrum.__file__).with_name("spectrum.npz")
        np.savez_compressed(path, allow_pickle=False, **assembled(rows))
        print(f"{path.name}: {path.stat().st_size} bytes")
