"""The package under mypy, strict."""

import subprocess
import sys

from reference.tree import ROOT


def test_the_package_is_typed():
    command = [sys.executable, "-m", "mypy", "--no-error-summary", "--no-pretty", "sim/tailrace"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True)
    assert done.stdout + done.stderr == ""
    assert done.returncode == 0
