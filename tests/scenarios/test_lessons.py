"""The lessons: their commands work as written, and their answers are what the solver says today."""

import re
import shlex
import shutil
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

import tailrace
from tailrace.cli import main
from tailrace.journey import travel
from tailrace.records.separation import kept_fraction, separation
from tailrace.report.numbers import percent, significant
from tailrace.studies.sweeping import sweep

FOLDER = Path(__file__).parents[2] / "scenarios" / "lessons"
SHEETS = sorted(path for path in FOLDER.glob("*.md") if path.stem != "README")
LENGTHS = "tube.length = 125, 250, 500, 1000 mm"
FLOWS = "method.flow = 0.25, 0.5, 1, 2 mL/min"
BORES = ("tube.bore = 0.1, 0.2, 0.3 mm", "injection.volume = 0.02, 0.08, 0.18 uL")
RADII = "tube.bend_radius = 25 mm, 50 mm, 100 mm, 300 mm, 1 m, 100 m"
TWO_RADII, SLOW_FLOWS = (
    "tube.bend_radius = 50 mm, 100 m",
    "method.flow = 0.05, 0.1, 0.2, 0.5 mL/min",
)
METRICS = ("plates_half_height", "tailing_5")
CONSTANTS = "detector.time_constant = 0.02, 0.05, 0.1, 0.2, 0.5, 1 s"


def tables(sheet):
    """Bodies of all tables of a sheet, each a list of rows of cells."""
    found, rows = [], []
    for line in [*sheet.read_text(encoding="utf-8").splitlines(), ""]:
        if line.startswith("|"):
            rows.append([cell.strip() for cell in line.strip("|").split("|")])
        elif rows:
            found.append(rows[2:])
            rows = []
    return found


def commands(sheet):
    """Commands of a sheet: lines within fences, those that end in a backslash joined."""
    fences = re.findall(r"^```sh\n(.*?)^```", sheet.read_text(encoding="utf-8"), re.M | re.S)
    return [line for fence in fences for line in fence.replace("\\\n", " ").splitlines()]


def early_peaks():
    result = travel(tailrace.load(FOLDER / "early-peaks.toml").itinerary())
    at = {part.name: part.variance_simulated for part in result.parts}
    outside = sum(values for name, values in at.items() if name != "column")
    kept = kept_fraction(result)
    # What a student works out on paper: the column's variance over that of the whole path.
    paper = at["column"] / (at["column"] + outside)
    columns = at["column"], outside, paper, kept
    yield [
        [name, *(significant(value[k], 3) for value in columns[:2])]
        + [percent(value[k]) for value in columns[2:]]
        for k, name in enumerate(result.lanes)
    ]


def swept(labels, made):
    figures = ("width_half", "plates_half_height", "tailing_5")
    rows = [made.metrics[f"recorded/{name}"][:, 0] for name in figures]
    fourier = made.metrics["parts/fourier_number"][:, 1, 0]
    return [
        [label, *(significant(row[k], 3) for row in (fourier, *rows))]
        for k, label in enumerate(labels)
    ]


def bore():
    scenario = tailrace.load(FOLDER / "bore.toml")
    yield swept(("0.1 mm", "0.2 mm", "0.3 mm"), sweep(scenario, BORES, together=True))
    yield swept(("125 mm", "250 mm", "500 mm", "1000 mm"), sweep(scenario, [LENGTHS]))
    yield swept(("0.25 mL/min", "0.5 mL/min", "1 mL/min", "2 mL/min"), sweep(scenario, [FLOWS]))


def slow_detector():
    made = sweep(tailrace.load(FOLDER / "slow-detector.toml"), [CONSTANTS])
    rows = []
    for case, label in enumerate(("0.02 s", "0.05 s", "0.1 s", "0.2 s", "0.5 s", "1 s")):
        result = made.case(case)
        own = result.column_alone["plates_half_height"][0]
        figures = (
            percent(result.recorded["plates_own_retention"][0] / own),
            significant(result.recorded["tailing_5"][0]),
            percent(result.signal["relative_signal"][0]),
            significant(result.signal["relative_noise"][0]),
            significant(result.signal["relative_signal_to_noise"][0]),
            significant(separation(result).half_height[0]),
        )
        rows.append([label, *figures])
    yield rows


def coil():
    scenario = tailrace.load(FOLDER / "coil.toml")

    def added(made):
        return 1e18 * made.metrics["parts/variance_volume"][:, 1, 0]

    made = sweep(scenario, [RADII])
    figures = [added(made), *(made.metrics[f"recorded/{name}"][:, 0] for name in METRICS)]
    labels = ("25 mm", "50 mm", "100 mm", "300 mm", "1 m", "100 m")
    yield [[label, *(significant(row[k], 3) for row in figures)] for k, label in enumerate(labels)]
    coiled, straight = added(sweep(scenario, [TWO_RADII, SLOW_FLOWS])).reshape(2, -1)
    labels = ("0.05 mL/min", "0.1 mL/min", "0.2 mL/min", "0.5 mL/min")
    yield [
        [label, *(significant(row[k], 3) for row in (straight, coiled, coiled / straight))]
        for k, label in enumerate(labels)
    ]


ANSWERS = {"coil": coil, "early-peaks": early_peaks, "bore": bore, "slow-detector": slow_detector}


def test_each_lesson_has_a_scenario_and_an_answer_that_is_checked():
    assert {path.stem for path in SHEETS} == set(ANSWERS)
    assert {path.stem for path in FOLDER.glob("*.toml")} == set(ANSWERS)
    index = (FOLDER / "README.md").read_text(encoding="utf-8")
    assert all(f"({name}.md)" in index for name in ANSWERS)


@pytest.mark.parametrize("name", ANSWERS)
def test_the_answer_is_what_the_solver_says(name):
    assert tables(FOLDER / f"{name}.md") == list(ANSWERS[name]())


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda path: path.stem)
def test_the_commands_work_as_written(sheet, tmp_path, monkeypatch):
    shutil.copytree(FOLDER, tmp_path / "scenarios" / "lessons")
    monkeypatch.chdir(tmp_path)
    asked = [shlex.split(command) for command in commands(sheet)]
    assert len(asked) >= 2
    for program, *arguments in asked:
        assert program == "tailrace"
        done = CliRunner().invoke(main, arguments)
        assert done.exit_code == 0, (arguments, done.stderr)
        if "--out" in arguments:
            assert Path(arguments[arguments.index("--out") + 1]).stat().st_size > 0
    # What the answer was computed from is what the student is told to run.
    reported = {argument for arguments in asked for argument in arguments}
    wanted = {
        "bore": {LENGTHS, FLOWS, *BORES},
        "coil": {RADII, TWO_RADII, SLOW_FLOWS},
        "slow-detector": {CONSTANTS},
    }
    assert wanted.get(sheet.stem, set()) <= reported


def test_what_the_sheet_on_early_peaks_concludes():
    (rows,) = early_peaks()
    own, outside, paper, kept = ([float(row[column]) for row in rows] for column in range(1, 5))
    assert kept == sorted(kept)
    assert len(set(outside)) == 1
    assert 6 < outside[0] / own[0] < 6.5
    assert own[-1] / outside[-1] > 5
    assert all(read > reckoned for read, reckoned in zip(kept, paper, strict=True))


def test_what_the_sheet_on_the_bore_concludes():
    bores, lengths, flows = bore()
    assert len({tuple(row[i] for i in (1, 3, 4)) for row in bores}) == 1
    widths = [float(row[2]) for row in bores]
    np.testing.assert_allclose(widths, [widths[0] * n**2 for n in (1, 2, 3)], rtol=5e-3)
    assert [row[1] for row in lengths] == [row[1] for row in flows][::-1]


def test_what_the_sheet_on_slow_detectors_concludes():
    (rows,) = slow_detector()
    kept, tailing, height, noise, ratio, resolution = (
        [float(row[column]) for row in rows] for column in range(1, 7)
    )
    assert tailing == sorted(tailing)
    for falling in (kept, height, noise, resolution):
        assert falling == sorted(falling, reverse=True)
    assert max(ratio) == ratio[4] > ratio[5]


def test_what_the_sheet_on_coils_concludes():
    radii, flows = coil()
    added = [float(row[1]) for row in radii]
    assert added == sorted(added)
    assert added[-1] > 3 * added[0]
    ratios = [float(row[3]) for row in flows]
    assert ratios == sorted(ratios, reverse=True)
    assert ratios[0] > 0.95
