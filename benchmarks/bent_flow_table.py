"""Write the table of flows in bent tubes that ``tailrace.parts.tube.bent.flow`` reads; seconds."""

from pathlib import Path

import numpy as np
from numpy.polynomial import chebyshev

from tailrace.parts.tube.bent import flow
from tailrace.parts.tube.bent.dean import solve

NODES = 32


def tabulated() -> np.ndarray:
    """Dean's equations at all nodes, as Chebyshev series. (NODES, coefficients) array."""
    place = chebyshev.chebpts1(NODES)
    rows, start = [], None
    for dean in flow.SCALE * np.sqrt(np.sinh((place + 1) / 2 * flow.reach())):
        axial, stream, friction = solve(float(dean), flow.ORDER, start)
        start = (axial, stream)
        rows.append(np.concatenate([axial, stream, [friction]]))
    return np.asarray(chebyshev.chebfit(place, np.array(rows), NODES - 1))


if __name__ == "__main__":
    path = Path(flow.__file__).with_name("flow.npz")
    np.savez_compressed(path, series=tabulated())
    print(f"{path.name}: {path.stat().st_size} bytes")
