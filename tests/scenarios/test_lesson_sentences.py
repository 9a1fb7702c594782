"""What the teachers' sheets say in words, held to what the program says."""

import numpy as np
from reference.lessons import (
    FOLDER,
    HALF_WIDTH,
    PLATES,
    SWEPT,
    TAILING,
    VARIANCE,
    WIDTH,
    labels,
    made,
    read,
    sheet,
    tables,
)
from reference.residuals import left_over

import tailrace
from tailrace.report.numbers import significant
from tailrace.studies.measured.bench import signals
from tailrace.studies.sweeping import sweep
from tailrace.web.stations import version_of


def test_a_peak_with_two_tops_is_read_from_the_higher():
    tube = tailrace.load(FOLDER / "bore.toml")
    told = {820: ("3.02", "8.85"), 830: ("6.66", "1.80")}
    for length, tops in ((620, 1), (630, 2), (820, 2), (830, 2), (980, 2), (1000, 1)):
        result = tailrace.run(tube.changed({"tube.length": f"{length} mm"}))
        height = result.recorded_band.values[0]
        inner = height[1:-1]
        higher = (inner > height[:-2]) & (inner >= height[2:]) & (inner > 0.05 * height.max())
        assert np.count_nonzero(higher) == tops, length
        figures = tuple(significant(result.recorded[one][0], 3) for one in (PLATES, TAILING))
        assert figures == told.get(length, figures)
    assert round(result.parts[1].mean_closed_form[0], 2) == 2.72
    begun = result.recorded_band.times[0][np.argmax(height > 0.01 * height.max())]
    assert round(begun, 1) == 1.4
    short = tube.changed({"tube.length": "125 mm"})
    for one, tailing in ((short, "25.8"), (short.changed({"method.flow": "1 mL/min"}), "25.5")):
        assert significant(tailrace.run(one).recorded[TAILING][0], 3) == tailing
    assert round(np.pi / 4 * 2**2 * 50 * 2 / 3) == 105  # uL


def test_why_the_first_of_five_is_recorded_at_another_dead_time():
    parts = tailrace.run(tailrace.load(FOLDER / "early-peaks.toml")).parts
    mean = {part.name: part.mean_closed_form[0] for part in parts}
    bed = mean.pop("column") / 1.5
    assert round(bed + sum(mean.values()), 2) == 22.92
    assert round(mean["injection"], 3) == round(1 / 2 / (0.5e3 / 60), 3)


def test_a_tenth_of_the_plates_on_paper_and_on_the_page():
    result = tailrace.run(tailrace.load(FOLDER / "slow-detector.toml"))
    assert round(result.column_alone[TAILING][0], 2) == 1.01
    added = {part.name: part.variance_simulated[0] for part in result.parts}
    assert round(added["detector"], 2) == 0.25
    assert round(added["column"] / sum(added.values()), 3) == 0.286
    assert round(1 - 0.112 / 0.126, 1) == 0.1


def test_whose_plate_height_a_late_peak_shows():
    flow = np.array([float(one.split()[0]) for one in labels("plate-height", 0)])
    with_column, union = made("plate-height"), made("plate-height", 0, "plate-height-union")
    alone = 1 / with_column.metrics[f"column_alone/{PLATES}"][:, 0]
    recorded = 1 / read(with_column, PLATES)
    rise = np.array([one[-1] - one.min() for one in (alone, recorded)])
    assert round(1 - rise[0] / rise[1], 2) == 0.68
    # van Deemter's curve by least squares
    terms = np.c_[np.ones_like(flow), 1 / flow, flow]
    (a_own, _, c_own), (a, _, c) = np.linalg.lstsq(terms, np.c_[alone, recorded], rcond=None)[0].T
    assert (round(c / c_own, 1), round(a / a_own)) == (2.3, 2)
    missed = [
        read(one, VARIANCE) - (read(one, WIDTH) / HALF_WIDTH) ** 2 for one in (union, with_column)
    ]
    assert list(missed[0] > missed[1]) == [True] * 5 + [False] * 5
    retained = {"test substance.retention_factor": 10.0}
    late = sweep(
        tailrace.load(FOLDER / "plate-height.toml").changed(retained), SWEPT["plate-height"][0]
    )
    columns = [read(one, VARIANCE) - read(union, VARIANCE) for one in (late, with_column)]
    assert 15 < min(columns[0] / columns[1]) < 16
    own = late.metrics[f"column_alone/{PLATES}"][:, 0]
    assert 1.07 < max(own / read(late, PLATES)) < 1.08
    assert [significant(50e3 / own[at], 3) for at in (0, np.argmax(own))] == ["15.4", "5.61"]
    assert np.argmax(own) == 5
    told = tables(sheet("plate-height", "teacher"))[0]
    (right, recorded, by_width) = (float(one) for one in told[1][4:7])
    assert round((recorded - by_width) / (recorded - right), 1) in (0.4, 0.5)


def test_a_straight_cell_of_the_same_variance_is_told_rounded_up():
    assert np.ceil(100 * 4 * np.sqrt(12)) / 100 == 13.86


def test_what_a_gap_costs_can_be_reckoned_before():
    joint = tailrace.load(FOLDER / "joint.toml")
    without = joint.changed({"joint.gap_length": "0.001 mm", "joint.unswept": 0.0})
    read_off = tailrace.run(without).recorded
    assert round(read_off[WIDTH][0], 2) == 0.84
    assert round(tailrace.run(joint).parts[3].mean_closed_form[0], 2) == 33.77
    left = read(made("joint"), "plates_own_retention")[0] / read_off["plates_own_retention"][0]
    assert round(8 * (1 - left)) == 1
    # what rinses the pocket is the exchange; of the slowest diffusion, too
    volume, flow, pocket = np.pi / 4 * 1.6**2 * 0.5, 0.4e3 / 60, 0.8
    for case, exchange in enumerate((20, 5, 1, 0.2, 0.05)):
        alone = (volume / flow) ** 2 * (1 + 2 * pocket**2 / exchange)
        told = made("joint", 1).case(case).parts[2].variance_simulated[0]
        assert 0.99 < told / alone <= 1.001 if exchange > 0.1 else 0.95 < told / alone < 0.98


def test_how_far_the_curves_of_the_hidden_joint_lie_apart():
    rows = tables(sheet("hidden-joint", "teacher"))[2][1:4]
    for _, *pair, _, _ in rows:
        (seen, its), (simulated, with_it) = (map(float, one.split(" ± ")) for one in pair)
        apart, uncertain = seen / simulated - 1, np.hypot(its, with_it) / simulated
        assert 0.085 < apart < 0.135
        assert round(uncertain, 2) == 0.07
        assert apart < 2 * uncertain
    believed = tailrace.load(FOLDER / "hidden-joint.toml")
    for version in believed.document.page.versions[:3]:
        instrument, told = version_of(believed, version)
        assert round(left_over(told, signals([instrument.itinerary()]))) == 10


def test_a_column_alone_tails_more_than_what_is_recorded():
    for name in "ab":
        one = made("two-tails", 0, f"two-tails-{name}")
        alone = one.metrics[f"column_alone/{TAILING}"][:, 0]
        assert all(alone / read(one, TAILING) > 1)
        assert all(alone / read(one, TAILING) < 1.03)


def test_a_front_of_too_much_sample_comes_earlier_and_its_end_less_so():
    def ends(name, amount):
        loaded = tailrace.load(FOLDER / f"two-tails-{name}.toml")
        band = tailrace.run(loaded.changed({"base.amount": amount})).recorded_band
        height, time = band.values[0] / band.area[0], band.times[0]
        inside = time[height > 0.01]
        return np.array([inside[0], inside[-1]])

    front, end = ends("a", "0.35 nmol") - ends("a", "7 nmol")
    assert 1 < end < 0.75 * front
    np.testing.assert_array_equal(ends("b", "0.35 nmol"), ends("b", "7 nmol"))
