"""Hidden faults: the part is named, or those that cannot be told from it; none where none is."""

import json
from dataclasses import replace

import numpy as np
import pytest
from click.testing import CliRunner
from reference.measured import DUMMY, ROW, SMALL, UNION, bands, measured_scenario, with_rows
from reference.signals import as_text
from scipy.integrate import quad

import tailrace
from tailrace.cli import main
from tailrace.errors import AccuracyError
from tailrace.journey.product import cumulants_of
from tailrace.journey.propagation import propagate, spread
from tailrace.measurements.signal import SignalError
from tailrace.report.measured.diagnosis import ORDER, cautions, label, reported, verdict
from tailrace.report.measured.section import CLOCK
from tailrace.scenario.measured import as_measured, measured_files
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.target import StudyError
from tailrace.studies.measured import faults, suspects
from tailrace.studies.measured.bench import Setup
from tailrace.studies.measured.diagnosing import diagnose
from tailrace.studies.measured.diagnosis import ELSE, NONE, Diagnosis, Hypothesis
from tailrace.studies.measured.faults import Reach, faults_of, with_joints
from tailrace.studies.measured.inventing import Invention, invented
from tailrace.studies.measured.telling import _information

FLOWS = ("0.5", "0.2")
TEXT = SMALL + "".join(ROW.format(name=f"u{flow}") + f'flow = "{flow} mL/min"\n' for flow in FLOWS)
HOW = [Invention(interval=0.05, signal_to_noise=300), Invention(interval=0.1)]


def made(**truth):
    return measured_scenario(TEXT, HOW, 3, **truth)


def test_the_command_names_the_part_and_its_record_says_the_same(tmp_path):
    scenario = made(**{"flow cell__volume": "3 uL"})
    for name, content in scenario.files.contents().items():
        (tmp_path / name).write_bytes(content)
    file, out = tmp_path / "s.toml", tmp_path / "out"
    file.write_text(TEXT)
    done = CliRunner().invoke(main, ["diagnose", str(file), "--json", "--out", str(out)])
    assert done.exit_code == 0, done.output
    told = json.loads(done.stdout)
    first = told["hypotheses"][0]
    assert first["parts"] == ["flow cell"] and first["fields"] == ["flow cell.volume"]
    assert first["values"]["flow cell.volume"] == pytest.approx(3e-9, rel=0.01)
    assert first["probability"] > 0.99
    assert sum(one["probability"] for one in told["hypotheses"]) == pytest.approx(1)
    assert {one["name"] for one in told["hypotheses"]} >= {NONE, ELSE}
    assert told["next_measurement"] is None
    # their order leaves no trace on a union, whatever is at fault
    assert any({"joint before.gap_length", "joint behind.gap_length"} <= set(one)
               for one in told["indistinguishable"])  # fmt: skip
    assert told["unseen"] == ["column.plates"]
    assert tailrace.read(out / "record.h5").to_json() == done.stdout.rstrip("\n")
    assert "At fault" in (out / "report.html").read_text("utf-8")


def test_joints_before_and_behind_the_column_look_the_same_on_a_union():
    study = diagnose(made(**{"joint behind__gap_length": "0.3 mm"}))
    names = {one.name for one in study.alike}
    assert {"joint before.gap_length", "joint behind.gap_length"} <= names
    assert names <= set(study.indistinguishable[0])
    one, other = (
        next(one for one in study.hypotheses if one.name == f"joint {where}.gap_length")
        for where in ("before", "behind")
    )
    assert one.probability == pytest.approx(other.probability, rel=0.05)
    best = study.next_measurement
    # whether a joint or the tube that ends in it: something has to be taken apart
    assert best.kind in ("joint", "part") and best.information > 0.5
    assert verdict(study).startswith("One of these is at fault")
    said = reported(study)
    assert said[0].startswith("Cannot be told apart") and ORDER in said
    # what leaves more than noise is no more than the nearest of what was tried
    assert "something else is at fault" in verdict(replace(study, at_fault=True))


def test_nothing_is_wrong_where_nothing_is():
    study = diagnose(made())
    assert study.first.name == NONE and study.first.probability > 0.9
    assert not study.at_fault and study.pairs == 0
    assert verdict(study).startswith("Nothing is wrong")
    assert verdict(replace(study, at_fault=True)).startswith("None of these faults")


@pytest.mark.parametrize(
    ("off", "named", "clock"),
    [("flow", "flow of the pump", True), ("diffusivity", "marker.diffusivity", False),
     ("clock", "flow of the pump + marker.diffusivity", True)],
)  # fmt: skip
def test_flow_diffusivity_and_a_clock_that_is_off_are_told(off, named, clock):
    """Times alone do not tell a clock that is off from the first two together."""
    truth = {"solutes__marker__diffusivity": "1.3e-9 m^2/s"} if off == "diffusivity" else {}
    text = TEXT.replace('"0.5 mL', '"0.53 mL').replace('"0.2 mL', '"0.212 mL')
    files = {}
    for at, band in enumerate(bands(text if off == "flow" else TEXT, **truth)):
        times, values = invented(band, HOW[at], [3, at])
        files[f"u{FLOWS[at]}.csv"] = as_text(times * (1.04 if off == "clock" else 1), values)
    files = {name: content.encode() for name, content in files.items()}
    study = diagnose(Scenario.from_text(TEXT, files=files))
    assert label(study.first.name) == named and named in verdict(study)
    assert ("a clock of the data system" in verdict(study)) == (off == "clock")
    assert (CLOCK in cautions(study)) == clock


def test_values_that_cannot_be_computed_are_not_tried(monkeypatch):
    """As of a bend too sharp for its exact cumulants."""
    scenario, joints = with_joints(made())
    setup = Setup(base=scenario, scenario=as_measured(scenario, measured_files(scenario)[0]))
    fault = next(one for one in faults_of(scenario, joints) if one.name == "flow cell.volume")
    real = faults.cumulants_of

    def cumulants(passages):
        volume = next(part.volume for part, _ in passages if part.name == "flow cell")
        if np.any(np.asarray(volume) > 5e-9):
            raise AccuracyError("too large")
        return real(passages)

    monkeypatch.setattr(faults, "cumulants_of", cumulants)
    found = faults._variances(setup, fault.where, np.array([1e-9, 3e-9, 6e-9]))
    assert np.isfinite(found).tolist() == [True, True, False]


def test_what_is_asked_is_needed():
    with pytest.raises(StudyError, match=r"\[\[measured\]\]"):
        diagnose(Scenario.from_text(SMALL))


def test_a_wrong_unit_of_time_is_refused():
    minutes = TEXT.replace('file = "u0.5.csv"', 'file = "u0.5.csv"\ntime_unit = "min"')
    with pytest.raises(SignalError, match="check the unit of time"):
        diagnose(measured_scenario(minutes, HOW, 3))


def test_a_joint_goes_with_the_tubes_that_end_in_it():
    """With the column out both tubes keep their ends; without a tube its joints are gone."""
    text = TEXT.replace('[[path]]\nname = "joint', '[[path]]\nname = "ring', 1)
    for name in ("ring before", "joint behind"):
        start = text.index(f'[[path]]\nname = "{name}"')
        text = text[:start] + text[text.index("[[path]]", start + 1) :]
    cell = '[[path]]\nname = "flow cell"'
    outlet = '[[path]]\nname = "outlet"\npart = "tube"\nbore = "0.1 mm"\nlength = "90 mm"\n'
    text = text.replace(cell, outlet + cell)
    row = f"{ROW.format(name='short')}".replace('["column"]', '["column", "outlet"]')
    scenario = measured_scenario(text + row, [*HOW, HOW[0]], 1)
    whole, joints = with_joints(scenario)
    assert list(joints.values()) == [
        ("injection", "tube"), ("tube", "column"), ("column", "outlet"), ("outlet", "flow cell")
    ]  # fmt: skip
    out = [row.without for row in whole.document.measured]
    assert out[0] == ["column"]
    assert out[2] == ["column", "outlet", "joint column | outlet", "joint outlet | flow cell"]


def test_how_a_really_bent_tube_lies_is_found():
    """Of signals that were marched, and not read from the table that the diagnosis reads."""
    rows = [(f"u{flow}", f'flow = "{flow} mL/min"') for flow in ("0.15", "0.3", "0.5")]
    text = with_rows(*rows, head=UNION.replace("[method]", '[method]\nbend_radius = "60 mm"'))
    name, files = 'name = "tube to column"', {f"{one}.csv": DUMMY for one, _ in rows}
    coiled = text.replace(name, f'{name}\nbend_radius = "20 mm"', 1)
    true, how = Scenario.from_text(coiled, files=files), Invention(interval=0.1)
    for at, file in enumerate(measured_files(true)):
        journey = as_measured(true, file).itinerary()
        band = propagate(spread(journey), journey.resolution)[-1].band
        files[file.row.file] = as_text(*invented(band, how, [5, at])).encode()
    found = diagnose(Scenario.from_text(text, files=files))
    assert not found.stood_in
    assert found.first.name == "tube to column.bend_radius"
    assert found.first.values[0] == pytest.approx(0.02, rel=0.25)


def test_expected_information_is_what_an_integral_says():
    """Two hypotheses, equally probable, d standard deviations apart: mean of 1 - H(p) over the
    likelihood ratio, by quadrature."""
    apart = 1.5
    curves = np.zeros((2, 7))
    curves[1, 3] = apart

    def left(z):
        odds = np.exp(-apart * z - apart**2 / 2)
        share = 1 / (1 + odds)
        entropy = -share * np.log2(share) - (1 - share) * np.log2(1 - share)
        return entropy * np.exp(-(z**2) / 2) / np.sqrt(2 * np.pi)

    expected = 1 - quad(left, -8, 8)[0]
    assert _information(curves, [0, 0], np.array([0.5, 0.5])) == pytest.approx(expected, abs=0.05)
    assert _information(curves[:1].repeat(2, axis=0), [0, 0], np.array([0.5, 0.5])) == 0
    # what is open of one hypothesis along the very way that tells them apart hides it
    wide = np.concatenate([curves, curves[1:] + 30 * curves[1:]])
    assert _information(wide, [0, 1], np.array([0.5, 0.5])) > expected


def test_a_bent_tube_stands_straight_with_its_variance():
    """Against the exact cumulants of the bent tube."""
    straight = Scenario.from_text(
        SMALL.replace('bends = [ { length = "400 mm", radius = "straight" } ]', "")
    )
    bent = straight.changed({"tube.bend_radius": "100 mm"}).itinerary()
    stand_in = [part.straightened(stream) for part, stream in bent.passages]
    exact = cumulants_of(spread(bent))[1].variance[0]
    found = cumulants_of([(part, stream.over(1)) for part, stream in stand_in])[1].variance[0]
    plain = cumulants_of(spread(straight.itinerary()))[1].variance[0]
    assert found == pytest.approx(exact, rel=0.03)
    assert exact < 0.9 * plain


def test_the_search_begins_near_a_close_bend_too():
    # bent on 1 mm or on 70 mm a tube broadens hardly otherwise: no change of CHANGES lies between
    values = np.geomspace(1e-3, 25.0, 60)
    reach = Reach(values=values, changes=-0.2 / (1 + (values / 0.9) ** 2))
    begins = reach.begins
    assert np.any((begins > 0.01) & (begins < 0.1))
    assert np.max(begins[1:] / begins[:-1]) < 40


def test_a_search_begins_in_a_narrow_valley_of_a_wide_reach(monkeypatch):
    """Where all between two far ends changes the width by as much: bends of 1 to 30 mm."""
    values = np.geomspace(1e-3, 25.0, 60)
    reach = Reach(values=values, changes=-0.2 / (1 + (values / 0.9) ** 2))

    def looked(fault, values, sides):
        misfit = np.minimum(np.abs(np.log(values / 9e-3)), 3.0 + 1e-3 * np.log(values))
        return [(np.zeros(1), np.array([one])) for one in misfit]

    monkeypatch.setattr(suspects, "_looked", looked)
    found = suspects.suspect((None, reach, ()), [])
    assert np.min(np.abs(np.log(reach.begins / 9e-3))) > 0.5
    assert found.begins[found.best] == pytest.approx(9e-3, rel=0.7)
    assert found.begins.size <= reach.begins.size + 6


def test_twins_count_together_among_those_that_cannot_be_told_apart():
    """Four of 3.3 % each that do the same are no less likely than one of 13 %."""
    empty = {"parts": (), "fields": (), "units": (), "kinds": (), "nominal": (), "bic": 0.0}
    empty |= {"uncertainties": (), "residual_over_noise": 1.0, "change": 0.0}
    rows = [("washout", 0.86, 0.0, 1.0), *((f"joint {k}", 0.033, -3.3, 2.0) for k in range(4))]
    rows += [("cell", 0.008, -4.6, 3.0)]
    found = tuple(
        Hypothesis(name=name, probability=share, log_evidence=log, values=(value,), **empty)
        for name, share, log, value in rows
    )
    study = object.__new__(Diagnosis)
    object.__setattr__(study, "hypotheses", found)
    assert [one.name for one in study.alike] == [name for name, *_ in rows[:5]]
