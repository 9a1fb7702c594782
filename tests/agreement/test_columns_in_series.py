"""Several columns on one path: sums by hand, one column cut in two, rows of stirred plates."""

import numpy as np
import pytest
from reference.gradients import FLOW, stream
from scipy.integrate import solve_ivp

from tailrace.journey.itinerary import Itinerary
from tailrace.journey.travelling import travel
from tailrace.parts.column.gradient import GradientColumn
from tailrace.parts.injector.part import Injector
from tailrace.parts.placed import placed
from tailrace.parts.tube.part import Tube
from tailrace.report.sentences import conclusion
from tailrace.report.tables import recorded_table
from tailrace.scenario.scenario import Scenario
from tailrace.studies.improving.instruments import Workshop

BORE, LENGTHS, PLATES, K = 2.1e-3, {"guard column": 5e-3, "column": 0.1}, (600.0, 15000.0), 1.5
POROSITY, PUMPED = 0.6, 0.5e-6 / 60


def scenario(*parts, more="", solute=f"retention_factor = {K}"):
    """A scenario with these parts on its path."""
    return f"""
[method]
flow = "0.5 mL/min"
viscosity = "0.6 mPa*s"
[[solutes]]
name = "a"
diffusivity = "1e-9 m^2/s"
{solute}
[injection]
shape = "gaussian"
sigma = "20 ms"
{more}
""" + "\n".join(parts)


def packed(name, length, plates, more=""):
    return f"""
[[path]]
name = "{name}"
part = "column"
bore = "2.1 mm"
length = "{1000 * length:.6g} mm"
particle_diameter = "2.7 um"
porosity = {POROSITY}
plates = {plates:g}
{more}
"""


COUPLER = '[[path]]\nname = "coupler"\npart = "tube"\nbore = "0.12 mm"\nlength = "50 mm"\n'
PAIR = tuple(map(packed, LENGTHS, LENGTHS.values(), PLATES))


def moments_of(text):
    result = travel(Scenario.from_text(text).itinerary())
    return result, [float(result.recorded[name][0]) for name in ("mean", "variance", "skewness")]


def by_hand():
    """Mean, variance and third cumulant of both columns: t0 (1 + k), t^2 / N, 3 t^3 / N^2.

    Moments of the inverse Gaussian density (Lapidus and Amundson, J. Phys. Chem. 56 (1952) 984).
    """
    times = np.pi / 4 * BORE**2 * np.array([*LENGTHS.values()]) * POROSITY / PUMPED * (1 + K)
    plates = np.array(PLATES)
    return times.sum(), (times**2 / plates).sum(), (3 * times**3 / plates**2).sum()


def test_a_guard_column_and_a_column_add_their_cumulants():
    _, found = moments_of(scenario(*PAIR))
    mean, variance, third = by_hand()
    variance += 0.02**2
    assert found == pytest.approx([mean, variance, third / variance**1.5], rel=1e-6)


def test_the_column_alone_is_both_columns_with_nothing_between():
    result, _ = moments_of(scenario(PAIR[0], COUPLER, PAIR[1]))
    mean, variance, third = by_hand()
    own = result.column_band
    times, share = own.times[0], own.values[0] / own.values[0].sum()
    centre = share @ times
    coupler = next(part for part in result.parts if part.name == "coupler")
    assert centre == pytest.approx(mean + coupler.mean_closed_form[0], rel=1e-7)
    assert share @ (times - centre) ** 2 == pytest.approx(variance, rel=1e-6)
    assert share @ (times - centre) ** 3 == pytest.approx(third, rel=1e-5)
    plates = result.column_alone["plates_half_height"][0]
    assert plates == pytest.approx(mean**2 / variance, rel=2e-3)


def test_heads_and_retention_times_hold_for_both():
    heads = [
        packed(*row, 'head_volume = "0.2 uL"')
        for row in zip(LENGTHS, LENGTHS.values(), PLATES, strict=True)
    ]
    _, found = moments_of(scenario(*heads))
    mean, _, _ = by_hand()
    head = 0.2e-9 / PUMPED
    assert found[0] == pytest.approx(mean + 4 * head, rel=1e-6)
    timed = scenario(*heads, solute=f'retention_time = "{found[0]:.9f} s"')
    read = Scenario.from_text(timed).document.solutes[0].retention_factor
    assert read == pytest.approx(K, rel=1e-6)


ROWS = ((0.0, 0.1), (300.0, 0.7))
KW, S, DWELL = 200.0, 5.0, 30.0


def column(name, dead_time, plates, dwell=DWELL):
    return GradientColumn(
        name=name,
        bore=np.sqrt(4 * dead_time * FLOW / (np.pi * POROSITY * 0.1)),
        length=0.1,
        particle_diameter=2.7e-6,
        plates=plates,
        porosity=POROSITY,
        weak_factor=KW,
        strength=S,
        programme_times=np.array(ROWS)[:, 0],
        programme_fractions=np.array(ROWS)[:, 1],
        dwell_volume=dwell * FLOW,
    )


def gradient_run(*parts, sigma=1e-3):
    passing = stream()
    pairs = placed([(part, passing) for part in (Injector(shape="gaussian", sigma=sigma), *parts)])
    result = travel(Itinerary(lanes=("a",), passages=pairs))
    return result, [float(result.recorded[name][0]) for name in ("mean", "variance")]


def factor(time, delay):
    """k of what passes a place that the liquid reaches so much later than the first inlet."""
    times, fractions = np.array(ROWS).T
    return KW * 10 ** (-S * np.interp(time - DWELL - delay, times, fractions))


def carried(entry, stretches):
    """When an element leaves that enters the first column at ``entry``: dz/dt = u / (1 + k).

    ``stretches``: dead times of columns, and of what lies between as (time, None).
    """
    now, delay = entry, 0.0
    for dead, retained in stretches:
        if not retained:
            now, delay = now + dead, delay + dead
            continue

        def speed(time, place, dead=dead, delay=delay):
            return [1 / (dead * (1 + factor(time, delay + dead * place[0])))]

        def outlet(time, place):
            return place[0] - 1

        outlet.terminal = True
        path = solve_ivp(speed, (now, now + 3000), [0.0], events=outlet, rtol=1e-10, max_step=0.5)
        now, delay = float(path.t_events[0][0]), delay + dead
    return now


def stirred(counts, dead_times, span, steps):
    """Mean and variance behind rows of stirred plates, one row for each column (Martin and Synge).

    Fourth-order Runge-Kutta in time; the composition passes undispersed.
    """
    place = np.concatenate(
        [np.full(n, dead / n) for n, dead in zip(counts, dead_times, strict=True)]
    )
    delay, total = np.cumsum(place) - place / 2, sum(counts)
    step = span / steps

    def change(time, held):
        leaving = held / place / (1 + factor(time, delay))
        rise = np.append(0.0, leaving[:-1]) - leaving
        return np.concatenate([rise, leaving[-1] * np.array([1, time, time**2])])

    state = np.zeros(total + 3)
    state[0] = 1.0
    for time in step * np.arange(steps):
        one = change(time, state[:total])
        two = change(time + step / 2, state[:total] + step / 2 * one[:total])
        three = change(time + step / 2, state[:total] + step / 2 * two[:total])
        four = change(time + step, state[:total] + step * three[:total])
        state = state + step / 6 * (one + 2 * two + 2 * three + four)
    amount, first, second = state[total:]
    return first / amount, second / amount - (first / amount) ** 2


def test_a_gradient_carries_elements_through_both_columns():
    between = Tube(name="coupler", bore=2e-4, length=0.5)
    delay = between.volume / FLOW
    stretches = ((10.0, True), (delay, False), (40.0, True))
    result, (mean, _) = gradient_run(
        column("guard", 10.0, 1e6), between, column("column", 40.0, 1e6)
    )
    assert mean == pytest.approx(carried(0.0, stretches), rel=1e-5)
    # two elements that enter one second apart leave so far apart: all that is before is focused so
    apart = carried(0.5, stretches) - carried(-0.5, stretches)
    assert 1 - result.parts[0].gradient_focusing[0] == pytest.approx(apart**2, rel=2e-3)


def test_the_variance_through_both_is_that_of_rows_of_stirred_plates():
    # the plates' own error is of first order in one over their number: two rows take it out
    few, many = (
        np.array(stirred((count, 4 * count), (10.0, 40.0), 400.0, 40 * count)) * [1, count]
        for count in (40, 80)
    )
    _, (mean, variance) = gradient_run(column("guard", 10.0, 4e4), column("column", 40.0, 16e4))
    assert mean == pytest.approx(2 * many[0] - few[0], rel=1e-4)
    assert 4e4 * variance == pytest.approx(2 * many[1] - few[1], rel=1e-3)


def test_a_column_cut_in_two_is_the_same_column():
    whole, (mean, variance) = gradient_run(column("whole", 50.0, 2e4), sigma=0.3)
    cut, found = gradient_run(column("first", 10.0, 4e3), column("second", 40.0, 1.6e4), sigma=0.3)
    assert found[0] == pytest.approx(mean, rel=1e-5)
    assert found[1] == pytest.approx(variance, rel=1e-3)
    alone = [one.column_alone["peak_capacity"][0] for one in (whole, cut)]
    assert alone[1] == pytest.approx(alone[0], rel=1e-3)
    extra = [one.recorded["variance_volume_extra_column"][0] for one in (whole, cut)]
    assert extra[1] == pytest.approx(extra[0], rel=1e-3)


GRADIENT = """
[gradient]
dwell_volume = "250 uL"
programme = [{ time = "0 min", strong = 0.1 }, { time = "5 min", strong = 0.7 }]
"""


def wet(length, bore, porosity=1.0):
    return np.pi / 4 * bore**2 * length * porosity


def dwells(itinerary):
    return [float(part.dwell_volume) for part, _ in itinerary.passages if part.separates]


def test_a_scenario_sends_the_gradient_through_the_guard_column_first():
    changes = """
[[changes]]
name = "short"
set = { coupler = { length = "20 mm" } }
[[changes]]
name = "none"
remove = ["guard column"]
"""
    text = scenario(PAIR[0], COUPLER, PAIR[1], changes, more=GRADIENT, solute="kw = 200\ns = 5")
    read = Scenario.from_text(text)
    bed = wet(LENGTHS["guard column"], BORE, POROSITY)
    through = 250e-9 + bed + wet(0.05, 0.12e-3)
    assert dwells(read.itinerary()) == pytest.approx([250e-9, through], rel=1e-9)
    built = Workshop(read).build([(), ("short",), ("none",)])
    shorter = through - wet(0.03, 0.12e-3)
    found = [dwells(built.itineraries[one]) for one in built.which]
    for one, known in zip(found, ([250e-9, through], [250e-9, shorter], [250e-9]), strict=True):
        assert one == pytest.approx(known, rel=1e-9)


def test_sentences_speak_of_the_columns():
    result, _ = moments_of(scenario(PAIR[0], COUPLER, PAIR[1]))
    assert "the columns could give" in conclusion(result)
    assert ("plates", "of all columns") in recorded_table(result).head
    alone, _ = moments_of(scenario(PAIR[1]))
    assert "the column could give" in conclusion(alone)
