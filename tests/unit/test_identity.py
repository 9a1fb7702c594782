"""The version is the commit: in a checkout, an archive, a source distribution, and without any."""

import shutil
import subprocess
import sys

import pytest
from click.testing import CliRunner
from reference.tree import ROOT

from tailrace import identity
from tailrace.cli.main import main
from tailrace.records.provenance import libraries

ASK = "import sys, runpy; print(runpy.run_path(sys.argv[1])[sys.argv[2]]())"


@pytest.fixture
def project(tmp_path):
    """A folder with what the version is made of."""
    home = tmp_path / "project"
    (home / "sim" / "tailrace").mkdir(parents=True)
    shutil.copy(identity.__file__, home / "sim" / "tailrace")
    (home / ".ci").mkdir()
    for name in (".gitattributes", ".ci/commit"):
        shutil.copy(ROOT / name, home / name)
    return home


def git(folder, *words):
    who = ["-c", "user.name=A", "-c", "user.email=a@b.test"]
    done = subprocess.run(["git", *who, *words], cwd=folder, capture_output=True, check=True)
    return done.stdout


def said(home, which="own_version"):
    file = home / "sim" / "tailrace" / "identity.py"
    command = [sys.executable, "-c", ASK, str(file), which]
    return subprocess.run(command, capture_output=True, text=True, check=True).stdout.strip()


@pytest.mark.skipif(not shutil.which("git"), reason="needs git")
def test_it_is_that_of_the_commit_and_says_what_is_altered(project, tmp_path):
    git(project, "init", "-q")
    git(project, "add", ".")
    git(project, "commit", "-q", "-m", "one")
    commit = git(project, "rev-parse", "HEAD").decode()[:12]
    assert said(project) == said(project, "built_version") == f"{identity.RELEASE}+g{commit}"
    (project / ".ci" / "commit").write_text("altered")
    assert said(project) == f"{identity.RELEASE}+g{commit}.dirty"
    git(project, "checkout", "-q", ".")
    archive = tmp_path / "archive"
    archive.mkdir()
    (tmp_path / "one.tar").write_bytes(git(project, "archive", "HEAD"))
    shutil.unpack_archive(tmp_path / "one.tar", archive, filter="data")
    assert said(archive, "built_version") == f"{identity.RELEASE}+g{commit}"
    git(project, "tag", "-a", "-m", "release", f"v{identity.RELEASE}")
    assert said(project) == identity.RELEASE


def test_without_git_it_is_what_the_distribution_says(project):
    assert said(project, "built_version") == f"{identity.RELEASE}+unknown"
    (project / "PKG-INFO").write_text("Name: tailrace\nVersion: 3.2.1+gabc\n")
    assert said(project, "built_version") == "3.2.1+gabc"


def test_the_command_says_version_code_and_what_computes():
    told = CliRunner().invoke(main, ["--version"])
    assert told.exit_code == 0
    first, second, third = told.output.splitlines()
    assert first == f"tailrace {identity.own_version()}"
    assert identity.code_sha256() in second
    assert third == libraries()


def test_every_table_counts_in_the_hash(tmp_path, monkeypatch):
    (tmp_path / "a.py").write_text("1")
    monkeypatch.setattr(identity, "PACKAGE", tmp_path)
    of = identity.code_sha256.__wrapped__
    before = of()
    for ending in identity.KINDS:
        (tmp_path / f"b{ending}").write_bytes(b"2")
        assert of() != before
        before = of()
    (tmp_path / "notes.txt").write_text("3")
    (tmp_path / "scenarios").mkdir()
    (tmp_path / "scenarios" / "one.toml").write_text("4")
    assert of() == before
