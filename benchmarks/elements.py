"""The tube by finite elements: biquadratic on a tensor grid, with scikit-fem."""

import numpy as np
from scipy.sparse.linalg import splu


def assembled(job, rings, stations):
    """Matrices of the weak form, and where the tube begins and ends.

    Parameters
    ----------
    job : Job
    rings, stations : int
        Elements across the radius and along the tube.

    Returns
    -------
    mass, rate : sparse matrices
        ``mass c_t + rate c = 0``.
    weights : (unknowns,) array, 1
        Their product with the unknowns is the flow average over the outlet.
    inlet : (some,) array of int
        Unknowns at the inlet.
    inner : (others,) array of int
    """
    from skfem import Basis, BilinearForm, ElementQuad2, FacetBasis, LinearForm, MeshQuad

    @BilinearForm
    def held(u, v, w):
        return w.x[0] * u * v

    @BilinearForm
    def carried(u, v, w):
        r = w.x[0]
        advection = 2 * (1 - r**2) * u.grad[1] * v
        return r * (advection + job.fourier * u.grad[0] * v.grad[0]) / job.residence

    @LinearForm
    def flow(v, w):
        r = w.x[0]
        return 4 * r * (1 - r**2) * v

    mesh = MeshQuad.init_tensor(np.linspace(0, 1, rings + 1), np.linspace(0, 1, stations + 1))
    basis = Basis(mesh, ElementQuad2())
    end = FacetBasis(mesh, basis.elem, facets=mesh.facets_satisfying(lambda x: x[1] == 1.0))
    inlet = basis.get_dofs(lambda x: x[1] == 0.0).all()
    matrices = held.assemble(basis), carried.assemble(basis)
    return *matrices, flow.assemble(end), inlet, basis.complement_dofs(inlet)


def with_scikit_fem(job, rings, stations, steps):
    """Quadratic elements in radius and length, Crank and Nicolson, one factorisation.

    Parameters
    ----------
    job : Job
    rings, stations : int
        As ``assembled``.
    steps : int

    Returns
    -------
    solve : callable
        Without arguments; sets up, factors, marches, and returns times and outlet.
    """

    def solve():
        mass, rate, weights, inlet, inner = assembled(job, rings, stations)
        times = np.linspace(job.begin, job.end, steps + 1)
        half = (times[1] - times[0]) / 2
        implicit, explicit = (mass + half * rate).tocsr(), (mass - half * rate).tocsr()
        factor = splu(implicit[inner][:, inner].tocsc())
        onward = explicit[inner][:, inner]
        push_new = -np.asarray(implicit[inner][:, inlet].sum(axis=1)).ravel()
        push_old = np.asarray(explicit[inner][:, inlet].sum(axis=1)).ravel()
        entering, weights = job.inlet(times), weights[inner]
        state, outlet = np.zeros(inner.size), np.zeros(steps + 1)
        for step in range(steps):
            right = onward @ state + push_old * entering[step] + push_new * entering[step + 1]
            state = factor.solve(right)
            outlet[step + 1] = weights @ state
        return times, outlet

    return solve
