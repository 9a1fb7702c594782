"""The shipped study: the command in its comment runs, and says what closed form says."""

import re
import shlex
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from tailrace.cli import main
from tailrace.parts.tube.theory import reduced_cumulants
from tailrace.records.store import read_record

FOLDER = Path(__file__).parents[3] / "scenarios" / "studies"
STUDIES = sorted(FOLDER.glob("*.toml"))


def command(path):
    """Arguments of the command in the comment at the head of a study."""
    lines = [line.lstrip("# ") for line in path.read_text().splitlines() if line.startswith("#  ")]
    program, *arguments = shlex.split(" ".join(line.rstrip("\\") for line in lines))
    assert program == "tailrace"
    return arguments


def run(path, tmp_path, coarser):
    """Run it with fewer points, for time; the file is written elsewhere."""
    arguments = command(path)
    assert arguments[1] == path.relative_to(FOLDER.parents[1]).as_posix()
    assert arguments[-2:] == ["--out", f"{path.stem}.h5"]
    arguments[1], arguments[-1] = str(path), str(tmp_path / arguments[-1])
    arguments = [re.sub(r"\d+ points", coarser, one) for one in arguments]
    done = CliRunner().invoke(main, arguments)
    assert done.exit_code == 0, done.stderr
    return read_record(arguments[-1], "tailrace sweep").to_dataset()


def test_there_are_studies():
    assert STUDIES, f"no study in {FOLDER}"


@pytest.mark.parametrize("path", STUDIES, ids=lambda path: path.stem)
def test_a_shipped_study_runs_and_draws(path, tmp_path):
    dataset = run(path, tmp_path, "3 points")
    assert dataset["computed"].all()
    assert (tmp_path / f"{path.stem}.svg").exists()


def test_where_gaussian_theory_holds(tmp_path):
    path = FOLDER / "where-gaussian-theory-holds.toml"
    study = run(path, tmp_path, "5 points").isel(solute=0)
    fourier = study["part_fourier_number"].isel(part=1).values
    transit = float(study["part_residence"][0, 0, 1])
    widths = study["injection.sigma"].values / transit
    # As its comment says: Fourier numbers 0.003 to 30, widths 0.02 to 2 transit times.
    np.testing.assert_allclose([fourier.min(), fourier.max()], [0.003, 30], rtol=1e-3)
    np.testing.assert_allclose([widths.min(), widths.max()], [0.02, 2], rtol=1e-3)
    # Linear parts: variances add, and the tube's is the sum over the radial modes.
    added = reduced_cumulants(fourier.ravel())[0].reshape(fourier.shape) * (transit / fourier) ** 2
    expected = added + study["injection.sigma"].values[None, :] ** 2
    np.testing.assert_allclose(study["variance"], expected, rtol=2e-3)
    # Taylor, Proc. R. Soc. A 219 (1953) 186: the long-tube variance is transit^2 / (24 X); for
    # X = 30 the exact one is less by 1 / (16 X) of it (parts/tube/theory.py), for 0.003 far less.
    taylor = transit**2 / (24 * fourier) + study["injection.sigma"].values[None, :] ** 2
    ratio = study["variance"].values / taylor
    np.testing.assert_allclose(ratio[-1], 1, atol=2.5e-3)
    assert ratio[0, 0] < 0.1
    assert np.all(np.diff(ratio, axis=0) > -1e-3)
