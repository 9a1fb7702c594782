"""One tube, at equal accuracy: the product against general-purpose libraries in the same run.

Every solver does the same job: from the inlet's samples to the outlet's, set-up and factorisation
counted, compilation not. Each is refined, in whatever direction gains most for its cost, until the
L2 error of the outlet curve against the exact one (``exact.py``) is below the target; the fastest
resolution found is then timed again. All run in one thread on one processor.

    python benchmarks/tube.py            about ten minutes
    python benchmarks/tube.py --quick    the product and scipy only
"""

import timing

# isort: split
import argparse
import os
import time
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from exact import Chain, TubeTable, transfer
from lines import with_diffrax, with_scipy
from scipy.interpolate import CubicSpline
from tuning import tuned

from tailrace.eluent.stream import Stream
from tailrace.parts.tube.march import march
from tailrace.parts.tube.part import Tube
from tailrace.signals.band import Band
from tailrace.signals.resolution import Resolution

TARGETS = (0.005, 0.001)
LANES = 64
LEAST_BATCH_GAIN, LEAST_SINGLE_GAIN = 20.0, 4.0
END = 1e-4
"""The curve is followed until it stays below this share of its height."""
REACH = 4.5
"""Standard deviations of the inlet before its centre at which the job begins."""


@dataclass(frozen=True)
class Job:
    """One tube and one Gaussian inlet; the exact outlet."""

    name: str
    tube: Tube
    stream: Stream
    sigma: float
    exact: CubicSpline
    begin: float
    end: float

    @property
    def fourier(self):
        """Fourier number, float."""
        return float(self.tube.fourier_number(self.stream))

    @property
    def residence(self):
        """Mean time in the tube, float, s."""
        return float(self.tube.residence(self.stream))

    @property
    def length_in_radii(self):
        """Length over radius, float."""
        return 2 * self.tube.length / self.tube.bore

    @property
    def height(self):
        """Of the inlet, float, 1/s."""
        return 1 / (self.sigma * np.sqrt(2 * np.pi))

    def inlet(self, times, library=np):
        """Concentration in the stream that enters, 1/s."""
        return self.height * library.exp(-((times / self.sigma) ** 2) / 2)

    def error(self, times, values):
        """Relative L2 error of an outlet curve on even steps, float."""
        within = (times >= self.begin) & (times <= self.end)
        exact = self.exact(times[within])
        return float(np.linalg.norm(values[within] - exact) / np.linalg.norm(exact))


def jobs(sigmas):
    """The two tubes with every inlet. List of Job."""
    table, made = TubeTable(), []
    for name, flow, diffusivity in (("a", 1.0, 1e-9), ("b", 0.2, 1e-8)):
        tube = Tube(name="tube", bore=0.127e-3, length=0.5)
        stream = Stream(flow_rate=flow * 1e-6 / 60, diffusivity=diffusivity, viscosity=1e-3)
        fourier, residence = float(tube.fourier_number(stream)), float(tube.residence(stream))
        for sigma in sigmas:
            chain = Chain(table, [(fourier, residence)], [partial(transfer.gaussian, sigma=sigma)])
            mean, variance = chain.mean_and_variance(residence, np.hypot(sigma, residence / 4))
            curve = chain.curve(mean, np.sqrt(variance), sigma / 100)
            times, values = curve.times[0], curve.values[0]
            end = times[np.flatnonzero(values > END * values.max())[-1]]
            exact = CubicSpline(times, values)
            made.append(Job(name, tube, stream, sigma, exact, -REACH * sigma, end))
    return made


def product(lanes, job, refinement, points):
    """The product's own march. Returns ``solve`` like the others.

    Parameters
    ----------
    lanes : int
        The same job in each.
    job : Job
    refinement : float, 1
    points : float, 1
        Samples of the inlet per standard deviation.
    """
    step = job.sigma / points
    start = -np.ceil(REACH * points) * step
    count = round(-2 * start / step) + 1
    values = np.tile(job.inlet(start + step * np.arange(count)), (lanes, 1))
    band = Band(values, np.full(lanes, start), np.full(lanes, step))
    stream = job.stream.over(lanes)
    resolution = Resolution(refinement=refinement, truncation=END)

    def solve():
        left = march(job.tube, stream, band, resolution)
        return left.start[0] + left.step[0] * np.arange(left.values.shape[1]), left.values[0]

    return solve


@dataclass(frozen=True)
class Contender:
    """A way to do the job: how it is built, where refining begins, and for how long at most.

    ``each``: every direction is refined by itself; False where a trial is so slow to run or to
    compile that only a few can be made, which then refine all directions at once.
    """

    name: str
    build: object
    begin: dict
    lanes: int = 1
    budget: float = 30.0
    each: bool = True


def contenders(quick):
    """The product, one lane and a batch, then the general libraries. List of Contender."""
    ours = {"refinement": 0.25, "points": 3.0}
    found = [
        Contender("product, one lane", partial(product, 1), ours, budget=10.0),
        Contender(f"product, {LANES} lanes", partial(product, LANES), ours, LANES, budget=12.0),
        Contender("scipy", with_scipy, {"rings": 8, "stations": 40, "steps": 150}, budget=20.0),
    ]
    if quick:
        return [replace(one, budget=one.budget / 2) for one in found]
    from cells import with_fipy, with_py_pde
    from elements import with_scikit_fem

    return [
        *found,
        Contender(
            "diffrax", with_diffrax, {"rings": 10, "stations": 48, "digits": 3.5}, budget=36.0
        ),
        Contender(
            "scikit-fem", with_scikit_fem, {"rings": 3, "stations": 20, "steps": 150}, budget=16.0
        ),
        Contender("FiPy", with_fipy, {"rings": 10, "stations": 64, "steps": 200}, 1, 14.0, False),
        Contender(
            "py-pde", with_py_pde, {"rings": 14, "stations": 96, "digits": 4.0}, 1, 14.0, False
        ),
    ]


def compare(job, contender):
    """Refine one contender to every target. List of rows, one a target."""
    rows = []
    for target, found in zip(TARGETS, tuned(job, contender, TARGETS), strict=True):
        rows.append(
            {
                "tube": job.name,
                "sigma s": job.sigma,
                "target": target,
                "solver": contender.name,
                "ms a lane": 1e3 * found.seconds / contender.lanes,
                "L2 error": found.error,
                "resolution": found.words(),
            }
        )
    return rows


def gains(rows, sharp):
    """How many times faster than the best library, at worst over the sharp jobs. Two floats."""
    single, batch = [], []
    for target in TARGETS:
        for tube in ("a", "b"):
            here = {
                row["solver"]: row["ms a lane"]
                for row in rows
                if (row["tube"], row["sigma s"], row["target"]) == (tube, sharp, target)
            }
            ours = {name: spent for name, spent in here.items() if name.startswith("product")}
            best = min(spent for name, spent in here.items() if name not in ours)
            one, many = ours.values()
            single.append(best / one)
            batch.append(best / many)
    return min(single), min(batch)


def main():
    """Read the options, run, print."""
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--quick", action="store_true", help="the product and scipy only")
    options.add_argument("--json", action="store_true")
    given = options.parse_args()
    # some libraries start threads whatever they are told: one processor for everything
    os.sched_setaffinity(0, {max(os.sched_getaffinity(0))})
    sigmas, began, rows = (0.02,) if given.quick else (0.02, 0.25), time.perf_counter(), []
    for job in jobs(sigmas):
        for contender in contenders(given.quick):
            rows += compare(job, contender)
            if not given.json:
                print(f"  tried: {job.name}, {job.sigma} s, {contender.name}", flush=True)
    single, batch = gains(rows, sigmas[0])
    bars = [
        timing.Bar(
            name=f"{LANES} lanes: times faster a lane than the best library, sharp inlet, worst",
            measured=batch,
            bound=LEAST_BATCH_GAIN,
        ),
        timing.Bar(
            name="one lane: times faster than the best library, sharp inlet, worst",
            measured=single,
            bound=LEAST_SINGLE_GAIN,
        ),
    ]
    budgets = [one.budget for one in contenders(given.quick)]
    notes = [
        "a: bore 0.127 mm, 500 mm, 1.0 mL/min, D 1e-9 m^2/s; b: 0.2 mL/min, D 1e-8 m^2/s",
        f"inf: not reached in the {min(budgets):.0f} to {max(budgets):.0f} s of refining that a "
        "solver is given for a tube; its best error is shown",
        f"{time.perf_counter() - began:.0f} s in all",
    ]
    timing.finish("One tube at equal accuracy", rows, bars, given.json, notes)


if __name__ == "__main__":
    main()
