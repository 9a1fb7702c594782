"""Texts that steer a terminal, full disks, homes that cannot be written, and the unforeseen."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from tailrace.cache import choose_cache
from tailrace.cli.main import main
from tailrace.errors import printable
from tailrace.records.store import write_bytes

TUBE = Path(__file__).parents[2] / "scenarios" / "bare-tube.toml"
ODD = ["\x1b]0;title\x07", "\x9b2J", "\ufffe", "\u202e", "\x00"]


def call(*arguments):
    return CliRunner().invoke(main, [str(one) for one in arguments])


@pytest.mark.parametrize("odd", ODD)
@pytest.mark.parametrize("key", ["title", "because"])
def test_characters_that_steer_a_terminal_are_refused(tmp_path, odd, key):
    text = TUBE.read_text()
    escaped = "".join(f"\\u{ord(one):04X}" for one in odd)
    line = f'{key} = "{escaped}"\n'
    if key == "title":
        text = line + "".join(one for one in text.splitlines(True) if not one.startswith("title"))
    else:
        text = text.replace("[[path]]", f'[[uncertain]]\nfield = "method.flow"\n{line}[[path]]')
    (tmp_path / "odd.toml").write_text(text)
    made = call("run", tmp_path / "odd.toml")
    assert made.exit_code == 2
    assert f"{key}: expected text, found the control character U+" in made.output
    assert made.output.replace("\n", "").isprintable()


def test_a_file_name_does_not_steer_a_terminal(tmp_path):
    made = call("run", tmp_path / "a\x1b[2Jb.toml")
    assert made.exit_code == 2
    assert "\x1b" not in made.output
    assert printable("a\x1b\udc80\ufffeb\n\t±") == "a???b\n\t±"


def test_what_was_not_foreseen_ends_with_a_sentence_and_details_in_a_file(monkeypatch):
    monkeypatch.setattr("tailrace.journey.travel", lambda *_, **__: 1 / 0)
    made = call("run", TUBE)
    assert made.exit_code == 70
    assert made.output.count("\n") == 1
    details = Path(made.output.split("its details are in ")[1].split(",")[0])
    assert "ZeroDivisionError" in details.read_text()
    details.unlink()


@pytest.mark.skipif(os.name != "posix", reason="has no /dev/full")
def test_a_full_disk_behind_standard_output(tmp_path):
    command = [sys.executable, "-m", "tailrace", "check", str(TUBE)]
    with Path("/dev/full").open("w") as full:
        made = subprocess.run(command, stdout=full, stderr=subprocess.PIPE, text=True, check=False)
    assert made.returncode == 2
    assert "No space left" in made.stderr
    assert "Traceback" not in made.stderr


@pytest.mark.skipif(os.name != "posix", reason="closes a file descriptor of a shell")
def test_a_closed_output_forgets_what_is_said():
    command = 'exec "$0" -m tailrace check "$1" >&- 2>&-'
    made = subprocess.run(["sh", "-c", command, sys.executable, str(TUBE)], check=False)
    assert made.returncode == 0


def test_a_full_disk_costs_no_table(tmp_path, monkeypatch):
    def full(*_, **__):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("tailrace.records.store.write_bytes", full)
    made = call("run", TUBE, "--out", tmp_path / "out")
    assert made.exit_code == 2
    assert "Pressure:" in made.output
    assert "No space left on device" in made.output
    assert [one for one in (tmp_path / "out").iterdir() if one.suffix == ".h5"] == []


def test_a_cache_of_its_own_where_nothing_can_be_written(tmp_path, monkeypatch):
    monkeypatch.delenv("NUMBA_CACHE_DIR", raising=False)
    monkeypatch.setattr("tempfile.gettempdir", lambda: str(tmp_path))
    monkeypatch.setattr("tailrace.cache.os.access", lambda *_: True)
    choose_cache()
    assert "NUMBA_CACHE_DIR" not in os.environ
    monkeypatch.setattr("tailrace.cache.os.access", lambda *_: False)
    choose_cache()
    folder = Path(os.environ["NUMBA_CACHE_DIR"])
    assert folder.parent == tmp_path
    assert os.name != "posix" or folder.stat().st_mode & 0o077 == 0


def test_a_damaged_cache_is_passed_over():
    environment = {name: one for name, one in os.environ.items() if name != "NUMBA_CACHE_DIR"}
    script = (
        "import os, pickle, sys; sys.argv = ['__main__.py', 'run', sys.argv[1]];"
        "import numba.core.caching as c\n"
        "def broken(self):\n"
        "    if 'NUMBA_CACHE_DIR' not in os.environ: raise pickle.UnpicklingError('damaged')\n"
        "    return whole(self)\n"
        "whole, c.IndexDataCacheFile._load_index = c.IndexDataCacheFile._load_index, broken\n"
        "from tailrace.cli.main import main; main()"
    )
    made = subprocess.run(
        [sys.executable, "-c", script, str(TUBE)],
        env=environment, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert made.returncode == 0, made.stderr
    assert "Pressure:" in made.stdout


def test_a_damaged_cache_that_somebody_asked_for_is_passed_over_once(tmp_path, monkeypatch):
    module, tried = sys.modules["tailrace.cli.main"], []
    monkeypatch.setattr(sys, "argv", ["__main__.py", "run"])
    monkeypatch.setattr("tailrace.journey.travel", lambda *_, **__: 1 / 0)
    monkeypatch.setattr(module, "_of_cache", lambda _: True)
    monkeypatch.setattr(
        module.subprocess, "call", lambda _, env: tried.append(env["NUMBA_CACHE_DIR"]) or 0
    )
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path))
    assert call("run", TUBE).exit_code == 0
    assert tried != [str(tmp_path)]
    monkeypatch.setenv("NUMBA_CACHE_DIR", tried[0])
    made = call("run", TUBE)
    assert made.exit_code == 70
    Path(made.output.split("its details are in ")[1].split(",")[0]).unlink()
    assert len(tried) == 1


@pytest.mark.parametrize("command", ["run", "sweep"])
def test_a_finished_record_is_not_overwritten_unless_told(tmp_path, command):
    out = tmp_path / ("made" if command == "run" else "made.h5")
    record = out / "record.h5" if command == "run" else out
    options = [] if command == "run" else ["--vary", "tube.length = 50, 60 mm"]
    assert call(command, TUBE, "--out", out, *options).exit_code == 0
    content = record.read_bytes()
    record.write_bytes(b"signed")
    again = call(command, TUBE, "--out", out, *options)
    assert again.exit_code == 2
    assert "add --replace" in again.output
    assert record.read_bytes() == b"signed"
    before = _with_other_pictures(out) if command == "run" else set()
    assert call(command, TUBE, "--out", out, "--replace", *options).exit_code == 0
    assert record.read_bytes() == content
    gone = {one.name for one in before if not one.exists()}
    assert gone == ({"drift.svg", "drift.png"} if before else set())


def _with_other_pictures(folder):
    """All files of a folder: with pictures of another record, of `figures`, one that its owner
    keeps under a name of his own, and a stranger's under a name of ours."""
    for form in ("svg", "png"):
        content = (folder / f"peaks.{form}").read_bytes()
        (folder / f"drift.{form}").write_bytes(content)
        (folder / f"peaks, first trial.{form}").write_bytes(content)
        (folder / f"of figures.{form}").write_bytes(content)
    (folder / "of figures.csv").write_text("t\n")
    (folder / "widths.svg").write_text("<svg/>")
    return {*folder.iterdir()}


@pytest.mark.parametrize("command", ["run", "verify"])
@pytest.mark.parametrize("accuracy", ["nan", "inf", "0", "-1e-3"])
def test_an_accuracy_that_is_none(command, accuracy):
    assert call(command, TUBE, "--accuracy", accuracy).exit_code == 2


@pytest.mark.parametrize("command", ["run", "check", "report"])
def test_a_name_that_is_too_long(command):
    made = call(command, "a" * 300 + ".toml")
    assert made.exit_code == 2
    assert made.output.startswith(("expected", "a" * 300))


def test_two_commands_do_not_mix_their_files_in_one_folder(tmp_path):
    (tmp_path / "improvement.h5").write_bytes(b"signed")
    made = call("run", TUBE, "--out", tmp_path)
    assert made.exit_code == 2
    assert [one.name for one in tmp_path.iterdir()] == ["improvement.h5"]


@pytest.mark.skipif(os.name != "posix", reason="links and modes of POSIX")
def test_links_modes_and_devices_stay_what_they_are(tmp_path):
    target, link = tmp_path / "target.h5", tmp_path / "link.h5"
    target.write_bytes(b"")
    target.chmod(0o600)
    link.symlink_to(target)
    write_bytes(link, b"new")
    assert link.is_symlink()
    assert target.read_bytes() == b"new"
    assert target.stat().st_mode & 0o777 == 0o600
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(OSError, match="no plain file"):
        write_bytes(tmp_path / "pipe", b"new")
    write_bytes(tmp_path / ("a" * 255), b"new")


@pytest.mark.skipif(os.name != "posix", reason="has no /dev/null")
@pytest.mark.parametrize("out", ["/dev/null", "/dev/null/made"])
def test_a_device_in_place_of_a_folder(out):
    made = call("run", TUBE, "--out", out)
    assert made.exit_code == 2
    assert "expected a folder, or a name that is free for one, found a file or a device" in (
        made.output
    )
    assert "Pressure:" not in made.output


def test_which_ending_the_page_of_a_qualification_has(tmp_path):
    made = call("qualify", "--out", tmp_path / "page.txt")
    assert made.exit_code == 2
    assert made.output.endswith("ends in .html, found another; add .html\n")
