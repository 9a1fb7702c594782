"""The flow in a loosely bent tube by Dean number, read from a table of solved flows.

The table (``flow.npz``, made by ``benchmarks/bent_flow_table.py``) holds Chebyshev series, in
arsinh((De/SCALE)^2), of the coefficients of ``dean.py``'s terms; between its nodes it agrees with a
solution of its own to 1e-6. Length is in radii of the bore, the axial velocity over its mean, the
stream function over w0^2 a^3/(nu R), so that 4 C grad x psi is what carries a solute of diffusivity
D around the section in units of a and a^2/D, C = De^2 nu/D.
"""

from dataclasses import dataclass
from functools import cached_property, lru_cache
from importlib.resources import files

import numpy as np
from numpy.polynomial import chebyshev

from tailrace.errors import AccuracyError
from tailrace.parts.tube.bent.dean import terms
from tailrace.quantities.arrays import FloatArray, Number

ORDER, SCALE = 22, 20.0
HIGHEST = 200.0
"""Dean number up to which the table reaches; the symmetric flow with two vortices is followed."""
NEGLIGIBLE = 1e-6


@dataclass(frozen=True, eq=False)
class Flow:
    """Fully developed flow in a loosely bent tube.

    ``dean`` is (a w0/nu) sqrt(a/R), w0 twice the mean velocity; ``friction`` is the pressure
    gradient over that of the straight tube; ``axial`` and ``stream`` are coefficients of the terms.
    ``negligible``: harmonics that stay below this part of the largest are left out.
    """

    dean: float
    friction: float
    axial: FloatArray
    stream: FloatArray
    negligible: float = NEGLIGIBLE

    def axial_harmonics(self, r: FloatArray) -> FloatArray:
        """w = sum of these times cos(m theta), theta from outward. (harmonics, len(r)) array, 1."""
        return self._pruned(terms(ORDER, 1).harmonics(self.axial, r))

    def stream_harmonics(self, r: FloatArray, derivative: int = 0) -> FloatArray:
        """psi = sum of these times sin(m theta), or a derivative. (harmonics, len(r)) array."""
        return self._pruned(terms(ORDER, 2).harmonics(self.stream, r, derivative))

    def axial_velocity(self, r: FloatArray, angle: FloatArray) -> FloatArray:
        """Axial velocity over its mean on a grid. (len(r), len(angle)) array, 1."""
        rows = self.axial_harmonics(r)
        return rows.T @ np.cos(np.arange(len(rows))[:, None] * angle)

    def stream_function(self, r: FloatArray, angle: FloatArray) -> FloatArray:
        """Stream function of the secondary flow on a grid. (len(r), len(angle)) array, 1."""
        rows = self.stream_harmonics(r)
        return rows.T @ np.sin(np.arange(len(rows))[:, None] * angle)

    @cached_property
    def fastest(self) -> float:
        """Largest axial velocity over the mean, 1. It lies on the symmetry plane, outward."""
        r = np.cos(np.pi * np.arange(200) / 400)[::-1]
        profile = self.axial_velocity(r, np.zeros(1))[:, 0]
        best = int(np.argmax(profile))
        low, high = r[max(best - 1, 0)], r[min(best + 1, len(r) - 1)]
        fine = self.axial_velocity(np.linspace(low, high, 101), np.zeros(1))
        return float(
            max(profile[best], self.axial_velocity(np.zeros(1), np.zeros(1))[0, 0], fine.max())
        )

    @cached_property
    def vortex_centre(self) -> tuple[float, float]:
        """Radius (over a) and angle (from outward, rad) where the secondary flow turns about."""
        r, angle = np.linspace(0.0, 1.0, 201), np.linspace(0.0, np.pi, 201)
        for _ in range(6):
            field = self.stream_function(r, angle)
            i, j = np.unravel_index(np.argmax(field), field.shape)
            r = np.clip(np.linspace(r[i] - (r[1] - r[0]), r[i] + (r[1] - r[0]), 41), 0.0, 1.0)
            step = angle[1] - angle[0]
            angle = np.linspace(angle[j] - step, angle[j] + step, 41)
        return float(r[20]), float(angle[20])

    def _pruned(self, rows: FloatArray) -> FloatArray:
        size = np.max(np.abs(rows), axis=1)
        counted = np.flatnonzero(size >= self.negligible * size.max())
        return rows[: counted[-1] + 1]


@lru_cache(maxsize=256)
def dean_flow(dean: float) -> Flow:
    """Flow at one Dean number. Raises AccuracyError: above ``HIGHEST``."""
    if not 0 <= dean <= HIGHEST:
        raise AccuracyError(
            f"the flow in a bent tube is tabulated for Dean numbers up to {HIGHEST:g}, not for "
            f"{dean:.4g}: use a lower flow rate, a narrower bore or a wider bend"
        )
    return _flow(dean, _table(), NEGLIGIBLE)


def exactly(dean: float, negligible: float) -> tuple[Flow, Flow]:
    """The same with harmonics down to a part of the largest, and by how much it changes with the
    logarithm of the Dean number, by the derivative of the table's series."""
    square = (dean / SCALE) ** 2
    table = _table()
    slope = chebyshev.chebder(table) * 4 * square / np.sqrt(1 + square**2) / reach()
    return _flow(dean, table, negligible), _flow(dean, slope, negligible)


def _flow(dean: float, series: FloatArray, negligible: float) -> Flow:
    row = chebyshev.chebval(2 * np.arcsinh((dean / SCALE) ** 2) / reach() - 1, series)
    count = len(terms(ORDER, 1).pairs)
    return Flow(dean, float(row[-1]), row[:count], row[count:-1], negligible)


def friction(dean: Number) -> FloatArray:
    """Pressure gradient over that of the straight tube; as ``dean``; NaN where that is NaN."""
    each = [1.0 if d == 0 else dean_flow(float(d)).friction for d in np.atleast_1d(dean)]
    return np.asarray(each) if np.ndim(dean) else np.asarray(each[0])


def friction_series() -> FloatArray:
    """Of ``friction``: coefficients of the table's Chebyshev series."""
    return _table()[:, -1]


def reach() -> float:
    """Of the table's variable."""
    return float(np.arcsinh((HIGHEST / SCALE) ** 2))


@lru_cache(maxsize=1)
def _table() -> FloatArray:
    with files("tailrace.parts.tube.bent").joinpath("flow.npz").open("rb") as stream:
        return np.asarray(np.load(stream)["series"])
