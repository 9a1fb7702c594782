"""Random and quasi-random points, and the correlated normal scores that are made of them."""

import numpy as np

from tailrace.scenario.target import StudyError

GENERATORS = ("random", "sobol", "halton", "latin hypercube")
"""Only the first makes independent samples; the others (scipy.stats.qmc) fill space more evenly."""


def uniform_points(count, dimensions, seed, generator="random", stream=0):
    """Points in the unit cube.

    Parameters
    ----------
    count, dimensions, seed, stream : int
    generator : str

    Returns
    -------
    (count, dimensions) array, 1
    """
    random = np.random.Generator(
        np.random.PCG64(np.random.SeedSequence(entropy=seed, spawn_key=(stream,)))
    )
    if generator == "random":
        return random.random((count, dimensions))
    if generator not in GENERATORS:
        raise StudyError(f"expected a generator of {', '.join(GENERATORS)}, found {generator}")
    from scipy.stats import qmc

    if generator == "sobol" and count & (count - 1):
        below = 1 << (count.bit_length() - 1)
        raise StudyError(
            f"expected a power of 2 with Sobol' points, found {count} samples; take {below} or "
            f"{2 * below}"
        )
    engines = {"sobol": qmc.Sobol, "halton": qmc.Halton, "latin hypercube": qmc.LatinHypercube}
    return engines[generator](dimensions, seed=random).random(count)


def scores_of(points, correlation):
    """Correlated standard normal scores of points in the unit cube.

    Parameters
    ----------
    points : (samples, inputs) array, 1
    correlation : (inputs, inputs) array, 1

    Returns
    -------
    (samples, inputs) array, 1
        Of a Gaussian copula with this correlation.
    """
    from scipy.special import ndtri

    alone = ndtri(np.clip(points, 2.0**-54, 1 - 2.0**-53))
    return alone @ np.linalg.cholesky(correlation).T
