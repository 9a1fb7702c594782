"""Transfer functions of parts from formulas that share no code with the project's."""

import numpy as np

from reference import transfer as known
from tailrace.parts.column.tailing import by_variance, tail_share

SIGMA = 0.3


def bed_time(one, passing):
    return np.pi / 4 * one.bore**2 * one.length * one.total_porosity / passing.flow_rate


def of_bed(one, passing, omega):
    return known.column(omega, bed_time(one, passing) * (1 + passing.retention_factor), one.plates)


def of_heads(one, passing, omega):
    return known.tanks(omega, one.head_volume / passing.flow_rate, 1) ** 2 * of_bed(
        one, passing, omega
    )


def of_exchange(one, passing, omega):
    # Lapidus and Amundson with first-order exchange: plates of dispersion are what is left
    mobile, k, rate = bed_time(one, passing), passing.retention_factor, one.mass_transfer_rate
    whole = (mobile * (1 + k)) ** 2 / one.plates
    plates = (mobile * (1 + k)) ** 2 / (whole - 2 * mobile * k / rate)
    late = 1j * omega * mobile * (1 + k / (1 + 1j * omega / rate))
    return np.exp(plates * (1 - np.sqrt(1 + 2 * late / plates)))


def of_sites(one, passing, omega):
    # most of the retention in equilibrium, the rest by first-order exchange
    mobile, k, rate = bed_time(one, passing), passing.retention_factor, one.slow_rate
    slow = one.slow_share * k
    plates = (mobile * (1 + k)) ** 2 / (
        (mobile * (1 + k)) ** 2 / one.plates - 2 * mobile * slow / rate
    )
    late = 1j * omega * mobile * (1 + k - slow + slow / (1 + 1j * omega / rate))
    return np.exp(plates * (1 - np.sqrt(1 + 2 * late / plates)))


def of_tail(one, passing, omega):
    # how large the tank is stands in a table, which is held to densities in tests of its own
    whole = bed_time(one, passing) * (1 + passing.retention_factor)
    plates = float(by_variance(one.column_tailing, one.plates))
    tank = float(tail_share(one.column_tailing, plates)) * whole / np.sqrt(plates)
    left = (whole - tank) ** 2 / (whole**2 / plates - tank**2)
    return known.column(omega, whole - tank, left) * known.tanks(omega, tank, 1)


def of_points(one, passing, omega):
    return known.gaussian(omega, SIGMA) * np.exp(-1j * omega * one.signal_times.mean())


def of_tube(one, passing, omega):
    fourier = np.pi * passing.diffusivity * one.length / passing.flow_rate
    return known.tube(
        omega, fourier, np.pi / 4 * one.bore**2 * one.length / passing.flow_rate, modes=24
    )


def of_joint(one, passing, omega):
    time = np.pi / 4 * one.gap_bore**2 * one.gap_length / passing.flow_rate
    core, pocket = time * (1 - one.unswept), time * one.unswept
    return known.joint(omega, core, pocket, one.filling_time(passing))


def of_loop(one, passing, omega):
    # the ways of the last and the first sample, between which all others lie
    area, duration = np.pi / 4 * one.bore**2, one.volume / passing.flow_rate
    near, far = (
        known.tube(omega, np.pi * passing.diffusivity * way / passing.flow_rate,
                   area * way / passing.flow_rate, modes=24)
        for way in (one.length - one.volume / area, one.length)
    )  # fmt: skip
    late = np.where(omega > 0, omega * duration, 1.0)
    return np.where(omega > 0, (near - far) / (1j * late), 1.0)


def through_a_gradient(one, bed, passing, omega):
    """A Gaussian peak through a bed that meets first the hold and then the ramp, in closed form.

    Each element by itself: when it leaves (linear solvent strength), how far it is spread on its
    way, and the transform of an inverse Gaussian density; summed by Gauss and Hermite.
    """
    nodes, weights = np.polynomial.hermite_e.hermegauss(90)
    entering, shares = one.sigma * nodes, weights / weights.sum()
    dead, delay = bed_time(bed, passing), bed.dwell_volume / passing.flow_rate
    (low, high), (begin, end) = bed.programme_fractions, bed.programme_times
    least = bed.weak_factor * 10 ** (-bed.strength * low)
    rise = np.log(10) * bed.strength * (high - low) / (end - begin)
    held = (delay - entering) / (dead * least)  # of the column, passed before the ramp comes
    gain = 1 / least + (1 - held) * rise * dead  # 1/k where it leaves
    leaving = dead + delay + np.log(gain * least) / rise
    on_ramp = ((1 + gain) ** 3 - (1 + 1 / least) ** 3) / (3 * rise * dead)
    spread = (dead / gain) ** 2 / bed.plates * (held * (1 + 1 / least) ** 2 + on_ramp)
    way, late = leaving - entering, 1j * np.asarray(omega)[..., None]
    moved = np.exp(way**2 / spread * (1 - np.sqrt(1 + 2 * late * spread / way)) - late * entering)
    return moved @ shares


def through_a_plug(one, bed, passing, omega):
    """A Gaussian peak into a bed that a plug of other liquid passes, in closed form."""
    edges, size = np.linspace(-9, 9, 37) * one.sigma, np.sqrt(2 * np.pi) * one.sigma
    return _past_a_plug(
        lambda times: np.exp(-0.5 * (times / one.sigma) ** 2) / size, edges, bed, passing, omega
    )


def sharply_through_a_plug(one, tank, bed, passing, omega):
    """The same of a plug behind a small stirred tank, which rises and falls exponentially."""
    plug, time = one.volume / passing.flow_rate, tank.volume / passing.flow_rate
    steps = time * np.concatenate([np.arange(8) / 2, np.geomspace(4, 40, 13)])
    inner = plug * np.linspace(0, 1, 9)
    edges = np.unique(np.concatenate([inner, steps[steps < plug], plug + steps]))

    def density(times):
        rising = -np.expm1(-np.minimum(times, plug) / time)
        return rising * np.exp(-np.maximum(times - plug, 0) / time) / plug

    return _past_a_plug(density, edges, bed, passing, omega)


def _past_a_plug(density, edges, bed, passing, omega):
    """k is that of the plug from its begin to its end in retarded time, and the eluent's otherwise:
    so what an element has migrated is a table of straight lines, and what it is spread by another;
    between their corners by Gauss's rule.
    """
    dead, flow = bed_time(bed, passing), passing.flow_rate
    begin = bed.sample_delay / flow
    end = begin + bed.sample_volume / flow
    knots = np.array([-1e4, begin, end, 1e4])
    factors = np.array([passing.retention_factor, bed.sample_factor, passing.retention_factor])
    paces = 1 / (dead * factors)
    way = np.concatenate([[0.0], np.cumsum(paces * np.diff(knots))])
    spreading = paces * (1 + 1 / factors) ** 2 / bed.plates
    wide = np.concatenate([[0.0], np.cumsum(spreading * np.diff(knots))])
    corners = [begin, end, *np.interp(np.interp([begin, end], knots, way) - 1, way, knots)]
    first, last = edges[[0, -1]]
    edges = np.sort([*corners, *edges])
    edges = edges[(edges >= first) & (edges <= last)]
    nodes, weights = np.polynomial.legendre.leggauss(20)
    entering = (edges[:-1, None] + np.diff(edges)[:, None] * (nodes + 1) / 2).ravel()
    shares = (np.diff(edges)[:, None] * weights / 2).ravel() * density(entering)
    arriving = np.interp(np.interp(entering, knots, way) + 1, way, knots)
    last = factors[np.searchsorted(knots, arriving) - 1]
    spread = np.interp(arriving, knots, wide) - np.interp(entering, knots, wide)
    spread = spread * (dead * last) ** 2
    leaving = arriving + dead
    on_way, late = leaving - entering, 1j * np.asarray(omega)[..., None]
    root = np.sqrt(1 + 2 * late * spread / on_way)
    return np.exp(on_way**2 / spread * (1 - root) - late * entering) @ shares


def in_tanks(mean=False):
    form = known.tanks_mean if mean else known.tanks
    return lambda one, passing, omega: form(omega, one.volume / passing.flow_rate, one.tanks)


def of_plug(one, passing, omega):
    return known.plug(omega, one.volume / passing.flow_rate)


def of_washout(one, passing, omega):
    # a rectangle, and behind it the exponential that begins at its height
    plug, rest = one.volume / passing.flow_rate, one.washout_volume / passing.flow_rate
    tail = np.exp(-1j * omega * plug) * rest / (1 + 1j * omega * rest)
    return (known.plug(omega, plug) * plug + tail) / (plug + rest)


def of_detector(one, passing, omega):
    return known.plug(omega, one.moving_average) / (1 + 1j * omega * one.time_constant)


def of_peak(one, passing, omega):
    return known.gaussian(omega, one.sigma)
