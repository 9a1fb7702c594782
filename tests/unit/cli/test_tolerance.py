"""``tailrace tolerance`` and ``tailrace report`` from the outside: files, exit codes, refusals."""

import json

import pytest
import xarray
from click.testing import CliRunner
from reference.pages import FETCHING, Reader

from tailrace.cli import main
from tailrace.studies.tolerance import region, solve, widening

TITLE = "<script>alert(1)</script>"
SOLUTE = 'a/"b".c'
PART = '../o\'clock" onload="x'
SCENARIO = f"""
title = '{TITLE}'

[method]
flow = "1.0 mL/min"
eluent = {{ viscosity = "1.0 mPa*s" }}

[[solutes]]
name = '{SOLUTE}'
diffusivity = "1.0e-9 m^2/s"

[injection]
shape = "gaussian"
sigma = "0.2 s"

[[path]]
name = '''{PART}'''
part = "tube"
bore = "0.12 mm"
length = "500 mm"

[[path]]
name = "cell"
part = "cell"
volume = "2 uL"

[[uncertain]]
field = "cell.volume"
distribution = "normal"
relative = 0.05

[[uncertain]]
field = "injection.sigma"
distribution = "uniform"
half_width = "0.01 s"
kind = "measurement"

[[accept]]
measure = "width"
at_most = "0.69 s"
"""
FILES = {"record.h5", "report.html"} | {
    f"{name}.{ending}"
    for name in ("distributions", "importance", "widths", "regions")
    for ending in ("svg", "png")
}


def invoke(*arguments):
    return CliRunner().invoke(main, list(map(str, arguments)))


@pytest.fixture(scope="module")
def scenario(tmp_path_factory):
    file = tmp_path_factory.mktemp("scenario") / "hostile.toml"
    file.write_text(SCENARIO)
    return file


@pytest.fixture(scope="module")
def made(scenario, tmp_path_factory):
    """A study with everything asked for, though little of it: how it ended, and its folder."""
    out = tmp_path_factory.mktemp("out") / "study"
    options = ["--samples", 80, "--indices", "--rows", 8, "--map", "cell.volume × injection.sigma"]
    options += ["--widen", "cell.volume", "--together", "--out", out]
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(solve, "WIDENING_SAMPLES", 80)
        patched.setattr(widening, "FRESH_TIMES", 1)
        patched.setattr(region, "POINTS", 3)
        patched.setattr(solve, "least_samples", lambda *demand: 80)
        patched.setattr(region, "least_samples", lambda *demand: 8)
        return invoke("tolerance", scenario, *options), out


def test_hostile_names_end_in_no_file_name_and_in_no_markup(made):
    done, out = made
    assert done.exit_code in (0, 1), done.output
    assert {one.name for one in out.iterdir()} == FILES
    assert [one.name for one in out.parent.iterdir()] == ["study"]
    read = Reader((out / "report.html").read_text())
    assert not FETCHING & {tag for tag, _ in read.elements}
    assert not [name for _, attributes in read.elements for name in attributes if name[:2] == "on"]
    assert TITLE in read.text
    assert SOLUTE in read.text
    for file in out.glob("*.svg"):
        text = file.read_text()
        assert "<script" not in text
        assert 'onload="' not in text


def test_the_report_is_made_again_from_the_record_alone(made, tmp_path):
    _, out = made
    again = tmp_path / "again.html"
    assert invoke("report", out / "record.h5", "--out", again).exit_code == 0
    assert again.read_bytes() == (out / "report.html").read_bytes()
    read = Reader(again.read_text())
    assert "The two solvers agree" in read.text


def test_the_record_is_what_xarray_opens(made):
    with xarray.open_datatree(made[1] / "record.h5", engine="h5netcdf") as tree:
        assert tree["inputs"]["values"].dims == ("input", "sample")
        assert tree["inputs"]["values_units"].values.tolist() == ["m^3", "s"]
        assert tree["outcomes"]["values"].dims == ("outcome", "sample")
        assert tree["metrics/recorded"]["width_half"].sizes == {"sample": 80, "solute": 1}
        assert tree["indices"]["total"].dims == ("outcome", "group")
        assert tree.attrs["title"] == TITLE


def test_exit_codes_tell_whether_acceptance_was_shown(scenario, tmp_path):
    kept = invoke("tolerance", scenario, "--samples", 100)
    assert kept.exit_code == 0, kept.output
    assert "is satisfied by 100 % of the samples" in " ".join(kept.stdout.split())
    few = invoke("tolerance", scenario, "--samples", 20)
    assert few.exit_code == 1, "twenty samples cannot show 95 % with 95 % confidence"
    assert "Not shown: width of" in few.stdout
    strict = tmp_path / "strict.toml"
    strict.write_text(SCENARIO.replace("0.69 s", "0.1 s"))
    reported = invoke("tolerance", strict, "--samples", 20, "--json")
    assert reported.exit_code == 1
    answer = json.loads(reported.stdout)
    assert answer["met"] is False
    assert answer["outcomes"][0]["acceptance"]["accepted"] == 0


@pytest.mark.parametrize(
    ("options", "text"),
    [
        (("--map", "cell.volume"), "expected two fields with × between them"),
        (("--map", "cell.volume × cell.volume"), "expected two uncertain fields that differ"),
        (("--widen", "cell.volum"), "cell.volume"),
        (("--samples", 3), "expected at least 10 samples"),
        (("--digits", 3), "expected 1 or 2 digits"),
        (("--cluster", "nowhere"), "--cluster nowhere: expected the address"),
        (("--generator", "dice"), "'dice' is not one of"),
    ],
)
def test_what_cannot_be_asked_is_refused_in_one_sentence(scenario, options, text):
    done = invoke("tolerance", scenario, *options)
    assert done.exit_code == 2, done.output
    assert done.stdout == ""
    assert text in done.stderr
    assert "Traceback" not in done.stderr


def test_a_folder_that_cannot_be_made_is_named_before_anything_is_computed(scenario, tmp_path):
    (tmp_path / "file").write_text("")
    for out in (tmp_path / "file" / "study", tmp_path / "file" / "study.h5"):
        done = invoke("tolerance", scenario, "--samples", 20, "--out", out)
        assert done.exit_code == 2
        assert "a name that is free" in done.stderr


def test_without_uncertain_inputs_it_says_how_to_add_one(scenario, tmp_path):
    bare = tmp_path / "bare.toml"
    bare.write_text(SCENARIO[: SCENARIO.index("[[uncertain]]")])
    done = invoke("tolerance", bare)
    assert done.exit_code == 2
    assert "[[uncertain]]" in done.stderr


def test_a_run_is_reported_as_it_was_when_it_was_made(scenario, tmp_path):
    out = tmp_path / "run"
    assert invoke("run", scenario, "--cross-check", "--out", out).exit_code == 0
    assert invoke("report", out / "record.h5").exit_code == 0
    assert (out / "record.html").read_bytes() == (out / "report.html").read_bytes()
    assert "The two solvers agree" in Reader((out / "report.html").read_text()).text
    assert invoke("run", scenario, "--cross-check").exit_code == 2


def test_what_has_no_report_is_refused(scenario, tmp_path):
    sweep = tmp_path / "sweep.h5"
    vary = "cell.volume = 1, 2 uL"
    assert invoke("sweep", scenario, "--vary", vary, "--out", sweep).exit_code == 0
    (tmp_path / "text.h5").write_text("no record")
    for file, text in (
        (sweep, "found tailrace sweep"),
        (tmp_path / "text.h5", "another kind of file"),
    ):
        done = invoke("report", file)
        assert done.exit_code == 2
        assert text in done.stderr
    assert "`tolerance --out`" in invoke("report", sweep).stderr
