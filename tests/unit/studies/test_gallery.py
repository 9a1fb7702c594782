"""The exhibits of the gallery: words, tables, and the scenarios that they can be made of."""

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from reference.exhibits import FEWER, NAMES, exhibit_of
from scipy.stats import exponnorm

import tailrace
from tailrace.errors import TailraceError
from tailrace.journey import travel
from tailrace.measures.registry import PLATES_OWN
from tailrace.parts.detector.part import Detector
from tailrace.report.gallery import as_csv
from tailrace.studies.gallery import ENTRIES, checked, compute
from tailrace.studies.gallery.branches import branched
from tailrace.studies.gallery.curves import curve_errors, travelled
from tailrace.studies.gallery.instrument import Asked, instrument_of
from tailrace.studies.gallery.noise import filtered
from tailrace.studies.gallery.plates import _shares
from tailrace.studies.gallery.tubes import pulse

SCENARIOS = Path(__file__).parents[3] / "scenarios"
NEGLIGIBLE = 2e-3
"""Of a figure's height: less than the width of a line."""


def sentences(text):
    return [one for one in re.split(r"(?<=[.!?])\s+(?=[A-Z])", text) if one]


@pytest.fixture(params=NAMES)
def shown(request):
    return exhibit_of(request.param)


def test_words_are_there(shown):
    assert shown.title
    assert not shown.title.endswith(".")
    assert len(sentences(shown.caption)) == 2
    assert shown.caption.endswith(".")
    assert len(shown.alt) > 80
    assert shown.alt.endswith(".")
    assert shown.alt != shown.caption
    for text in (shown.title, shown.caption, shown.alt):
        assert "nan" not in text.lower().replace("nano", "")


@pytest.mark.parametrize(
    ("name", "columns"),
    [
        ("cell-volumes", ["1e9 cell_volume"]),
        ("fourier-number", ["plates_ratio", "skewness_simulated", "variance_simulated"]),
        ("noise", ["100 height_kept", "100 plates_kept", "100 clear"]),
        ("plate-height", ["1e6 height_column", "1e6 height_recorded", "6e7 flow_rate"]),
        ("retention", ["100 kept", "1 plates_recorded"]),
        ("staircase", ["1 plates", "1 back"]),
        ("straight-bent-coiled", ["1e18 variance_volume"]),
        ("time-constants", ["100 plates_kept"]),
    ],
)
def test_the_alt_text_tells_the_greatest_and_the_least_of_each_panel(name, columns):
    shown = exhibit_of(name)
    said = np.array([float(one) for one in re.findall(r"\d+(?:\.\d+)?", shown.alt)])
    for column in columns:
        factor, _, field = column.rpartition(" ")
        values = float(factor or 1) * shown.column(field)
        for end in (np.min(values[values > 0]), np.nanmax(values)):
            # Told with two or three digits, or in whole per cent.
            assert np.min(np.abs(said - end)) <= max(0.006 * end, 0.51 if end > 1 else 0.006), field


def test_the_alt_text_of_other_instruments_and_values_is_theirs():
    scenario = tailrace.load(SCENARIOS / "inherited-core-shell.toml")
    bearing = compute("plate-height", scenario, values="0.5, 1 mL/min").alt
    limit = scenario.itinerary().pressure_limit / 1e5
    assert f"more than {limit:.0f} bar" in compute("plate-height", scenario).alt
    assert "hatched" not in bearing
    assert "from 0.5 to 1 mL/min" in bearing
    assert compute("outlet-signals", values="10").alt.count("X = ") == 1


def test_every_column_has_unit_and_meaning_and_the_same_length(shown):
    assert len({one.values.size for one in shown.table.values()}) == 1
    for one in shown.table.values():
        assert one.meaning
        assert bool(one.unit) is (one.values.dtype.kind in "fi")


def test_the_error_of_what_is_drawn_is_negligible(shown):
    assert 0 < shown.largest_error < NEGLIGIBLE


def test_groups_keep_every_row():
    shown = exhibit_of("joint")
    groups = dict(shown.groups("joint"))
    assert len(groups) == 4
    assert sum(one["time"].size for one in groups.values()) == shown.column("time").size


@pytest.mark.parametrize("name", ["joint", "staircase"])
@pytest.mark.parametrize("threads", ["1", "3"])
def test_the_same_table_whatever_the_threads(name, threads, monkeypatch):
    monkeypatch.setenv("NUMBA_NUM_THREADS", threads)
    assert as_csv(compute(name).table) == as_csv(exhibit_of(name).table)


def test_the_staircase_shares_out_the_whole_loss_whatever_the_order():
    scenario = tailrace.load(SCENARIOS / "inherited-core-shell.toml")
    shown = compute("staircase", scenario)
    result = travel(scenario.itinerary())
    # Cohumulone is the least retained, and the first in the file.
    assert shown.column("plates")[-1] == pytest.approx(
        result.recorded["plates_own_retention"][0], rel=1e-3
    )
    assert shown.column("plates")[0] == pytest.approx(
        result.column_alone["plates_half_height"][0], rel=1e-3
    )
    parts = shown.column("part").tolist()
    assert sorted(parts[1:]) == sorted(part.name for part in result.parts if part.kind != "column")
    assert np.all(np.diff(shown.column("lost")[1:]) <= 0)
    assert "cohumulone" in shown.caption
    # What an order of removal takes from a part is no cause: the cell brings most back.
    back = shown.column("back")
    assert parts[np.argmax(back)] == "flow cell"
    assert f"from {parts[np.argmax(back)]} (" in shown.caption
    assert "due to" not in shown.caption


def test_shares_of_two_parts_are_the_means_of_both_orders():
    scenario = tailrace.load(SCENARIOS / "inherited-core-shell.toml")
    instrument = instrument_of(Asked(scenario=scenario))
    column, cell = instrument.place("separates"), instrument.place("observes")
    two = instrument.with_passages([0, column, cell])
    whole = travel(two.itinerary(), blame=True)
    shares, sampling = _shares(two, [0, 2], whole, "product")
    assert not sampling.any()
    alone, recorded = whole.column_alone["plates_half_height"][0], whole.recorded[PLATES_OWN][0]
    injected = travel(two.with_passages([0, 1]).itinerary()).recorded[PLATES_OWN][0]
    # The other order: the cell behind the column, injected all at once.
    celled = recorded + whole.regained.plates["injection"][0]
    first, last = alone - injected, celled - recorded
    assert shares[0] == pytest.approx((first + last) / 2, rel=2e-2)
    assert shares.sum() == pytest.approx(alone - recorded, rel=1e-12)


@pytest.mark.parametrize(("volume", "said"), [("0.5 uL", "so that"), ("40 uL", "but what enters")])
def test_the_plume_says_what_a_long_injection_does_to_its_maximum(volume, said, monkeypatch):
    monkeypatch.setattr(*FEWER["plume"])
    scenario = tailrace.load(SCENARIOS / "bare-tube.toml").changed({"injection.volume": volume})
    caption = compute("plume", scenario).caption
    assert said in caption
    crest, residence = map(
        float,
        re.findall(r"maximum (?:of the signal, )?([\d.]+) s .* time of ([\d.]+) s", caption)[0],
    )
    assert (crest < residence) == (said == "so that")


def test_the_best_time_constant_is_that_of_a_gaussian_through_a_filter():
    # The recorded peak is nearly Gaussian: height times the root of the time constant, of an
    # exponentially modified Gaussian (scipy), is best at 1.7 standard deviations.
    over = np.geomspace(0.05, 10, 60)
    heights = [exponnorm.pdf(np.linspace(-2, 8, 2000), one).max() for one in over]
    best = over[np.argmax(heights * np.sqrt(over))]
    shown = exhibit_of("noise")
    constants, clear = shown.column("time_constant"), shown.column("clear")
    whole = np.isfinite(clear)
    width = constants[0] / 0.05
    assert constants[whole][np.argmax(clear[whole])] / width == pytest.approx(best, rel=0.2)


def test_drawn_noise_is_as_strong_as_its_filter_leaves_it():
    # White noise behind a filter of first order: variance as 1 over the time constant, correlated
    # over it (textbooks of signal processing, from memory).
    for constant in (0.05, 0.5):
        noise = filtered(np.arange(200_000) * 0.02, constant)
        assert noise.var() * constant == pytest.approx(1, rel=0.1)
        lag = round(constant / 0.02)
        held = np.corrcoef(noise[:-lag], noise[lag:])[0, 1]
        assert held == pytest.approx(np.exp(-0.02 * lag / constant), abs=0.02)


def test_random_instruments_come_from_a_fixed_seed():
    shown = exhibit_of("sum-of-variances")
    assert shown.column("instrument").size == 50
    assert as_csv(compute("sum-of-variances").table) == as_csv(shown.table)


def test_a_gradient_is_fine_where_no_plates_of_the_column_are_counted():
    scenario = tailrace.load(SCENARIOS / "gradient-core-shell.toml")
    assert np.all(np.isfinite(compute("time-constants", scenario).column("signal")))
    with pytest.raises(TailraceError, match=r"without \[gradient\] for the figure staircase"):
        compute("staircase", scenario)


@pytest.mark.parametrize("name", ["retention", "plate-height", "staircase", "sum-of-variances"])
def test_a_scenario_without_a_column_is_refused(name):
    scenario = tailrace.load(SCENARIOS / "bare-tube.toml")
    with pytest.raises(TailraceError, match=f"expected a column on the path for the figure {name}"):
        compute(name, scenario)


def test_a_scenario_without_a_cell_is_refused_for_cells():
    scenario = tailrace.load(SCENARIOS / "bare-tube.toml")
    with pytest.raises(TailraceError, match="expected a flow cell on the path"):
        compute("cell-volumes", scenario)
    assert compute("time-constants", scenario).column("time").size


def test_the_least_retained_solute_is_shown():
    scenario = tailrace.load(SCENARIOS / "inherited-core-shell.toml")
    instrument = instrument_of(Asked(scenario=scenario))
    assert instrument.solute == "cohumulone"
    assert instrument.stream.retention_factor.tolist() == [2.1]


def test_names_are_checked():
    assert checked([]) == tuple(ENTRIES)
    assert checked(["joint", "joint"]) == ("joint",)
    with pytest.raises(TailraceError, match=r"found 'jont'; choose from .*staircase") as refusal:
        compute("jont")
    assert refusal.value.exit_code == 2


def test_journeys_that_begin_alike_come_out_to_the_bit_as_one_by_one():
    start = pulse(3.0)
    stream = start.passages[0][1]
    ends = [(Detector(time_constant=one), stream) for one in (0.0, 0.05, 0.2)]
    journeys = [start, *(replace(start, passages=(*start.passages, one)) for one in ends)]
    elsewhere = replace(start, passages=(start.passages[0], (Detector(time_constant=0.1), stream)))
    for together in (journeys, [*journeys, elsewhere]):  # two parts in common, or too few
        results, errors = branched(together)
        apart = travelled(together)
        assert errors == curve_errors(together, apart)
        for one, other in zip(results, apart, strict=True):
            for group in ("recorded", "numerical_error"):
                mine, its = getattr(one, group), getattr(other, group)
                assert all(np.array_equal(mine[name], its[name], equal_nan=True) for name in its)
