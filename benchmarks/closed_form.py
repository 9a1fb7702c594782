"""Mean, variance and skewness of a random instrument in closed form, from its document alone.

Cumulants of every part add up: of tubes from Galerkin modes in the radius (``exact.py``) and the
exponential along the length, differentiated; of everything else by Cauchy's integral about
frequency zero of its transfer function, from ``tests/reference`` or written here. Nothing of
``tailrace`` is used.
"""

import sys
from functools import cache, partial
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from exact import galerkin
from reference import transfer
from scipy.linalg import expm

SI = {"mm": 1e-3, "um": 1e-6, "uL": 1e-9, "s": 1.0, "mL/min": 1e-6 / 60, "m^2/s": 1.0}
POINTS, FEW, MANY = 32, 12, 20
"""On the circle; radial modes, and more of them, from which the error of the first is seen."""
JET = 5.0
"""Flow that a joint's ring exchanges with its jet, over the flow (stated by ``tailrace check``)."""


def si(text):
    """A text such as "0.12 mm" in SI."""
    number, unit = str(text).split()
    return float(number) * SI[unit]


def cylinder(bore, length):
    """Volume in m^3 of a bore and a length as texts."""
    return np.pi / 4 * si(bore) ** 2 * si(length)


def washed_out(omega, plug, tail):
    """A plug, and an exponential that begins where it ends, as high as the plug."""
    behind = np.exp(-1j * omega * plug) / (1 + 1j * omega * tail)
    return (plug * transfer.plug(omega, plug) + tail * behind) / (plug + tail)


def _injected(told, flow):
    if told["shape"] == "gaussian":
        deviation = si(told["sigma"])
        return partial(transfer.gaussian, sigma=deviation), 0.0, deviation**2
    plug = si(told["volume"]) / flow
    if told["shape"] == "plug":
        return partial(transfer.plug, duration=plug), plug / 2, plug**2 / 12
    tail = si(told["washout_volume"]) / flow
    rough = plug**2 / 12 + (plug + tail) * tail
    return partial(washed_out, plug=plug, tail=tail), plug / 2 + tail, rough


def _joint(told, flow, diffusivity):
    """A stirred core and a ring: filled by diffusion and by what the jet draws in."""
    whole = cylinder(told["gap_bore"], told["gap_length"]) / flow
    pocket = told["unswept"] * whole
    depth = si(told["gap_bore"]) / 2 * (1 - np.sqrt(1 - told["unswept"]))
    filling = 1 / (diffusivity / depth**2 + JET / (3 * pocket)) if pocket else 0.0
    call = partial(transfer.joint, core=whole - pocket, pocket=pocket, filling=filling)
    return call, whole, whole**2 + 2 * pocket * filling / 3


@cache
def radial(modes):
    """Exchange and held, as (modes, modes) arrays, and the uniform profile."""
    return galerkin(modes)


@cache
def tube_cumulants(fourier, modes):
    """Mean, variance and third cumulant over powers of the residence time.

    s exp(X (E - i w M)) s by orders of w, from one exponential of a block matrix.
    """
    exchange, held, start = radial(modes)
    order = np.eye(4, k=1)
    whole = expm(np.kron(np.eye(4), exchange * fourier) + np.kron(order, held))
    one, first, second, third = (
        start @ whole[:modes, at * modes : (at + 1) * modes] @ start for at in range(4)
    )
    mean, square, cube = first / one, 2 * second / one, 6 * third / one
    return mean, square - mean**2, cube - 3 * mean * square + 2 * mean**3


def by_cauchy(call, mean, deviation):
    """The same of a transfer function, s; ``mean`` and ``deviation`` roughly."""
    if not deviation:
        return mean, 0.0, 0.0
    radius = 0.1 / deviation
    circle = np.exp(2j * np.pi * np.arange(POINTS) / POINTS)
    one = np.log(call(radius * circle) * np.exp(1j * radius * circle * mean))
    logarithm = one.real + 1j * np.unwrap(one.imag)
    first, second, third = (np.mean(logarithm / circle**k) / radius**k for k in (1, 2, 3))
    return mean + (1j * first).real, (-2 * second).real, (-6j * third).real


def parts_of(document, solute, modes):
    """The cumulants of each part."""
    flow, diffusivity = si(document["method"]["flow"]), si(solute["diffusivity"])
    known = [_injected(document["injection"], flow)]
    for told in document["path"]:
        if told["part"] == "tube":
            held = cylinder(told["bore"], told["length"]) / flow
            fourier = np.pi * diffusivity * si(told["length"]) / flow
            yield tuple(one * held**k for k, one in enumerate(tube_cumulants(fourier, modes), 1))
        elif told["part"] == "fitting":
            known.append(_joint(told, flow, diffusivity))
        elif told["part"] == "column":
            held = cylinder(told["bore"], told["length"]) * told["porosity"] / flow
            held *= 1 + solute["retention_factor"]
            call = partial(transfer.column, retention=held, plates=told["plates"])
            known.append((call, held, held**2 / told["plates"]))
        else:
            held, number = si(told["volume"]) / flow, told.get("tanks", 1)
            call = partial(transfer.tanks, residence=held, number=number)
            known.append((call, held, held**2 / number))
    constant = si(document["detector"]["time_constant"])
    filtered = partial(transfer.tanks, residence=constant, number=1)
    known.append((filtered, constant, constant**2))
    if document["detector"].get("averaged"):
        width = si(document["detector"]["interval"])
        known.append((partial(transfer.plug, duration=width), width / 2, width**2 / 12))
    for call, mean, variance in known:
        yield by_cauchy(call, mean, np.sqrt(variance))


def known(document, solute):
    """Mean in s, variance in s^2, skewness of what is recorded of a solute, and how far each may be
    off, from the radial modes: two (3,) arrays."""
    found = []
    for modes in (FEW, MANY):
        mean, variance, third = np.sum(list(parts_of(document, solute, modes)), axis=0)
        found.append((mean, variance, third / variance**1.5))
    return np.array(found[1]), np.abs(np.subtract(*found))
