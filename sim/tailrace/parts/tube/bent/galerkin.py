"""Galerkin's method over the section of a bent tube, in Zernike's polynomials of the disc.

The concentration is a sum of r^m P_k(2 r^2 - 1) cos(m theta), orthonormal over the section, whose
flux at the wall vanishes by the weak form. Along the tube its coefficients obey

    W a' = -(K + 4 C V + p) a ,   p the Laplace variable of time over a^2/D, length as X,

W the axial flow (symmetric), K diffusion (symmetric), V the secondary flow (antisymmetric).
Matrices couple harmonics only as far apart as the flow has harmonics, and are sparse so.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.polynomial import legendre
from scipy.sparse import block_array, csc_array, diags_array, eye_array
from scipy.sparse.linalg import SuperLU, splu
from scipy.special import eval_jacobi

from tailrace.parts.tube.bent.flow import Flow, dean_flow
from tailrace.quantities.arrays import FloatArray, IntArray

NEGLIGIBLE = 1e-13
"""Entries below this part of the largest are rounding."""


@dataclass(frozen=True, eq=False)
class Section:
    """The matrices; the first coefficient is the mean over the section.

    ``harmonic`` and ``degree`` are m and k of each term; ``axial`` is W, ``exchange`` K and
    ``stirring`` V, all (terms, terms).
    """

    harmonic: tuple[int, ...]
    degree: tuple[int, ...]
    axial: csc_array
    exchange: csc_array
    stirring: csc_array

    @property
    def size(self) -> int:
        """Number of terms."""
        return len(self.harmonic)

    def values(self, r: FloatArray, angle: FloatArray) -> FloatArray:
        """Each term at points of the section. (terms, points) array, 1."""
        return np.array(
            [
                basis(m, np.array([k]), r)[0] * np.cos(m * angle)
                for m, k in zip(self.harmonic, self.degree, strict=True)
            ]
        )


def basis(m: int, degrees: IntArray, r: FloatArray) -> FloatArray:
    """Radial factors of harmonic m, normalised with their cosine. (degrees, len(r)) array, 1."""
    k = np.asarray(degrees)[:, None]
    size = np.sqrt((2 * k + m + 1.0) * (2 if m else 1))
    return np.asarray(size * r**m * eval_jacobi(k, 0, m, 2 * r * r - 1))


@lru_cache(maxsize=12)
def section(dean: float, order: int) -> Section:
    """Matrices of the terms with m + 2 k up to ``order`` in the flow of one Dean number."""
    return assembled(dean_flow(dean), order)


def assembled(flow: Flow, order: int) -> Section:
    """Integrals over the section: Gauss's rule along the radius, closed form over the angle."""
    nodes, weights = legendre.leggauss(order + 26)
    r, weights = np.sqrt((nodes + 1) / 2), weights / 2
    axial = flow.axial_harmonics(r)
    stream, shear = flow.stream_harmonics(r), flow.stream_harmonics(r, 1)
    counts = [(order - m) // 2 + 1 for m in range(order + 1)]
    values, slopes = [], []
    for m, count in enumerate(counts):
        k = np.arange(count, dtype=np.int64)
        values.append(basis(m, k, r))
        slopes.append(_slopes(m, k, r))
    blocks: list[list[list[FloatArray | None]]] = [
        [[None] * (order + 1) for _ in counts] for _ in range(3)
    ]
    reach = max(len(axial), len(stream)) - 1
    near = (range(max(m - reach, 0), min(m + reach, order) + 1) for m in range(order + 1))
    for m, n in ((m, n) for m, row in enumerate(near) for n in row):
        there = values[n].T
        weight = sum(_cosines(m, h, n) * row for h, row in enumerate(axial))
        if np.any(weight):
            blocks[0][m][n] = (values[m] * (weights * weight)) @ there
        out = sum(h * _cosines(m, h, n) * row for h, row in enumerate(stream))
        turn = sum(n * _sines(m, h, n) * row for h, row in enumerate(shear))
        if np.any(out) or np.any(turn):
            blocks[1][m][n] = (values[m] * (weights * out / r)) @ slopes[n].T
            blocks[1][m][n] += (values[m] * (weights * turn / r)) @ there
        if m == n:
            half = 0.5 if m else 1.0
            around = (values[m] * (weights * (m / r) ** 2)) @ there
            blocks[2][m][m] = half * ((slopes[m] * weights) @ slopes[m].T + around)
    return Section(
        harmonic=tuple(m for m, count in enumerate(counts) for _ in range(count)),
        degree=tuple(k for count in counts for k in range(count)),
        axial=_joined(blocks[0], 1.0),
        exchange=_joined(blocks[2], 1.0),
        stirring=_joined(blocks[1], -1.0),
    )


def _joined(blocks: list[list[FloatArray | None]], parity: float) -> csc_array:
    """One sparse matrix, made symmetric or antisymmetric to the last digit."""
    # the stubs of scipy know no blocks that are left out
    whole = csc_array(block_array(blocks, format="csc"))  # type: ignore[call-overload]
    whole = csc_array((whole + parity * whole.T) / 2)
    whole.data[np.abs(whole.data) < NEGLIGIBLE * np.abs(whole.data).max()] = 0.0
    whole.eliminate_zeros()
    return whole


def _slopes(m: int, k: IntArray, r: FloatArray) -> FloatArray:
    """Derivatives of ``basis`` in r."""
    column = np.asarray(k)[:, None]
    size = np.sqrt((2 * column + m + 1.0) * (2 if m else 1))
    x = 2 * r * r - 1
    inner = (
        2 * r ** (m + 1) * (column + m + 1) * eval_jacobi(np.maximum(column - 1, 0), 1, m + 1, x)
    )
    outer = m * r ** (m - 1) * eval_jacobi(column, 0, m, x) if m else 0.0
    return np.asarray(size * (outer + np.where(column > 0, inner, 0.0)))


def _cosines(m: int, h: int, n: int) -> float:
    """Mean of cos(m t) cos(h t) cos(n t)."""
    return ((m + h == n) + (m + n == h) + (h + n == m) + (m + h + n == 0)) / 4


def _sines(m: int, h: int, n: int) -> float:
    """Mean of cos(m t) sin(h t) sin(n t)."""
    return ((m == h - n) + (m == n - h) - (m == h + n) - (-m == h + n)) / 4


def passed_on(before: Section, at: Section, turned: bool) -> csc_array:
    """Matrix that hands a profile from one stretch to the next: same place over the bore.

    Turned where the next one bends the other way. A constant makes good what the change of the
    axial flow would lose of the amount.
    """
    signs = np.where(np.array(at.harmonic) % 2, -1.0, 1.0) if turned else np.ones(at.size)
    even = csc_array(diags_array(signs))
    if before is at and not turned:
        return even
    lost = before.axial[[0], :] - at.axial[[0], :] @ even
    return csc_array(even + csc_array(eye_array(at.size, 1) @ lost))


def factored(matrix: csc_array) -> SuperLU:
    """LU factors in the order of the harmonics, which keeps them within neighbouring blocks."""
    return splu(
        csc_array(matrix),
        permc_spec="NATURAL",
        diag_pivot_thresh=0.01,
        options={"SymmetricMode": True},
    )
