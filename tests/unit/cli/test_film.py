"""The command ``film``: what it writes, the same each time, and what it refuses."""

import shutil
import subprocess

import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

import tailrace
from tailrace.cli import film as command
from tailrace.cli import main
from tailrace.figures.film import palette, write_gif
from tailrace.figures.plume import COLOURS
from tailrace.studies.way import gone, whole_way

FFMPEG = shutil.which("ffmpeg") or command._bundled()

SCENARIO = """
title = "A tube and a cell"
[method]
flow = "1.0 mL/min"
eluent = { viscosity = "1.0 mPa*s" }
[[solutes]]
name = "tracer"
diffusivity = "2.0e-9 m^2/s"
[injection]
shape = "gaussian"
sigma = "0.1 s"
[[path]]
name = "tube"
part = "tube"
bore = "0.12 mm"
length = "500 mm"
[[path]]
name = "cell"
part = "cell"
volume = "8 uL"
"""
QUICK = ("--size", "320x300", "--seconds", "2", "--rate", "8")


@pytest.fixture
def scenario(tmp_path):
    file = tmp_path / "tube.toml"
    file.write_text(SCENARIO)
    return file


def invoke(*arguments):
    return CliRunner().invoke(main, ["film", *map(str, arguments)])


def refused(*arguments):
    done = invoke(*arguments)
    assert done.exit_code == 2, done.output
    assert done.stdout == ""
    assert len(done.stderr.splitlines()) == 1
    return done.stderr


def test_a_gif_twice_has_the_same_bytes(scenario, tmp_path):
    out = tmp_path / "film.gif"
    done = invoke(scenario, "--out", out, *QUICK)
    assert done.exit_code == 0, done.output
    assert (done.stdout, done.stderr) == ("", f"wrote {out}\n")
    first = out.read_bytes()
    with Image.open(out) as stored:
        assert stored.size == (320, 300)
        durations = []
        for index in range(stored.n_frames):
            stored.seek(index)
            durations.append(stored.info["duration"])
    assert sum(durations) == pytest.approx(2000, abs=130)
    assert invoke(scenario, "--out", out, *QUICK, "--part", "tube").exit_code == 0
    assert out.read_bytes() == first
    assert {one.name for one in tmp_path.iterdir()} == {"film.gif", "tube.toml"}


def test_a_film_that_ends_with_the_tube_is_as_long(scenario, tmp_path):
    out = tmp_path / "film.gif"
    scenario.write_text(SCENARIO.rsplit("[[path]]", 1)[0])
    assert invoke(scenario, "--out", out, *QUICK).exit_code == 0
    with Image.open(out) as stored:
        assert stored.n_frames == 8  # one second that moves, and one frame that stays


def test_speed_sets_the_length(scenario, tmp_path):
    out = tmp_path / "film.gif"
    counts = []
    for speed in ("3", "1.5"):
        done = invoke(scenario, "--out", out, *QUICK[:2], "--rate", "8", "--speed", speed)
        assert done.exit_code == 0, done.output
        with Image.open(out) as stored:
            counts.append(stored.n_frames)
    assert counts[1] > 1.6 * counts[0]


@pytest.mark.skipif(FFMPEG is None, reason="MP4 needs ffmpeg")
def test_an_mp4_twice_has_the_same_bytes(scenario, tmp_path):
    films = []
    for name in ("one.mp4", "two.MP4"):
        done = invoke(scenario, "--out", tmp_path / name, *QUICK)
        assert done.exit_code == 0, done.output
        films.append((tmp_path / name).read_bytes())
    assert films[0] == films[1]
    assert films[0][4:8] == b"ftyp"


def test_mp4_without_ffmpeg(scenario, tmp_path, monkeypatch):
    monkeypatch.setattr(command, "_bundled", lambda: None)
    monkeypatch.setenv("PATH", str(tmp_path))
    assert "expected the program ffmpeg" in refused(scenario, "--out", tmp_path / "film.mp4")


def test_ffmpeg_that_fails(scenario, tmp_path, monkeypatch):
    program = tmp_path / "ffmpeg"
    program.write_text("#!/bin/sh\necho no such encoder >&2\nexit 1\n")
    program.chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}:/bin:/usr/bin")
    text = refused(scenario, "--out", tmp_path / "film.mp4", *QUICK)
    assert "found that it says: no such encoder" in text
    assert not list(tmp_path.glob("*film*"))


def test_names_that_are_not_there(scenario, tmp_path):
    out = ("--out", tmp_path / "film.gif")
    assert 'a known tube, found "x"; known are "tube"' in refused(scenario, *out, "--part", "x")
    assert 'found "cell"' in refused(scenario, *out, "--part", "cell")
    assert 'write "tracer"' in refused(scenario, *out, "--solute", "tracr")


def test_a_path_without_a_tube(scenario, tmp_path):
    first, cell = SCENARIO.rsplit("[[path]]", 1)
    scenario.write_text(first.split("[[path]]")[0] + "[[path]]" + cell)
    assert "expected a tube on the path, found none" in refused(scenario)


@pytest.mark.parametrize(
    ("options", "text"),
    [
        (("--size", "huge"), "--size huge: expected slide, column, page or width x height"),
        (("--size", "100x100"), "300 to 4000"),
        (("--out", "film.avi"), "ends in .gif or .mp4"),
        (("--out", "film"), "ends in .gif or .mp4"),
        (("--seconds", "3", "--speed", "1"), "found both"),
        (("--size", "3000x3000", "--seconds", "60"), "make it shorter, smaller"),
    ],
)
def test_options_that_cannot_be(scenario, options, text):
    assert text in refused(scenario, *options)


def test_a_folder_that_is_not_there(scenario, tmp_path):
    out = tmp_path / "none" / "film.gif"
    assert "expected a file in a folder that is there" in refused(scenario, "--out", out, *QUICK)


def test_an_interrupt_leaves_nothing(scenario, tmp_path, monkeypatch):
    def stopped(pictures, *others):
        yield next(iter(pictures))
        raise KeyboardInterrupt

    monkeypatch.setattr(command, "_counted", stopped)
    before = set(tmp_path.iterdir())
    for name in ("film.gif", "film.mp4") if shutil.which("ffmpeg") else ("film.gif",):
        done = invoke(scenario, "--out", tmp_path / name, *QUICK)
        assert done.exit_code == 130
    assert set(tmp_path.iterdir()) == before


def test_the_whole_way_twice_has_the_same_bytes(scenario, tmp_path):
    films = []
    for name in ("one.gif", "two.gif"):
        done = invoke(scenario, "--whole", "--out", tmp_path / name, *QUICK)
        assert done.exit_code == 0, done.output
        films.append((tmp_path / name).read_bytes())
    assert films[0] == films[1]
    with Image.open(tmp_path / "one.gif") as film:
        assert film.size == (320, 300)
        # injection, tube, cell: as many moments each, and the last picture for a second
        assert film.n_frames >= 9


def test_the_whole_way_has_one_time_and_no_tube_of_its_own(scenario, tmp_path):
    text = refused(scenario, "--whole", "--part", "tube", "--out", tmp_path / "film.gif")
    assert "expected --whole, or a tube" in text


def test_a_gif_says_what_it_shows(scenario, tmp_path):
    assert (
        invoke(scenario, "--out", tmp_path / "one.gif", *QUICK, "--language", "de").exit_code == 0
    )
    with Image.open(tmp_path / "one.gif") as film:
        words = film.info["comment"].decode()
    assert words.startswith("Konzentration von tracer in „tube“ (Innendurchmesser 0,12 mm")
    assert words.endswith("aufgezeichnete Peak.")


@pytest.mark.skipif(FFMPEG is None, reason="videos need ffmpeg")
@pytest.mark.parametrize("name", ["one.mp4", "one.webm"])
def test_a_video_says_what_it_shows(scenario, tmp_path, name):
    done = invoke(scenario, "--out", tmp_path / name, *QUICK, "--whole")
    assert done.exit_code == 0, done.output
    command = [FFMPEG, "-v", "error", "-i", str(tmp_path / name), "-f", "ffmetadata", "-"]
    found = subprocess.run(command, capture_output=True, check=True).stdout.decode()
    assert "description=the band of tracer on its way through " in found.lower()


@pytest.mark.skipif(FFMPEG is None, reason="WebM needs ffmpeg")
def test_a_webm_twice_has_the_same_bytes(scenario, tmp_path):
    films = []
    for name in ("one.webm", "two.webm"):
        done = invoke(scenario, "--out", tmp_path / name, *QUICK)
        assert done.exit_code == 0, done.output
        films.append((tmp_path / name).read_bytes())
    assert films[0] == films[1]
    assert films[0][:4] == b"\x1a\x45\xdf\xa3"


def test_a_gradient_of_colour_shows_no_contours_in_a_gif(tmp_path):
    shades = COLOURS(np.linspace(0, 1, 640) ** 2)[:, :3]
    picture = np.rint(255 * np.tile(shades, (64, 1, 1))).astype(np.uint8)
    write_gif(tmp_path / "one.gif", [picture], 10, palette())
    with Image.open(tmp_path / "one.gif") as film:
        shown = np.asarray(film.convert("RGB"), dtype=float)
    means = [
        one.reshape(8, 8, 80, 8, 3).mean(axis=(1, 3)) for one in (shown, picture.astype(float))
    ]
    # what the eye sees of a few points follows the shade; without the weave it goes by steps of 4
    assert np.abs(means[0] - means[1]).max() < 3
    assert np.abs(np.diff(means[0] - means[1], axis=1)).max() < 3
    assert (shown[:, 0] == 255).all()


def test_what_a_part_holds_is_what_has_come_and_not_gone(scenario):
    way = whole_way(tailrace.load(scenario), count=5, rings=10, sections=40)
    assert [leg.name for leg in way.legs] == ["injection", "tube", "cell"]
    tube = way.legs[1].plume
    held = [way.held(1, time) for time in tube.times]
    np.testing.assert_allclose(held, tube.held, atol=0.02)
    everything = [sum(way.held(leg, 0.6) for leg in range(3)) + gone(way.legs[-1].band, 0.6)]
    assert everything == pytest.approx([1.0], abs=1e-6)
    expected = 0.1**2 + tube_variance() + (8e-9 / (1e-6 / 60)) ** 2
    assert way.variance == pytest.approx(expected, rel=1e-3)


def tube_variance():
    """Of Taylor's long tube, s^2: a^4 pi L / (24 D F)."""
    return np.pi * 0.06e-3**4 * 0.5 / (24 * 2e-9 * 1e-6 / 60)
