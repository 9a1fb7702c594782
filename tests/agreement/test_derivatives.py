"""Derivatives of metrics against formulas and differences that share no code with them."""

from dataclasses import fields, replace
from functools import partial

import mpmath
import numpy as np
import pytest
from reference import bends
from reference import transfer as known
from reference.gradients import column
from reference.journeys import gaussian
from reference.outline import read
from reference.parts import (
    in_tanks,
    of_bed,
    of_detector,
    of_exchange,
    of_heads,
    of_joint,
    of_loop,
    of_peak,
    of_plug,
    of_points,
    of_sites,
    of_tail,
    of_tube,
    of_washout,
    through_a_gradient,
    through_a_plug,
)

from tailrace.eluent.stream import Stream
from tailrace.errors import AccuracyError
from tailrace.journey import Itinerary
from tailrace.journey.migration import by_products
from tailrace.journey.product import multiplied, multiply
from tailrace.journey.propagation import spread
from tailrace.parts import KINDS
from tailrace.parts.base import ALIKE
from tailrace.parts.cell.part import Cell
from tailrace.parts.chamber.part import Chamber
from tailrace.parts.column.gradient import MigrationColumn
from tailrace.parts.column.part import Column
from tailrace.parts.detector.part import Detector
from tailrace.parts.fitting.part import Fitting
from tailrace.parts.injector.part import Injector
from tailrace.parts.tee.part import Tee
from tailrace.parts.tube.bent import spectrum
from tailrace.parts.tube.loop.part import Loop
from tailrace.parts.tube.part import Tube
from tailrace.signals.resolution import Resolution
from tailrace.studies.cases import joined
from tailrace.studies.derivatives import derivatives, of_signal

FLOW, WITHIN = 1e-8, 1e-6
LIQUID = Stream(flow_rate=FLOW, diffusivity=1e-9, viscosity=1e-3, retention_factor=2.0, amount=1e-9)
PEAK = gaussian(0.3)
BED = Column(name="bed", bore=2.1e-3, length=0.1, particle_diameter=2.7e-6, plates=9000.0)
FINE = Resolution(refinement=2.0)
OFFSETS = {-3: -1 / 60, -2: 3 / 20, -1: -3 / 4, 1: 3 / 4, 2: -3 / 20, 3: 1 / 60}


def moved(parts, numbers):
    """The path with some numbers of parts, by place and name, and of the liquid (place -1)."""

    def build(row):
        changed, stream = list(parts), LIQUID
        for (at, name), value in zip(numbers, row, strict=True):
            if at < 0:
                stream = replace(stream, **{name: float(value)})
            else:
                changed[at] = replace(changed[at], **{name: float(value)})
        return Itinerary(lanes=("solute",), passages=tuple((part, stream) for part in changed))

    return build


def differentiated(parts, numbers):
    holders = [LIQUID if at < 0 else parts[at] for at, _ in numbers]
    values = [getattr(one, name) for one, (_, name) in zip(holders, numbers, strict=True)]
    return derivatives(moved(parts, numbers), np.array(values), [(0.0, np.inf)] * len(values))


ALL = ("flow_rate", "diffusivity")
POINTS = np.linspace(0.0, 4.8, 97)
MEASURED = Injector(
    shape="signal", signal_times=POINTS, signal_heights=np.exp(-((POINTS - 2.4) ** 2) / 2 / 0.09)
)
RAMP = column(6.0, 300.0, 4.0, ((0.0, 0.2), (60.0, 0.9)), dwell=8.0)
FOCUSING = MigrationColumn(
    **{one.name: getattr(BED, one.name) for one in fields(BED)},
    sample_factor=6.0,
    sample_volume=3e-8,
    sample_delay=-2e-8,
)
LOOP = Loop(name="loop", bore=2.5e-4, length=0.15, volume=3e-9, emptied="forwards")
OVERLOADED = (PEAK, replace(BED, capacity=1e-6))
TEE = (PEAK, Tee(name="tee", volume=4e-9, make_up=5e-9))
CASES = {
    "plug": ((Injector(volume=2e-8), BED), (of_plug, of_bed), ["volume"], []),
    "washout": (
        (Injector(shape="washout", volume=1e-8, washout_volume=2e-8), BED),
        (of_washout, of_bed),
        ["volume", "washout_volume"],
        [],
    ),
    "column": (
        (PEAK, BED),
        (of_peak, of_bed),
        ["sigma"],
        ["bore", "length", "plates", "external_porosity"],
    ),
    "heads": (
        (PEAK, replace(BED, head_volume=2e-9, plates_include_head=False)),
        (of_peak, of_heads),
        [],
        ["head_volume"],
    ),
    "exchange": (
        (PEAK, replace(BED, kinetics="lumped", mass_transfer_rate=400.0)),
        (of_peak, of_exchange),
        [],
        ["mass_transfer_rate", "plates", "bore"],
    ),
    "two kinds of site": (
        (PEAK, replace(BED, kinetics="two-site", slow_share=0.1, slow_rate=20.0)),
        (of_peak, of_sites),
        [],
        ["slow_share", "slow_rate"],
    ),
    "tailing column": (
        (PEAK, replace(BED, column_tailing=1.31)),
        (of_peak, of_tail),
        [],
        ["column_tailing", "plates"],
    ),
    "measured injection": ((MEASURED, BED), (of_points, of_bed), [], ["length", "plates"]),
    "short tube": (
        (PEAK, Tube(name="tube", bore=2e-4, length=0.2)),
        (of_peak, of_tube),
        [],
        ["bore"],
    ),
    "long tube": (
        (PEAK, Tube(name="tube", bore=1e-4, length=3.0)),
        (of_peak, of_tube),
        [],
        ["length"],
    ),
    "tube that is a loop": ((LOOP, BED), (of_loop, of_bed), ["volume", "bore"], ["length"]),
    "gradient": (
        (replace(PEAK, sigma=0.9), RAMP),
        through_a_gradient,
        ["sigma"],
        ["strength"],
    ),
    "gradient in full": (
        (replace(PEAK, sigma=0.9), RAMP),
        through_a_gradient,
        [],
        ["dwell_volume", "weak_factor", "plates", "length"],
    ),
    "sample in a solvent of its own": (
        (replace(PEAK, sigma=2.0), FOCUSING),
        through_a_plug,
        [],
        ["sample_volume"],
    ),
    "sample in a solvent of its own in full": (
        (replace(PEAK, sigma=2.0), FOCUSING),
        through_a_plug,
        ["sigma"],
        ["sample_factor", "sample_delay", "plates", "length"],
    ),
    "pocket": (
        (PEAK, Fitting(name="joint", gap_bore=1e-3, gap_length=3e-3, unswept=0.3)),
        (of_peak, of_joint),
        [],
        ["gap_bore", "gap_length", "unswept", "exchange"],
    ),
    "chamber": (
        (PEAK, Chamber(name="mixer", volume=4e-9, tanks=2.5)),
        (of_peak, in_tanks()),
        [],
        ["volume", "tanks"],
    ),
    "mean of a cell": (
        (PEAK, Cell(name="cell", volume=4e-9, tanks=3, read="mean")),
        (of_peak, in_tanks(mean=True)),
        [],
        ["volume"],
    ),
    "detector": (
        (PEAK, Detector(time_constant=0.2, moving_average=0.3)),
        (of_peak, of_detector),
        [],
        ["time_constant", "moving_average"],
    ),
}


def by_differences(parts, factors, number, sizes):
    """Slopes of what ``read`` reads with the logarithm of a number, from the reference alone."""
    (at, name), total, step = number, 0.0, 1e-4  # within a cell of any table
    value = getattr(LIQUID if at < 0 else parts[at], name)
    for offset, weight in OFFSETS.items():
        passages = moved(parts, [number])([value * (1 + offset * step)]).passages

        def spectrum(omega, passages=passages):
            some, (to, *_) = zip(*passages, strict=True)
            if callable(factors):
                return factors(*some, to, omega)
            return factors[0](some[0], to, omega) * factors[1](some[1], to, omega)

        total = total + weight / step * read(spectrum, *sizes)
    return total


@pytest.mark.parametrize("name", CASES)
def test_slopes_are_those_of_solutions_made_elsewhere(name):
    parts, factors, *fields = CASES[name]
    numbers = [(at, field) for at in (0, 1) for field in fields[at]]
    tube = "tube" in name  # its reference takes long: length does what flow and diffusivity do
    numbers += [(-1, field) for field in (() if tube else ALL if name == "pocket" else ALL[:1])]
    of_formulas(parts, factors, numbers, 12 if tube else 40)


def of_formulas(parts, factors, numbers, highest=40):
    """Holds slopes of a path to differences of what is read off its spectrum."""
    found = differentiated(parts, numbers)
    metrics = ("apex", "width_half", "tailing_5")
    variance, mean, _, *widths = (
        found.metrics[f"recorded/{one}"][0, 0] for one in ("variance", "mean", *metrics)
    )
    deviation = np.sqrt(variance)
    sizes, scales = (deviation, mean, highest), (deviation, *widths)
    for row, (at, field) in enumerate(numbers):
        value = getattr(LIQUID if at < 0 else parts[at], field)
        wanted = by_differences(parts, factors, (at, field), sizes)
        slopes = [found.slopes(f"recorded/{one}")[row, 0] * value for one in metrics]
        largest = np.maximum(np.abs(wanted), scales)
        assert np.all(np.abs(slopes - wanted) < WITHIN * largest), (field, slopes, wanted)


def of_bends(parts, numbers, through, highest=12, within=WITHIN):
    """Holds slopes of a path of tubes to differences of curves ``through`` them: of an order of
    terms over the section, or another function of chain and frequencies."""
    if isinstance(through, int):
        through = partial(bends.between, order=through)
    found = differentiated(parts, numbers)
    names = ("apex", "width_half", "tailing_5")
    variance, mean, *values = (
        found.metrics[f"recorded/{one}"][0, 0] for one in ("variance", "mean", *names)
    )
    sizes, scales = (np.sqrt(variance), mean, highest), (np.sqrt(variance), *values[1:])

    def curve(one, passages):
        chain = tuple(stretch for part, to in passages for stretch in part.chains(to.over(1))[0])
        return lambda omega: known.gaussian(omega, one.sigma) * through(chain, omega)

    for row, (at, field) in enumerate(numbers):
        value, wanted = getattr(LIQUID if at < 0 else parts[at], field), 0.0
        step = 1e-3  # fourth order of this is below rounding
        for offset, weight in ((-2, 1 / 12), (-1, -2 / 3), (1, 2 / 3), (2, -1 / 12)):
            (one, _), *passages = moved(parts, [(at, field)])(
                [value * (1 + offset * step)]
            ).passages
            wanted = wanted + weight / step * read(curve(one, passages), *sizes)
        slopes = [found.slopes(f"recorded/{one}")[row, 0] * value for one in names]
        largest = np.maximum(np.abs(wanted), scales)
        assert np.all(np.abs(slopes - wanted) < within * largest), (field, slopes, wanted)
    return found


WIDE_BEND = Tube(name="tube", bore=2e-4, length=0.2, bend_radius=1.4)


def test_a_tube_that_is_bent():
    """A short one, which is not in the table."""
    short = replace(WIDE_BEND, length=0.08)
    of_bends((PEAK, short), [(1, "bend_radius"), (1, "bore"), (-1, "diffusivity")], 22)


def test_a_bent_tube_that_is_read_from_the_table():
    """Pieces of the table meet there with kinks in their slopes."""

    def through(chain, omega):
        ((one,), rates) = chain, omega[None] * chain[0].radial_time
        numbers = (np.array([at]) for at in (one.dean, one.strength, one.length))
        return spectrum.response(*numbers, rates)[0]

    numbers = [(1, "bend_radius"), (1, "bore"), (-1, "diffusivity")]
    of_bends((PEAK, WIDE_BEND), numbers, through, within=2e-6)


def test_a_bend_that_hands_its_profile_on():
    first = Tube(name="first", bore=2.2e-4, length=0.15, bend_radius=0.4, hands_on=True)
    last = Tube(name="last", bore=2e-4, length=0.2, bend_radius=0.9, inlet="carried over")
    of_bends((PEAK, first, last), [(1, "bore"), (2, "bend_radius"), (-1, "flow_rate")], 20)


def test_one_tube_in_two_pieces_that_are_entered_as_they_are_left():
    """Against the straight tube of both lengths, whose cumulants and curves are known."""
    first = Tube(name="first", bore=2e-4, length=0.15, hands_on=True)
    last = Tube(name="last", bore=2e-4, length=0.2, inlet="carried over")
    numbers = [(1, "length"), (2, "length"), (-1, "diffusivity")]
    pieces = differentiated((PEAK, first, last), numbers)
    whole = differentiated((PEAK, replace(first, length=0.35, hands_on=False)), numbers[::2])
    for name in ("apex", "width_half", "tailing_5", "variance", "skewness", "plates_moments"):
        one, other = (found.slopes(f"recorded/{name}")[:, 0] for found in (pieces, whole))
        assert one[:2] == pytest.approx(other[[0, 0]], rel=WITHIN), name
        assert one[2] == pytest.approx(other[1], rel=WITHIN), name


def test_an_exponentially_modified_gaussian_to_thirty_digits():
    """A Gaussian through one stirred tank: its curve in closed form, differentiated by mpmath."""
    sigma, volume = 0.3, 4e-9
    parts = (replace(PEAK, sigma=sigma), Chamber(name="tank", volume=volume, tanks=1))
    found = differentiated(parts, [(0, "sigma"), (1, "volume"), (-1, "flow_rate")])

    def metrics(sigma, volume, flow):
        tau = volume / flow

        def curve(t):
            inner = (sigma / tau - t / sigma) / mpmath.sqrt(2)
            return mpmath.exp(sigma**2 / (2 * tau**2) - t / tau) / (2 * tau) * mpmath.erfc(inner)

        apex = mpmath.findroot(lambda t: mpmath.diff(curve, t), 0.2)
        top = curve(apex)
        ends = [
            [mpmath.findroot(lambda t, f=f: curve(t) - f * top, start) for start in starts]
            for f, starts in ((0.5, (-0.2, 0.8)), (0.05, (-0.6, 1.6)))
        ]
        (front, tail), (early, late) = ends
        return apex, top, tail - front, (late - early) / (2 * (apex - early))

    with mpmath.workdps(30):
        at = [mpmath.mpf(one) for one in (sigma, volume, FLOW)]
        exact = metrics(*at)
        names = ("apex", "height", "width_half", "tailing_5")
        for which, name in enumerate(names):
            assert found.metrics[f"recorded/{name}"][0, 0] == pytest.approx(
                float(exact[which]), rel=1e-7
            )
            for place in range(3):

                def along(x, place=place, which=which):
                    return metrics(*(x if k == place else one for k, one in enumerate(at)))[which]

                wanted = float(mpmath.diff(along, at[place], h=mpmath.mpf(10) ** -10 * at[place]))
                slope = found.slopes(f"recorded/{name}")[place, 0]
                assert slope == pytest.approx(wanted, rel=WITHIN), (name, place)


def test_the_signal_itself_has_slopes_at_any_time():
    """A Gaussian through one tank again; and, of a whole path, the curve of the product itself."""
    parts = (replace(PEAK, sigma=0.3), Chamber(name="tank", volume=4e-9, tanks=1))
    numbers = [(0, "sigma"), (1, "volume"), (-1, "flow_rate")]
    times = np.array([-0.7, 0.0, 0.21, 0.9, 2.3, -9.0, 60.0])
    found = of_signal(
        moved(parts, numbers), np.array([0.3, 4e-9, FLOW]), [(0.0, np.inf)] * 3, times
    )
    top = found.values.max()

    def curve(t, sigma, volume, flow):
        tau = volume / flow
        inner = (sigma / tau - t / sigma) / mpmath.sqrt(2)
        return mpmath.exp(sigma**2 / (2 * tau**2) - t / tau) / (2 * tau) * mpmath.erfc(inner)

    with mpmath.workdps(30):
        at = [mpmath.mpf(one) for one in (0.3, 4e-9, FLOW)]
        for place, time in enumerate(times):
            own = (mpmath.mpf(float(time)), *at)
            assert abs(found.values[0, place] - float(curve(*own))) < WITHIN * top
            rows = (found.turned[0], *found.slopes[:, 0])
            for which, (slopes, scale) in enumerate(zip(rows, (1, *at), strict=True)):
                order = tuple(int(one == which) for one in range(4))
                step = mpmath.mpf(10) ** -10 * scale
                wanted = mpmath.diff(curve, own, order, h=step)
                assert abs(slopes[place] * float(scale) - float(wanted * scale)) < WITHIN * top


def test_the_signal_of_a_path_is_that_of_its_product():
    cell = Cell(name="cell", volume=4e-9, tanks=2)
    parts = (PEAK, BED, cell, Detector(time_constant=0.1, interval=0.05))
    build = moved(parts, [(2, "volume"), (3, "interval")])
    band = multiplied(spread(build([4e-9, 0.05])))[0]
    times = band.times[0][::7]
    found = of_signal(build, np.array([4e-9, 0.05]), [(0.0, np.inf)] * 2, times)
    assert found.values[0] == pytest.approx(band.values[0, ::7], abs=1e-7 * band.values.max())
    # which points are taken of the curve does not change it
    assert np.abs(found.slopes[1]).max() * 0.05 < 1e-7 * band.values.max()
    with pytest.raises(AccuracyError, match="derivatives are those of products"):
        of_signal(moved(OVERLOADED, [(1, "bore")]), np.array([2e-3]), [(0.0, np.inf)], times)


def test_what_is_made_of_metrics_and_closed_forms_has_slopes_too():
    tube = Tube(name="tube", bore=2e-4, length=0.2)
    cell = Cell(name="cell", volume=4e-9, tanks=2)
    parts = (PEAK, BED, tube, cell, Detector(time_constant=0.1))
    found = differentiated(parts, [(2, "bore"), (-1, "flow_rate")])
    # Hagen and Poiseuille: the drop of the tube goes with bore^-4
    drop = found.metrics["pressure/drop"][0]
    slopes = found.slopes("pressure/drop")
    assert slopes[0, 1] == pytest.approx(-4 * drop[1] / tube.bore, rel=1e-9)
    # variance in volume, sum of cumulants; plates from moments; what the light beam sees
    mean, variance = (found.metrics[f"recorded/{one}"][0, 0] for one in ("mean", "variance"))
    turned = [found.slopes(f"recorded/{one}")[1, 0] for one in ("mean", "variance")]
    plates = 2 * mean * turned[0] / variance - mean**2 * turned[1] / variance**2
    assert found.slopes("recorded/plates_moments")[1, 0] == pytest.approx(plates, rel=1e-9)
    logarithms = [
        found.slopes(f"{group}/{one}")[0, 0] / found.metrics[f"{group}/{one}"][0, 0]
        for group, one in (("recorded", "height"), ("signal", "concentration_recorded"))
    ]
    assert logarithms[0] == pytest.approx(logarithms[1], rel=1e-9)
    # the column by itself knows nothing of the tube
    assert np.abs(found.slopes("column_alone/width_half")[0, 0]) * tube.bore < 1e-9


def test_at_a_bound_from_inside_and_at_none():
    build = moved((PEAK, BED, Detector()), [(2, "moving_average")])
    edge = derivatives(build, np.zeros(1), [(0.0, np.inf)], np.ones(1))
    # the mean over the time before is late by half of it, and no wider at first
    for name, wanted in (("mean", 0.5), ("apex", 0.5), ("variance", 0.0)):
        assert edge.slopes(f"recorded/{name}")[0, 0] == pytest.approx(wanted, abs=1e-7)
    with pytest.raises(AccuracyError, match="size of input 1"):
        derivatives(build, np.zeros(1), [(0.0, np.inf)])


def test_two_columns_with_a_gradient_between_other_parts():
    """Against journeys a long way to either side: to what these are known to."""
    mixer, cell = Chamber(name="mixer", volume=6e-9, tanks=2), Cell(name="cell", volume=8e-9)
    first = column(6.0, 12.0, 2.0, ((0.0, 0.2), (300.0, 0.6)), head_volume=2e-9, plates=8e3)
    parts = (Injector(volume=1.5e-8), mixer, first, cell, replace(RAMP, name="second"),
             Detector(time_constant=0.2))  # fmt: skip
    numbers = [(1, "volume"), (2, "head_volume"), (4, "dwell_volume"), (-1, "flow_rate")]
    found = differentiated(parts, numbers)
    build, step = moved(parts, numbers), 0.01
    now = np.array([getattr(LIQUID if at < 0 else parts[at], field) for at, field in numbers])
    offsets, weights = np.array([*OFFSETS]), np.array([*OFFSETS.values()]) / step
    for row, number in enumerate(numbers):
        beside = now * np.ones((len(offsets), 1))
        beside[:, row] *= 1 + offsets * step
        made = by_products(replace(joined([build(one) for one in beside]), resolution=FINE))
        for group, metric in (
            ("recorded", "apex"),
            ("recorded", "width_half"),
            ("recorded", "variance"),
            ("column_alone", "width_half"),
        ):
            size = found.metrics[f"{group}/width_half"][0, 0]
            size = size**2 if metric == "variance" else size
            slope = found.slopes(f"{group}/{metric}")[row, 0] * now[row]
            wanted = weights @ getattr(made, group)[metric]
            assert slope == pytest.approx(wanted, abs=3e-4 * size), (group, metric, number)


def test_a_tee_and_what_lies_behind_it():
    found, tee = differentiated(TEE, [(1, "volume")]), TEE[1]
    share = found.slopes("recorded/mean")[0, 0] * tee.volume / found.metrics["recorded/mean"][0, 0]
    assert share == pytest.approx(1.0, rel=1e-9)


def test_what_is_no_product_has_none():
    with pytest.raises(AccuracyError, match="derivatives are those of products"):
        differentiated(OVERLOADED, [(1, "bore")])


def test_every_kind_is_among_them():
    kinds = {part.kind for parts, *_ in CASES.values() for part in parts} | {TEE[1].kind}
    assert kinds == set(KINDS)


@pytest.mark.parametrize("name", [*(one for one in CASES if not CASES[one][0][1].focuses), "tee"])
def test_every_number_of_a_path_has_slopes(name):
    parts = TEE if name == "tee" else CASES[name][0]
    numbers = [
        (at, one.name)
        for at, holder in ((0, parts[0]), (1, parts[1]), (-1, LIQUID))
        for one in fields(holder)
        if (at >= 0 or one.name in (*ALL, "viscosity", "retention_factor"))
        and isinstance(value := getattr(holder, one.name), float)
        and np.isfinite(value)
        and value
        and one.name not in ALIKE
    ]
    assert {(-1, "flow_rate"), (-1, "diffusivity")} <= set(numbers)
    found, step = differentiated(parts, numbers), 2e-4  # within a cell of any table
    build = moved(parts, numbers)
    now = np.array([getattr((LIQUID if at < 0 else parts[at]), field) for at, field in numbers])
    offsets, weights = np.array([*OFFSETS]), np.array([*OFFSETS.values()]) / step
    for row, number in enumerate(numbers):
        beside = now * np.ones((len(offsets), 1))
        beside[:, row] *= 1 + offsets * step
        values = multiply(joined([build(one) for one in beside])).recorded
        for metric in ("width_half", "variance"):
            size = found.metrics[f"recorded/{metric}"][0, 0]
            slope = found.slopes(f"recorded/{metric}")[row, 0] * now[row]
            assert slope == pytest.approx(weights @ values[metric], abs=2e-4 * size), number
