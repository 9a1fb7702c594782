"""The wheel, installed away from this folder: examples, run and report work from it alone."""

import os
import subprocess
import sys
import sysconfig
import venv
import zipfile

import pytest
from reference.tree import ROOT, own_files


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    folder = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr
    (built,) = folder.glob("*.whl")
    return built


@pytest.fixture(scope="module")
def installed(wheel, tmp_path_factory):
    """Function of arguments: what the command answers in an environment with nothing but the wheel
    and the libraries that it needs, from a folder that knows nothing of this one."""
    folder = tmp_path_factory.mktemp("elsewhere")
    builder = venv.EnvBuilder()
    builder.create(folder / "env")
    python = builder.ensure_directories(folder / "env").env_exe
    (site,) = (folder / "env").glob("[Ll]ib/**/site-packages")
    # the libraries of this environment, without what its own .pth files point to
    (site / "libraries.pth").write_text(sysconfig.get_path("purelib"))
    install = [sys.executable, "-m", "pip", "--python", python, "install", "--quiet"]
    subprocess.run([*install, "--no-deps", "--no-index", str(wheel)], check=True, timeout=120)
    environment = {key: value for key, value in os.environ.items() if key != "PYTHONPATH"}

    def run(*arguments):
        done = subprocess.run(
            [python, "-I", *arguments],
            cwd=folder,
            env=environment,
            capture_output=True,
            text=True,
            timeout=200,
        )
        assert done.returncode == 0, done.stderr
        return done.stdout

    assert str(folder) in run("-c", "import tailrace; print(tailrace.__file__)")
    run.folder = folder
    return run


def test_every_file_of_the_package_and_every_scenario_is_in_the_wheel(wheel):
    inside = set(zipfile.ZipFile(wheel).namelist())
    wanted = {
        path.relative_to(ROOT / "sim").as_posix()
        for path in (ROOT / "sim" / "tailrace").rglob("*")
        if path.suffix in (".py", ".j2", ".toml", ".typed", ".css", ".js")
        and "__pycache__" not in path.parts
    }
    wanted |= {
        f"tailrace/{path.relative_to(ROOT).as_posix()}"
        for path in own_files(("scenarios",))
        if path.suffix in (".toml", ".csv") and ROOT / "scenarios" in path.parents
    }
    assert len(wanted) > 150
    assert wanted - inside == set()
    assert not any("pictures" in name for name in inside)


def test_examples_run_and_report_work(installed):
    folder = installed.folder
    listed = installed("-m", "tailrace", "examples")
    assert "measured-bores" in listed
    installed("-m", "tailrace", "examples", "measured-bores", "--to", "mine")
    assert "OK" in installed("-m", "tailrace", "check", "mine/measured-bores.toml")
    installed("-m", "tailrace", "examples", "bare-tube")
    assert "plates" in installed("-m", "tailrace", "run", "bare-tube.toml", "--out", "out")
    installed("-m", "tailrace", "report", "out/record.h5", "--out", "page.html")
    assert "Half a metre of tube" in (folder / "page.html").read_text(encoding="utf-8")
