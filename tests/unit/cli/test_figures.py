"""The command ``figures``: what it writes, what it says, and what it refuses."""

import re
from pathlib import Path

import pytest
from click.testing import CliRunner

import tailrace
from tailrace.cli import main
from tailrace.cli.figures import SIZES
from tailrace.figures.sizes import SIZES as KNOWN_SIZES
from tailrace.studies.gallery import ENTRIES

SCENARIOS = Path(__file__).parents[3] / "scenarios"


def invoke(*words):
    return CliRunner().invoke(main, ["figures", *(str(word) for word in words)])


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    out = tmp_path_factory.mktemp("gallery") / "new"
    return invoke("joint", "staircase", "--out", out, "--format", "svg,pdf,png"), out


def test_files_of_each_figure_and_an_index(made):
    answer, out = made
    assert answer.exit_code == 0, answer.output
    endings = ("svg", "pdf", "png", "csv")
    expected = {f"{name}.{end}" for name in ("joint", "staircase") for end in endings}
    assert {path.name for path in out.iterdir()} == expected | {"index.html"}
    assert answer.stdout.startswith("joint: ")
    assert "\nstaircase: " in answer.stdout


def test_a_second_run_gives_the_same_bytes(made, tmp_path):
    _, out = made
    invoke("joint", "staircase", "--out", tmp_path, "--format", "svg,pdf,png")
    for path in out.iterdir():
        assert (tmp_path / path.name).read_bytes() == path.read_bytes(), path.name


def test_processes_side_by_side_write_the_same_bytes(tmp_path, monkeypatch):
    names = ("time-constants", "cell-volumes", "noise", "plate-height", "joint")
    invoke(*names, "--language", "de", "--out", tmp_path / "one")
    monkeypatch.setenv("NUMBA_NUM_THREADS", "2")
    answer = invoke(*names, "--language", "de", "--out", tmp_path / "many")
    assert answer.exit_code == 0, answer.output
    written = {path.name: path.read_bytes() for path in (tmp_path / "many").iterdir()}
    assert written == {path.name: path.read_bytes() for path in (tmp_path / "one").iterdir()}
    assert len(written) == 3 * len(names) + 1
    refused = invoke(*names, "--scenario", SCENARIOS / "bare-tube.toml", "--out", tmp_path / "none")
    assert refused.exit_code == 2
    assert "for the figure cell-volumes, found none" in refused.stderr


def test_the_index_stands_alone_and_has_words(made):
    _, out = made
    page = (out / "index.html").read_text("utf-8")
    assert "default-src 'none'" in page
    assert not re.search(r"https?://|<script|<img|@import", page)
    assert page.count("<figure ") == page.count("<figcaption>") == page.count('role="img"') == 2
    # SVG's own title and description, W3C SVG-AAM 1.0.
    assert page.count("<desc>") == 2
    for link in re.findall(r'href="([^"#]+)"', page):
        assert (out / link).is_file()
    assert "Largest discretisation error" in page
    names = re.findall(r'\bid="([^"]+)"', page)
    assert len(names) == len(set(names))


def test_units_in_the_head_of_a_table(made):
    _, out = made
    head = (out / "joint.csv").read_text("utf-8").splitlines()[0]
    assert head.startswith("joint,unswept [1],exchange [1],time [s],signal [1/s]")
    assert head.endswith("numerical_error [1]")


def test_a_scenario_is_shown_where_one_can_be(tmp_path):
    file = SCENARIOS / "inherited-core-shell.toml"
    answer = invoke("joint", "staircase", "--scenario", file, "--size", "column", "--out", tmp_path)
    assert answer.exit_code == 0
    assert "--scenario does not matter to: joint" in answer.stderr
    assert "cohumulone" in answer.stdout
    assert "Hop acids: a core-shell column" in (tmp_path / "index.html").read_text("utf-8")


def test_figures_that_a_scenario_cannot_serve_are_left_out(tmp_path, monkeypatch):
    few = {name: ENTRIES[name] for name in ("time-constants", "cell-volumes", "staircase")}
    monkeypatch.setattr("tailrace.studies.gallery.ENTRIES", few)
    answer = invoke(
        "--scenario", SCENARIOS / "bare-tube.toml", "--format", "svg", "--out", tmp_path
    )
    assert answer.exit_code == 0
    assert {path.stem for path in tmp_path.iterdir()} == {"time-constants", "index"}
    assert answer.stderr.count("left out: ") == 2
    assert "expected a column on the path for the figure staircase" in answer.stderr


def test_values_and_widths_that_were_asked_for(tmp_path):
    answer = invoke(
        *("time-constants", "--values", "0.5, 2 s", "--size", "84mm", "--font", "7"),
        *("--format", "eps,png", "--dpi", "300", "--out", tmp_path),
    )
    assert answer.exit_code == 0, answer.output
    table = (tmp_path / "time-constants.csv").read_text("utf-8").splitlines()[1:]
    assert {line.split(",")[0] for line in table} == {"0", "0.5", "2"}
    # Width and height stand at 16 and 20 in a PNG (W3C, PNG specification, 11.2.2).
    head = (tmp_path / "time-constants.png").read_bytes()
    assert int.from_bytes(head[16:20], "big") == pytest.approx(84 / 25.4 * 300, abs=1)
    # Adobe, Encapsulated PostScript File Format Specification 3.0.
    eps = (tmp_path / "time-constants.eps").read_bytes()
    assert eps.startswith(b"%!PS-Adobe-3.0 EPSF-3.0") and b"CreationDate" not in eps


def test_pictures_of_a_record_are_drawn_again_in_another_size(tmp_path):
    record = tmp_path / "record.h5"
    result = tailrace.run(SCENARIOS / "bare-tube.toml")
    result.save(record)
    out = tmp_path / "out"
    look = ("--size", "84mm", "--format", "png,svg", "--dpi", "100", "--language", "de")
    answer = invoke(record, *look, "--out", out)
    assert answer.exit_code == 0, answer.output
    assert "Zeit ab Beginn der Injektion, s" in (out / "peaks.svg").read_text("utf-8")
    made = {path.stem: path.read_bytes() for path in out.glob("*.png")}
    assert set(made) == {"sources", "stages", "peaks"}
    for picture in made.values():
        assert int.from_bytes(picture[16:20], "big") == pytest.approx(331, abs=2)
    other = record.rename(tmp_path / "other.h5")
    result.save(record)
    assert invoke(record, other, "--format", "svg", "--out", out).exit_code == 0
    assert (out / tmp_path.name / "peaks.svg").exists() and (out / "other" / "peaks.svg").exists()
    assert "another record would be drawn to" in invoke(other, other, "--out", out).stderr


def test_the_list_names_every_figure():
    answer = invoke("--list")
    assert answer.exit_code == 0
    assert [line.split()[0] for line in answer.stdout.splitlines() if line][:-1] == list(ENTRIES)
    assert "joint                 a gap in a joint, and its unswept pocket *" in answer.stdout
    assert "Spalt in einer Verbindung" in invoke("--list", "--language", "de").stdout


def test_the_sizes_of_the_help_are_those_there_are():
    assert tuple(KNOWN_SIZES) == SIZES


@pytest.mark.parametrize(
    ("words", "text"),
    [
        (["jont"], "expected names of figures, found 'jont'; choose from plume, outlet-signals"),
        (["joint", "--format", "svg,gif"], "expected svg, pdf, eps, png, one or more with commas"),
        (["joint", "--format", ""], "found ''; leave it out"),
        (["joint", "--size", "poster"], "or a width such as 84mm"),
        (["joint", "--size", "2mm"], "from 1.5 to 40 in"),
        (["joint", "--values", "1, 2"], "expected a figure that takes them, found joint"),
        (["cell-volumes", "--values", "1 bar"], "expected a volume with a unit"),
        (["cell-volumes", "--values", "1 .. 9 uL, 9 points"], "expected 1 to 6 above zero"),
        (["none.h5"], "none.h5: expected a record"),
        (
            ["staircase", "--solute", "x", "--scenario", SCENARIOS / "inherited-core-shell.toml"],
            "expected a known solute",
        ),
        (["joint", "--scenario", "none.toml"], "none.toml: expected a scenario file"),
        (
            ["staircase", "--scenario", SCENARIOS / "bare-tube.toml"],
            "expected a column on the path for the figure staircase, found none",
        ),
    ],
)
def test_what_is_wrong_is_said_and_nothing_written(words, text, tmp_path):
    out = tmp_path / "out"
    answer = invoke(*words, "--out", out)
    assert answer.exit_code == 2
    assert text in answer.stderr
    assert not out.exists() or not list(out.iterdir())


def test_a_folder_that_cannot_be_is_refused_before_anything_is_computed(tmp_path, monkeypatch):
    monkeypatch.setattr("tailrace.studies.gallery.compute", lambda *_: pytest.fail("computed"))
    (tmp_path / "file").write_text("")
    answer = invoke("joint", "--out", tmp_path / "file")
    assert answer.exit_code == 2
    assert "a name that is free" in answer.stderr
