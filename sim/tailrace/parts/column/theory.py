"""Closed form of a linear column: the cumulants of flow with dispersion."""

import numpy as np

from tailrace.signals.cumulants import Cumulants


def theory(column, stream) -> Cumulants:
    """Mean t, variance t^2/N and third cumulant 3 t^3/N^2 at retention time t.

    Those of convection with dispersion along a column that is long against its plates, Peclet
    number 2 N, with the band given at its inlet (Lapidus and Amundson, J. Phys. Chem. 56 (1952)
    984; equilibrium, no slow mass transfer). The skewness is then 3/sqrt(N).
    """
    retention = np.asarray(column.residence(stream), dtype=float)
    plates = column.plate_number(stream)
    variance = retention**2 / plates
    return Cumulants(
        mean=retention,
        gaussian_variance=variance,
        variance=variance,
        third=3 * retention**3 / plates**2,
    )
