"""The tube in two packages that solve equations given as they are written: FiPy and py-pde.

Lengths are in radii, in which the tube is thousands long; diffusion then acts along it too, as in
nature, and adds less than a millionth to the variance.
"""

import numpy as np


def with_fipy(job, rings, stations, steps):
    """Finite volumes; the trapezoidal rule as half implicit, half explicit terms.

    Parameters
    ----------
    job : Job
    rings, stations, steps : int

    Returns
    -------
    solve : callable
        Without arguments; sets up, marches, and returns times and outlet.
    """
    import fipy

    length = job.length_in_radii

    def solve():
        mesh = fipy.CylindricalGrid2D(nr=rings, nz=stations, dr=1 / rings, dz=length / stations)
        c = fipy.CellVariable(mesh=mesh, value=0.0)
        entering = fipy.Variable(0.0)
        c.constrain(entering, where=mesh.facesBottom)
        c.faceGrad.constrain([[0.0], [0.0]], where=mesh.facesTop)
        diffusivity = job.fourier / job.residence
        speed = 2 * length / job.residence * (1 - mesh.faceCenters[0] ** 2)
        velocity = fipy.FaceVariable(mesh=mesh, rank=1)
        velocity[1] = speed
        implicit = fipy.DiffusionTerm(coeff=diffusivity / 2)
        implicit = implicit - fipy.CentralDifferenceConvectionTerm(coeff=velocity / 2)
        explicit = (diffusivity / 2 * c.faceGrad - velocity / 2 * c.faceValue).divergence
        equation = fipy.TransientTerm() == implicit + explicit
        solver = fipy.LinearLUSolver()
        last = mesh.cellCenters.value[1] > length * (1 - 1 / stations)
        radius = mesh.cellCenters.value[0][last]
        weights = radius * (1 - radius**2)
        weights = weights / weights.sum()
        times = np.linspace(job.begin, job.end, steps + 1)
        outlet = np.zeros(steps + 1)
        values = job.inlet(times)
        for step in range(steps):
            # one value on the inlet for both halves: the mean over the step
            entering.setValue((values[step] + values[step + 1]) / 2)
            equation.solve(var=c, dt=times[1] - times[0], solver=solver)
            # the outlet's face is half a cell further on
            outlet[step + 1] = weights @ c.value[last]
        return times + job.residence / (2 * stations), outlet

    return solve


def with_py_pde(job, rings, stations, digits, points=400):
    """Central differences, explicit Runge-Kutta with step control, compiled.

    Parameters
    ----------
    job : Job
    rings, stations : int
    digits : float
        The tolerance is ten to the power of minus this, times the inlet's height.
    points : int

    Returns
    -------
    solve : callable
        As ``with_fipy``; its first call compiles.
    """
    import pde

    length = job.length_in_radii
    grid = pde.CylindricalSymGrid(1.0, (0.0, length), (rings, stations))
    speed = 2 * length / job.residence
    inlet = f"{job.height} * exp(-(t / {job.sigma})**2 / 2)"
    equation = pde.PDE(
        {"c": f"{job.fourier / job.residence} * laplace(c) - {speed} * (1 - r**2) * d_dz(c)"},
        bc={"r": {"derivative": 0}, "z-": {"value_expression": inlet}, "z+": {"curvature": 0}},
    )
    tolerance = job.height * 10.0**-digits
    solver = pde.RungeKuttaSolver(equation, adaptive=True, tolerance=tolerance)
    empty = pde.ScalarField(grid, 0.0)
    first_step = 1e-4 * job.sigma
    stepper = solver.make_stepper(empty, first_step)
    times = np.linspace(job.begin, job.end, points)
    radius = grid.axes_coords[0]
    weights = radius * (1 - radius**2)
    weights = weights / weights.sum()

    def solve():
        state, outlet, reached = empty.copy(), np.zeros(points), times[0]
        for at, until in enumerate(times[1:], start=1):
            reached = stepper(state, reached, until)
            # between the last two cells and the outlet's face: linear
            outlet[at] = weights @ (1.5 * state.data[:, -1] - 0.5 * state.data[:, -2])
        return times, outlet

    return solve
