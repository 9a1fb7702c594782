"""Measured against simulated: zeta scores of the model's own data are normal; faults are seen."""

import json

import numpy as np
import pytest
from click.testing import CliRunner
from reference.measured import measured_scenario, with_rows
from scipy.stats import bartlett, kstest

import tailrace
from tailrace.cli import main
from tailrace.report.measured.comparison import conclusion
from tailrace.studies.measured.comparing import _score, compare
from tailrace.studies.measured.inventing import Invention
from tailrace.studies.measured.result import MATCHED

TWO = with_rows(("u05", ""), ("u02", 'flow = "0.2 mL/min"'))
CELL = '[[uncertain]]\nfield = "flow cell.volume"\ndistribution = "normal"\nrelative = 0.1\n'
HOW = [Invention(interval=0.05), Invention(signal_to_noise=300, interval=0.1, drift=0.1)]
RUNS = 80


GEARS = """
1.006 0.996 0.998 1.000 0.992 0.993 1.002 0.999 0.994 1.000
0.998 1.006 1.000 1.002 0.997 0.998 0.996 1.000 1.006 0.988
0.991 0.987 0.997 0.999 0.995 0.994 1.000 0.999 0.996 0.996
1.005 1.002 0.994 1.000 0.995 0.994 0.998 0.996 1.002 0.996
0.998 0.998 0.982 0.990 1.002 0.984 0.996 0.993 0.980 0.996
1.009 1.013 1.009 0.997 0.988 1.002 0.995 0.998 0.981 0.996
0.990 1.004 0.996 1.001 0.998 1.000 1.018 1.010 0.996 1.002
0.998 1.000 1.006 1.000 1.002 0.996 0.998 0.996 1.002 1.006
1.002 0.998 0.996 0.995 0.996 1.004 1.004 0.998 0.999 0.991
0.991 0.995 0.984 0.994 0.997 0.997 0.991 0.998 1.004 0.997
"""
"""NIST's GEAR.DAT, ten batches; from memory, held by its published Bartlett statistic, 20.7859."""


def test_zeta_scores_of_a_published_example():
    """ISO 13528 zeta scores, NIST's Dataplot manual, vol. 2 (page "ISO 13528 zeta score"): assigned
    value 1 with the deviation of all gears, each batch with its own; three decimals, cut off."""
    batches = np.array(GEARS.split(), dtype=float).reshape(10, 10)
    assert bartlett(*batches).statistic == pytest.approx(20.7859, abs=1e-4)
    joint = np.hypot(batches[0].std(ddof=1), batches.std(ddof=1))
    drawn = np.random.default_rng(1).normal(size=200)
    scores = [_score("variance", one - 1.0, joint, drawn) for one in batches[0, :5]]
    assert scores == pytest.approx([0.785, -0.523, -0.261, 0.000, -1.047], abs=1e-3)


def test_zeta_scores_are_normal_where_the_model_is_right():
    """Of 500 runs Kolmogorov and Smirnov find nothing against it; here a smaller sample."""
    text = with_rows(("u05", ""))
    scores, agree = {}, 0
    for seed in range(RUNS):
        one = compare(measured_scenario(text, HOW[0], seed), seed).measured["u05"]
        agree += one.agrees
        for name, zeta in one.zeta.items():
            scores.setdefault(name, []).append(float(zeta))
    assert agree >= 0.95 * RUNS - 3
    for name, values in scores.items():
        held = np.array(values)[np.isfinite(values)]
        if name in MATCHED or held.size < RUNS:
            continue  # not judged, or not always
        assert kstest(held, "norm").pvalue > 0.01, name


def test_delay_and_area_are_found():
    study = compare(measured_scenario(TWO, HOW, 3))
    for one in study.measured.values():
        assert one.delay == pytest.approx(1.0, abs=4 * one.delay_uncertainty)
        # smoothed noise has about 25 degrees of freedom here: 0.14 is a standard deviation
        assert one.residual_over_noise == pytest.approx(1.0, abs=0.42)
        assert np.std(one.signal - one.simulated) == pytest.approx(one.noise_left, rel=0.42)
        assert one.noise_left < 0.6 * one.noise
    assert study.agrees


def test_a_larger_cell_is_seen_unless_it_is_uncertain_enough():
    truth = {"flow cell__volume": "3 uL"}
    study = compare(measured_scenario(TWO, HOW, 3, **truth))
    assert not study.agrees
    assert "% wider at half height than simulated" in conclusion(study)
    wide = CELL.replace("0.1", "0.5") + TWO
    wide = TWO.replace("[[measured]]", CELL.replace("0.1", "0.5") + "[[measured]]", 1)
    assert compare(measured_scenario(wide, HOW, 3, **truth)).agrees


def test_uncertain_inputs_are_carried_as_the_cell_adds_variance():
    """A cell of volume V adds (V/F)^2 to the variance: 2 V dV / F^2 from its uncertainty, closed
    form; the window holds nearly all of it."""
    text = TWO.replace("[[measured]]", CELL + "[[measured]]", 1)
    one = compare(measured_scenario(text, HOW, 3)).measured["u05"]
    volume, flow = 2.4e-9, 0.5e-6 / 60
    expected = 2 * volume * (0.1 * volume) / flow**2
    assert float(one.predicted_uncertainty["variance"]) == pytest.approx(expected, rel=0.05)


def test_repeats_scatter_counts():
    text = with_rows(("a", ""), ("b", 'same_as = "a"'))
    how = [Invention(interval=0.05), Invention(interval=0.05)]
    scenario = measured_scenario(text, how, 3)
    files = scenario.files.contents()
    lines = files["b.csv"].decode().splitlines()
    rows = [row.split(",") for row in lines[1:]]
    wide = [lines[0], *(f"{1.05 * float(time)},{value}" for time, value in rows)]
    spread = type(scenario).from_text(text, files=files | {"b.csv": "\n".join(wide).encode()})
    sound = compare(scenario).measured["a"]
    assert compare(spread).measured["a"].measured_uncertainty["width_half"] > 5 * float(
        sound.measured_uncertainty["width_half"]
    )


def test_the_command_compares_writes_and_requires(tmp_path):
    scenario = measured_scenario(TWO, HOW, 3, **{"flow cell__volume": "4 uL"})
    for name, content in scenario.files.contents().items():
        (tmp_path / name).write_bytes(content)
    file, out = tmp_path / "s.toml", tmp_path / "out"
    file.write_text(TWO)
    done = CliRunner().invoke(main, ["compare", str(file), "--json", "--out", str(out)])
    assert done.exit_code == 0, done.output
    told = json.loads(done.stdout)
    assert told["agrees"] is False
    metrics = told["measured"][0]["metrics"]
    assert metrics["width_half"]["verdict"] == "differs"
    assert metrics["apex"]["verdict"] == "cannot say"
    assert metrics["width_half"]["e_n"] == pytest.approx(metrics["width_half"]["zeta"] / 2)
    back = tailrace.read(out / "record.h5")
    assert back.to_json() == done.stdout.rstrip("\n")
    assert (out / "report.html").read_text("utf-8").count("zeta") >= 2
    done = CliRunner().invoke(main, ["compare", str(file), "--require"])
    assert done.exit_code == 1
    bare = tmp_path / "bare.toml"
    bare.write_text(TWO.partition("[[measured]]")[0])
    done = CliRunner().invoke(main, ["compare", str(bare)])
    assert done.exit_code == 2 and "[[measured]]" in done.stderr
