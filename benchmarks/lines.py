"""The tube by the method of lines, as one writes it with a general-purpose library.

c_t = -2 (1 - r^2)/T c_z + X/T (c_rr + c_r/r), radius and length both one, T the residence and X the
Fourier number. Rings of even width by finite volumes, second order; the length by the third-order
upwind-biased difference; time by the library. What leaves is averaged by flow.
"""

import numpy as np
import scipy.sparse as sparse
from scipy.sparse.linalg import splu


def rings_of(rings):
    """Edges, areas (their sum is one) and velocities (flow mean one) of rings of even width."""
    edges = np.linspace(0.0, 1.0, rings + 1)
    square = edges**2
    area = np.diff(square)
    velocity = 2 * np.diff(square - square**2 / 2) / area
    return edges, area, velocity


def exchange_rates(rings):
    """Rates to the next ring inwards and outwards, times radius^2/D. Two (rings,) arrays."""
    edges, area, _ = rings_of(rings)
    width = 1.0 / rings
    through = 2 * edges / width
    through[0] = through[-1] = 0.0
    return through[:-1] / area, through[1:] / area


def difference_along(stations):
    """Matrix of the first derivative at stations 1 ... m, and its column for the inlet."""
    spacing = 1.0 / stations
    diagonals = [np.full(stations, value / 6) for value in (1.0, -6.0, 3.0, 2.0)]
    matrix = sparse.diags_array(diagonals, offsets=(-2, -1, 0, 1), shape=(stations, stations))
    matrix = matrix.tolil()
    inlet = np.zeros(stations)
    matrix[0, :2] = [0.0, 0.5]  # one neighbour short: central
    inlet[0] = -0.5
    inlet[1] = 1 / 6
    matrix[-1, -3:] = [0.5, -2.0, 1.5]  # at the outlet only what comes from upstream
    return matrix.tocsc() / spacing, inlet / spacing


def with_scipy(job, rings, stations, steps):
    """Crank and Nicolson in time, one sparse LU factorisation.

    Parameters
    ----------
    job : Job
    rings, stations, steps : int

    Returns
    -------
    solve : callable
        Without arguments; sets up, factors, marches, and returns times and outlet.
    """

    def solve():
        _, area, velocity = rings_of(rings)
        inwards, outwards = exchange_rates(rings)
        fourier = sparse.diags_array(
            [inwards[1:], -inwards - outwards, outwards[:-1]], offsets=(-1, 0, 1)
        )
        along, inlet = difference_along(stations)
        across = sparse.eye_array(stations)
        # rings are neighbours in memory, so that the matrix is banded
        rate = sparse.kron(across, fourier * (job.fourier / job.residence))
        rate = rate - sparse.kron(along, sparse.diags_array(velocity / job.residence))
        drive = -np.kron(inlet, velocity / job.residence)
        times = np.linspace(job.begin, job.end, steps + 1)
        half = (times[1] - times[0]) / 2
        unit = sparse.eye_array(rings * stations)
        factor = splu((unit - half * rate).tocsc())
        known = (unit + half * rate).tocsr()
        entering = job.inlet(times)
        weights = area * velocity
        state, outlet = np.zeros(rings * stations), np.zeros(steps + 1)
        for step in range(steps):
            push = half * (entering[step] + entering[step + 1])
            state = factor.solve(known @ state + push * drive)
            outlet[step + 1] = weights @ state[-rings:]
        return times, outlet

    return solve


def rate_for_jax(job, rings, stations):
    """The same differences over whole arrays, and the weights of the outlet.

    Returns
    -------
    rate : callable
        (time, (rings, stations) state, anything) -> rate of change.
    weights : (rings,) array, 1
    """
    import jax.numpy as jnp

    _, area, velocity = rings_of(rings)
    inwards, outwards = (
        jnp.asarray(rate * job.fourier / job.residence) for rate in exchange_rates(rings)
    )
    speed = jnp.asarray(velocity / job.residence * stations)[:, None]

    def rate(time, state, _):
        entering = jnp.full((rings, 1), job.inlet(time, jnp))
        wide = jnp.concatenate([entering, state], axis=1)
        inner = (wide[:, :-3] - 6 * wide[:, 1:-2] + 3 * wide[:, 2:-1] + 2 * wide[:, 3:]) / 6
        first = (wide[:, 2:3] - wide[:, :1]) / 2
        last = (wide[:, -3:-2] - 4 * wide[:, -2:-1] + 3 * wide[:, -1:]) / 2
        along = jnp.concatenate([first, inner, last], axis=1)
        flux = outwards[:-1, None] * (state[1:] - state[:-1])
        back = inwards[1:, None] * (state[:-1] - state[1:])
        fourier = jnp.zeros_like(state).at[:-1].add(flux).at[1:].add(back)
        return fourier - speed * along

    return rate, jnp.asarray(area * velocity)


def with_diffrax(job, rings, stations, digits, points=600):
    """Tsitouras's explicit fifth-order pair with step control, compiled.

    Parameters
    ----------
    job : Job
    rings, stations : int
    digits : float
        The relative tolerance is ten to the power of minus this.
    points : int

    Returns
    -------
    solve : callable
        As ``with_scipy``; its first call compiles.
    """
    import diffrax
    import jax
    import jax.numpy as jnp

    jax.config.update("jax_enable_x64", True)
    rate, weights = rate_for_jax(job, rings, stations)
    times = jnp.linspace(job.begin, job.end, points)
    keep = diffrax.SaveAt(ts=times, fn=lambda time, state, _: weights @ state[:, -1])
    control = diffrax.PIDController(rtol=10.0**-digits, atol=job.height * 10.0**-digits)
    march = jax.jit(
        lambda state: (
            diffrax.diffeqsolve(
                diffrax.ODETerm(rate),
                diffrax.Tsit5(),
                job.begin,
                job.end,
                1e-3 * job.sigma,
                state,
                saveat=keep,
                stepsize_controller=control,
                max_steps=1_000_000,
                adjoint=diffrax.ForwardMode(),
            ).ys
        )
    )
    start = jnp.zeros((rings, stations))
    return lambda: (np.asarray(times), np.asarray(march(start).block_until_ready()))
