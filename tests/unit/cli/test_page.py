"""The command ``page``: what it writes, and what it refuses."""

import contextlib
import os
import pty
import subprocess
import sys

import numpy as np
import pytest
from click.testing import CliRunner
from reference.slider_pages import SliderPage

from tailrace.cli import main
from tailrace.studies import batch

SCENARIO = """
[method]
flow = "1 mL/min"
viscosity = "1 mPa*s"
[[solutes]]
name = "tracer"
diffusivity = "1e-9 m^2/s"
[[solutes]]
name = "slower"
diffusivity = "5e-10 m^2/s"
[injection]
shape = "plug"
volume = "1 uL"
[[path]]
name = "capillary"
part = "tube"
bore = "0.12 mm"
length = "0.3 m"
"""
SLIDE = "capillary.length = 0.2, 0.3 m"
MOST_MEGABYTES = 0.6


@pytest.fixture
def folder(tmp_path, monkeypatch):
    (tmp_path / "tube.toml").write_text(SCENARIO)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def invoke(*arguments):
    return CliRunner().invoke(main, ["page", *arguments])


def test_it_writes_one_file_named_like_the_scenario(folder):
    done = invoke("tube.toml", "--slide", SLIDE)
    assert done.exit_code == 0, done.stderr
    size = (folder / "tube.html").stat().st_size / 1e6
    said = f"wrote tube.html: 2 positions simulated beside the page, {size:.2f} MB\n"
    assert done.stdout == said and size < MOST_MEGABYTES
    assert sorted(os.listdir(folder)) == ["tube.html", "tube.toml"]
    data = SliderPage((folder / "tube.html").read_text(encoding="utf-8")).data
    assert data["solutes"] == ["tracer", "slower"]
    assert data["axes"][0]["labels"] == ["0.2 m", "0.3 m"]
    assert data["axes"][0]["start"] == 0.3


def test_where_it_cannot_compute_every_stop_is_simulated(folder):
    loop = 'shape = "loop"\nloop_bore = "0.25 mm"\nloop_length = "100 mm"'
    (folder / "looped.toml").write_text(SCENARIO.replace('shape = "plug"', loop))
    done = invoke("looped.toml", "--slide", SLIDE)
    assert done.exit_code == 0, done.stderr
    assert done.stdout.startswith("wrote looped.html: 2 positions, 0.")
    data = SliderPage((folder / "looped.html").read_text(encoding="utf-8")).data
    assert (data["mode"], len(data["cases"])) == ("stops", 2)


def test_one_solute_into_a_file_of_any_name_twice_the_same(folder):
    for name in ("one.html", "two.html"):
        done = invoke("tube.toml", "--slide", SLIDE, "--solute", "slower", "--out", name)
        assert done.exit_code == 0, done.stderr
    one = (folder / "one.html").read_bytes()
    assert one == (folder / "two.html").read_bytes()
    assert SliderPage(one.decode()).data["solutes"] == ["slower"]


@pytest.mark.parametrize(
    ("arguments", "text"),
    [
        (["--slide", SLIDE, "--out", "page.pdf"], "--out page.pdf: expected a file name that ends"),
        (["--slide", SLIDE, "--out", "none/page.html"], "expected a file in a folder that is"),
        (["--slide", "capillary.lenght = 1, 2 m"], "capillary.lenght: "),
        (["--slide", SLIDE, "--solute", "traser"], "--solute: "),
        (["--slide", SLIDE] * 2, "expected each field once"),
    ],
)
def test_a_wrong_wish_is_one_sentence_and_exit_code_2(folder, arguments, text):
    done = invoke("tube.toml", *arguments)
    assert done.exit_code == 2
    assert text in done.stderr
    assert len(done.stderr.splitlines()) == 1
    assert os.listdir(folder) == ["tube.toml"]


def test_what_could_not_be_computed_is_exit_code_3_beside_the_page(folder, monkeypatch):
    from tailrace.errors import AccuracyError

    honest = batch.travel

    def failing(itinerary):
        if np.min(itinerary.passages[1][0].length) < 0.25:
            raise AccuracyError("capillary: not to the end")
        return honest(itinerary)

    monkeypatch.setattr(batch, "travel", failing)
    done = invoke("tube.toml", "--slide", SLIDE)
    assert done.exit_code == 3
    assert "1 of 2 positions could not be computed" in done.stderr
    assert "at capillary.length = 200 mm: not computed: capillary: not to the end" in done.stderr
    assert (folder / "tube.html").is_file()


def test_an_interrupt_leaves_nothing_behind(folder, monkeypatch):
    def stopped(itinerary):
        raise KeyboardInterrupt

    monkeypatch.setattr(batch, "travel", stopped)
    done = invoke("tube.toml", "--slide", SLIDE)
    assert done.exit_code == 130
    assert done.stderr.strip() == "interrupted"
    assert os.listdir(folder) == ["tube.toml"]


@pytest.mark.skipif(os.name != "posix", reason="pseudo-terminals are POSIX's")
def test_a_terminal_is_told_how_far_it_is(folder):
    outer, inner = pty.openpty()
    command = [sys.executable, "-m", "tailrace", "page", "tube.toml", "--slide", SLIDE]
    reported, environment = b"", os.environ | {"TERM": "xterm"}
    with subprocess.Popen(
        command, stdout=subprocess.DEVNULL, stderr=inner, env=environment
    ) as done:
        os.close(inner)
        # The other end of a pseudo-terminal closes with an error on Linux.
        with contextlib.suppress(OSError):
            while piece := os.read(outer, 4096):
                reported += piece
    os.close(outer)
    assert done.returncode == 0
    assert b"positions" in reported
    assert b"3/3" in reported or b"6/6" in reported
