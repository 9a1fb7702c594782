"""The package under mypy, strict."""

import subprocess
import sys

from reference.tree import PACKAGE, ROOT

UNTYPED = {"cli", "figures", "parts", "records", "report", "scenario", "studies"}
"""Rooms on the way to it; whoever has typed a room takes it out. Empty at the end."""


def found():
    """Complaints of mypy, by the room that they are about."""
    command = [sys.executable, "-m", "mypy", "--no-error-summary", "--no-pretty", "sim/tailrace"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True)
    assert done.returncode in (0, 1), done.stdout[-2000:] + done.stderr[-2000:]
    by_room = {}
    for line in done.stdout.splitlines():
        place = line.split(":")[0].replace("\\", "/").removeprefix("sim/tailrace/")
        by_room.setdefault(place.split("/")[0], []).append(line)
    return by_room


def test_every_room_is_typed():
    complaints = found()
    assert {path.name for path in PACKAGE.iterdir()} >= UNTYPED
    assert {room: lines for room, lines in complaints.items() if room not in UNTYPED} == {}
