"""A file is replaced as a whole or left as it was."""

import os
import stat

import pytest

from tailrace.records.store import replacing, write_bytes


def test_the_old_file_stays_until_the_new_one_is_complete(tmp_path):
    path = tmp_path / "file"
    write_bytes(path, b"old")
    with replacing(path) as aside:
        aside.write_bytes(b"new")
        assert path.read_bytes() == b"old"
        assert aside.parent == path.parent
    assert path.read_bytes() == b"new"
    assert os.listdir(tmp_path) == ["file"]


def interrupted(path):
    with replacing(path) as aside:
        aside.write_bytes(b"half")
        raise KeyboardInterrupt


def test_an_interrupt_leaves_the_old_file_and_nothing_else(tmp_path):
    path = tmp_path / "file"
    write_bytes(path, b"old")
    with pytest.raises(KeyboardInterrupt):
        interrupted(path)
    assert path.read_bytes() == b"old"
    assert os.listdir(tmp_path) == ["file"]


def test_a_missing_folder_is_an_error(tmp_path):
    with pytest.raises(OSError, match="No such file"):
        write_bytes(tmp_path / "nowhere" / "file", b"x")


@pytest.mark.skipif(os.name != "posix", reason="file modes are of POSIX")
def test_the_mode_is_that_of_any_new_file(tmp_path):
    (tmp_path / "plain").write_bytes(b"x")
    write_bytes(tmp_path / "file", b"x")
    modes = {stat.S_IMODE((tmp_path / name).stat().st_mode) for name in ("plain", "file")}
    assert len(modes) == 1
