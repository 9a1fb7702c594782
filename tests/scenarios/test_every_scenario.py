"""Every file in ``scenarios/`` runs, is stored, reloads equal and draws, twice the same."""

import json
import os
from pathlib import Path

import pytest
import xarray
from click.testing import CliRunner

from tailrace.cli import main
from tailrace.figures.path import draw_sources, draw_stages
from tailrace.figures.peaks import draw_peaks
from tailrace.records.record import as_provenance, as_record, as_result
from tailrace.records.seal import SEAL
from tailrace.records.store import read_record

FOLDER = Path(__file__).parents[2] / "scenarios"
SCENARIOS = sorted(FOLDER.glob("*.toml"))
FILES = {
    "record.h5",
    "report.html",
    "recorded.csv",
    "bands.csv",
    *(f"{n}.{e}" for n in ("stages", "sources", "peaks") for e in ("svg", "png")),
}
OF_MANY = FILES | {"chromatogram.svg", "chromatogram.png"}


def run(path, out):
    done = CliRunner().invoke(main, ["run", str(path), "--json", "--out", str(out)])
    assert done.exit_code == 0, done.stderr
    return json.loads(done.stdout)


@pytest.fixture(scope="module", params=SCENARIOS, ids=lambda path: path.stem)
def made(request, tmp_path_factory):
    """One run of one scenario: its file, its answer, and the folder that it wrote."""
    out = tmp_path_factory.mktemp(request.param.stem)
    return request.param, run(request.param, out), out


def test_there_are_scenarios():
    assert SCENARIOS, f"no scenario in {FOLDER}"


def test_it_runs_and_keeps_the_amount(made):
    _, answer, out = made
    assert set(os.listdir(out)) == (OF_MANY if len(answer["solutes"]) > 1 else FILES)
    for solute in answer["solutes"]:
        assert solute["recorded"]["amount_recovered"] == pytest.approx(1, abs=1e-6)
        assert solute["recorded"]["variance"] > 0


def test_it_is_stored_with_its_text_and_reloads_equal(made):
    path, answer, out = made
    record = read_record(out / "record.h5")
    provenance = as_provenance(record)
    assert provenance.scenario == path.read_bytes().decode()
    assert provenance.scenario_sha256 == answer["scenario_sha256"]
    result = as_result(record)
    del record.attrs[SEAL]
    xarray.testing.assert_identical(as_record(result, provenance), record)
    for lane, solute in enumerate(answer["solutes"]):
        assert solute["name"] == result.lanes[lane]
        assert solute["recorded"]["variance"] == result.recorded["variance"][lane]


def test_it_draws_the_same_from_the_stored_record(made):
    _, _, out = made
    record = read_record(out / "record.h5")
    for draw, name in ((draw_stages, "stages"), (draw_sources, "sources"), (draw_peaks, "peaks")):
        assert draw(record).svg() == (out / f"{name}.svg").read_bytes()


def test_a_second_run_gives_the_same_files(made, tmp_path):
    path, answer, out = made
    assert run(path, tmp_path) == answer
    for name in os.listdir(out):
        assert (tmp_path / name).read_bytes() == (out / name).read_bytes(), name
