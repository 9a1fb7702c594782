"""What is left between a measured signal of a lesson's page and a simulated one laid upon it."""

import numpy as np
from scipy.optimize import minimize_scalar


def left_over(told, band):
    """Residuals over noise, delay and area by least squares."""
    values = np.array(told["values"])
    times = told["start"] + told["step"] * np.arange(values.size)
    grid = band.start[0] + band.step[0] * np.arange(band.values.shape[1])

    def rest(delay):
        made = np.interp(times - delay, grid, band.values[0], 0, 0)
        return float(np.sqrt(np.mean((values - made * (made @ values) / (made @ made)) ** 2)))

    apart = times[values.argmax()] - grid[band.values[0].argmax()]
    width = 2 / values.max()
    found = minimize_scalar(rest, bounds=(apart - width, apart + width), method="bounded")
    return float(found.fun) / told["noise"]
