"""Finite volumes over half the section of a bent tube: second order, five points, conservative.

Nodes lie at r(q), q = 0, 1/rings ... 1, and at equal angles from 0 (outward) to pi; one node is the
axis. Each stands for the part of the section that is nearest to it in q and in angle. Between two
such parts flow: by diffusion the difference of concentration over the distance; with the secondary
flow the difference of the stream function between the ends of the face, times the mean of both
concentrations. So what leaves one part enters the next, a uniform concentration stays uniform, and
the secondary flow neither makes nor loses variance. Angular differences are scaled to be exact for
cos(theta), which keeps the second order across the axis. Errors are even powers of the spacing: the
march is made on two grids and extrapolated.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.sparse import coo_array, csc_array

from tailrace.parts.tube.bent.flow import dean_flow
from tailrace.quantities.arrays import FloatArray, IntArray

GRADING = 0.15
"""Part by which rings are closer together at the wall: r = q (1 + GRADING (1 - q^2))."""


@dataclass(frozen=True, eq=False)
class SectionGrid:
    """Volumes of one grid, ring by ring from the axis outward, in each from outward to inward.

    Parameters
    ----------
    rings, sectors : int
        There are 1 + rings (sectors + 1) nodes.
    r, angle, area, flow : (nodes,) array, 1, rad, 1, 1
        Place of each node, and its parts of the section and of the flow: each adds up to one.
    fastest : float, 1
        Axial velocity of the fastest node over the mean.
    left, right : (faces,) array, node number
        The nodes on the two sides of a face.
    diffusion, carried : (faces,) array, 1
        Conductance, and what the secondary flow carries from left to right per unit of 4 C.
    """

    rings: int
    sectors: int
    r: FloatArray
    angle: FloatArray
    area: FloatArray
    flow: FloatArray
    fastest: float
    left: IntArray
    right: IntArray
    diffusion: FloatArray
    carried: FloatArray

    @property
    def nodes(self) -> int:
        """Number of nodes."""
        return self.r.size

    @property
    def band(self) -> int:
        """Largest distance of two neighbours in the order of the nodes."""
        return self.sectors + 1

    def exchange(self, strength: float) -> csc_array:
        """Matrix that makes of concentrations what leaves each node. (nodes, nodes), C given."""
        flux = 2 * strength * self.carried
        rows = np.concatenate([self.left, self.left, self.right, self.right])
        columns = np.concatenate([self.left, self.right, self.left, self.right])
        out, back = self.diffusion + flux, flux - self.diffusion
        entries = np.concatenate([out, back, -out, -back])
        return csc_array(coo_array((entries, (rows, columns)), shape=(self.nodes, self.nodes)))


@lru_cache(maxsize=24)
def section_grid(dean: float, rings: int, sectors: int) -> SectionGrid:
    """Set up the volumes in the flow of one Dean number."""
    flow = dean_flow(dean)
    q = np.arange(2 * rings + 1) / (2 * rings)
    place = q * (1 + GRADING * (1 - q * q))
    step = np.pi / sectors
    ring, face = place[2::2], np.append(place[1::2], 1.0)
    angle: FloatArray = np.arange(sectors + 1.0) * step
    # both ends of the half section stand for half a sector
    wide = np.full(sectors + 1, step)
    wide[[0, -1]] /= 2
    number = 1 + np.arange(rings * (sectors + 1)).reshape(rings, sectors + 1)
    corners = np.concatenate([[0.0], angle[:-1] + step / 2, [np.pi]])
    stream = flow.stream_function(face, corners)
    stream[:, [0, -1]] = stream[-1] = 0.0
    # radial faces: between ring i - 1 (or the axis) and ring i
    below = np.vstack([np.zeros((1, sectors + 1), int), number[:-1]])
    distance = np.diff(np.concatenate([[0.0], ring]))
    through = (face[:-1] / distance)[:, None] * wide
    swept = np.diff(stream[:-1], axis=1)
    # angular faces: between sector j and j + 1 of one ring
    scale = step / 2 / np.sin(step / 2)
    around = np.repeat((np.diff(face) / ring / step * scale**2)[:, None], sectors, axis=1)
    turned = -np.diff(stream, axis=0)[:, 1:-1]
    area = np.concatenate(
        [[face[0] ** 2 / 2 * np.pi], ((np.diff(face**2) / 2)[:, None] * wide).ravel()]
    )
    area /= np.pi / 2
    speed = flow.axial_velocity(np.array([0.0, *ring]), angle).ravel()[sectors:]
    speed = np.maximum(speed, 0.0)
    speed /= area @ speed
    return SectionGrid(
        rings=rings,
        sectors=sectors,
        r=np.concatenate([[0.0], np.repeat(ring, sectors + 1)]),
        angle=np.concatenate([[0.0], np.tile(angle, rings)]),
        area=area,
        flow=area * speed,
        fastest=float(speed.max()),
        left=np.concatenate([below.ravel(), number[:, :-1].ravel()]),
        right=np.concatenate([number.ravel(), number[:, 1:].ravel()]),
        diffusion=np.concatenate([through.ravel(), around.ravel()]) / (np.pi / 2),
        carried=np.concatenate([swept.ravel(), turned.ravel()]) / (np.pi / 2),
    )
