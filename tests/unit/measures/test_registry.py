"""The registry: every row is whole, and a new one is read, judged and shown without more."""

import json
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest
from reference.journeys import FLOW, gaussian, itinerary
from reference.tree import ROOT
from scipy.stats import norm

from tailrace.journey import travel
from tailrace.measures import METRICS, SIGNALS, Gaussian, Metric, Setting, measure
from tailrace.measures.registry import CAPACITY, PLATES, PLATES_OWN, REDUCED, RETENTION, leading
from tailrace.parts.chamber.part import Chamber
from tailrace.records.provenance import Provenance
from tailrace.records.record import as_record
from tailrace.report.run import as_json as as_contract
from tailrace.signals import Band

ROWS = {**METRICS, **SIGNALS}


@pytest.mark.parametrize("name", ROWS)
def test_every_row_is_whole(name):
    row = ROWS[name]
    assert (row.name, bool(row.label), bool(row.unit)) == (name, True, True)
    assert row.meaning and not row.meaning.endswith(".")
    assert not row.in_gradient or row.in_gradient in METRICS


def test_labels_are_not_used_twice():
    assert len({row.label for row in ROWS.values()}) == len(ROWS)


def test_textbook_values_are_those_of_a_gaussian():
    times = np.arange(40, 60, 0.01)
    band = Band(norm.pdf(times, 50)[None], np.array([40.0]), np.array([0.01]))
    column = {"hold_up": np.array([10.0]), "particles_long": np.array([50_000.0])}
    own = Setting(own_time=np.array([49.0]), **column)
    read = measure(band, Setting(gradient_time=300.0)) | measure(band, own)
    peak = Gaussian(
        mean=np.array([50.0]),
        variance=np.array([1.0]),
        gradient_time=300.0,
        column_mean=np.array([49.0]),
        **column,
    )
    text = {name: row.textbook(peak) for name, row in METRICS.items() if row.textbook}
    for name in set(text) & set(read):
        assert read[name] == pytest.approx(text[name], rel=1e-5), name
    assert {PLATES, PLATES_OWN, CAPACITY, REDUCED, RETENTION, "width_half"} <= set(text) & set(read)


def test_with_a_gradient_plates_give_way_to_the_peak_capacity():
    times = np.arange(40, 60, 0.01)
    band = Band(norm.pdf(times, 50)[None], np.array([40.0]), np.array([0.01]))
    found = measure(band, Setting(gradient_time=300.0))
    # 1 + 300 / 4
    assert found[leading(found).name] == pytest.approx([76.0], rel=1e-6)
    gone = {name for name, values in found.items() if np.isnan(values).all()}
    assert gone == {name for name, row in METRICS.items() if row.in_gradient and row.read}
    assert leading(measure(band)).name == PLATES


def test_a_new_metric_is_one_row_and_its_reader(monkeypatch):
    planted = Metric(
        name="width_tenth",
        label="width at a tenth",
        unit="s",
        kind="duration",
        meaning="width of the peak at a tenth of its height",
        read=lambda peaks: peaks.outlines.width(0.1),
    )
    monkeypatch.setitem(METRICS, planted.name, planted)
    result = travel(itinerary(gaussian(0.1), Chamber(name="chamber", volume=FLOW)))
    width, error = result.recorded[planted.name][0], result.numerical_error[planted.name][0]
    # An exponential of 1 s falls to a tenth within 2.3 s; the Gaussian before it adds a little.
    assert np.log(10) < width < np.log(10) + 4 * 0.1
    assert 0 < error < 0.02 * width
    about = Provenance(title="t", scenario_sha256="00", scenario="", version="0")
    stored = as_record(result, about)["recorded"][planted.name]
    assert stored.attrs == {"units": "s", "long_name": planted.meaning}
    text = json.loads(json.dumps(as_contract(result, "t", "00", "0")))["solutes"][0]
    assert text["recorded"][planted.name] == width
    assert text["numerical_error"][planted.name] == error


@pytest.mark.parametrize("name", ["width_half", "plates_half_height"])
def test_the_sensitivity_counts(monkeypatch, name):
    path = itinerary(gaussian(0.1), Chamber(name="chamber", volume=FLOW))
    before = travel(path).numerical_error[name]
    monkeypatch.setitem(METRICS, name, replace(METRICS[name], sensitivity=0.0))
    assert travel(path).numerical_error[name] < before


PLANTED = """
import sys
import numpy as np
from tailrace.measures.registry import METRICS, Metric

# before anything reads the rows, as a row in the file would be
METRICS["width_tenth"] = Metric(
    name="width_tenth",
    label="width at a tenth",
    unit="s",
    kind="duration",
    meaning="width of the peak at a tenth of its height",
    read=lambda peaks: peaks.outlines.width(0.1),
)
import tailrace
from tailrace.report.tables import metrics_table
from tailrace.scenario.criteria import criteria_of

scenario = tailrace.load(sys.argv[1])
shown = {row[0]: row for row in metrics_table(tailrace.run(scenario), 0).rows}
width = float(shown["width of the peak at a tenth of its height"][2])
(judged,) = criteria_of(scenario)
assert judged.asked.metric.name == "width_tenth", judged
varied = tailrace.sweep(scenario, ['"tube".length = 500, 700 mm'])
record = varied.to_xarray()["width_tenth"]
assert record.attrs["units"] == "s", record
assert np.isclose(record[0, 0], width, rtol=1e-3), (record, width)
assert float(record[1, 0]) > float(record[0, 0])
assert (varied.to_xarray()["width_tenth_numerical_error"] > 0).all()
"""


def test_a_new_row_stands_in_tables_sweeps_and_limits(tmp_path):
    text = (ROOT / "scenarios" / "bare-tube.toml").read_text("utf-8")
    text += '\n[[accept]]\nmeasure = "width at a tenth"\nat_most = "9 s"\n'
    (tmp_path / "planted.toml").write_text(text, "utf-8")
    command = [sys.executable, "-c", PLANTED, tmp_path / "planted.toml"]
    done = subprocess.run(command, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
