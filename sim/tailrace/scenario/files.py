"""The files that a scenario names, each read once and kept; and the curve of an injection."""

import hashlib
import math
import re
import stat
from collections.abc import Callable, Hashable, Mapping
from pathlib import Path
from typing import Any, TypeVar

import numpy as np

from tailrace.errors import ScenarioError
from tailrace.parts.injector.points import Points
from tailrace.quantities.arrays import FloatArray
from tailrace.quantities.parse import shortened

Made = TypeVar("Made")
MOST_PROBLEMS = 50
"""So many are listed at once; a file with more has one cause for most of them."""
LARGEST = 20_000_000
"""Bytes; about a million points."""
MINUTES = re.compile(r"\bmin(ute)?s?\b", re.IGNORECASE)
HIGHEST_END = 0.1
"""Of the maximum: a curve that ends higher was cut off or stands on a baseline."""
DEEPEST = 0.5
"""Of the maximum: a curve that dips lower is no peak with noise."""


class Files:
    """What stands beside a scenario, by the names that the scenario uses.

    ``folder``: where names begin; ``contents``: files that need not be there.
    """

    def __init__(self, folder: Path, contents: Mapping[str, bytes] | None = None) -> None:
        self.folder = folder
        self._contents = dict(contents or {})
        self._curves: dict[str, tuple[FloatArray, FloatArray]] = {}
        self._made: dict[Hashable, Any] = {}

    def where(self, name: str) -> Path:
        """The path of a file."""
        return self.folder / name[:500]

    def hashes(self) -> dict[str, str]:
        """SHA-256 of each file that was read, by name."""
        return {name: hashlib.sha256(one).hexdigest() for name, one in self._contents.items()}

    def contents(self) -> dict[str, bytes]:
        """Each file that was read, by name."""
        return dict(self._contents)

    def unreadable(self, name: str, kind: str) -> str:
        """Say why what should be ``a CSV file`` cannot be read; empty where it now is."""
        if name in self._contents:
            return ""
        try:
            if not stat.S_ISREG(mode := self.where(name).stat().st_mode):
                found = "a folder" if stat.S_ISDIR(mode) else "a pipe or a device"
                place = str(self.where(name))[:120]
                return f"expected {kind}, found {found} at {place}; name a file of what it gives"
            with self.where(name).open("rb") as stream:
                self._contents[name] = stream.read(LARGEST + 1)
        except (OSError, ValueError) as error:
            reason = (getattr(error, "strerror", None) or "a name that cannot be one").lower()
            reason = "no such file" if isinstance(error, FileNotFoundError) else reason
            place = str(self.where(name))[:120]
            return f"expected {kind}, found {reason} at {place}; correct the name"
        return ""

    def once(self, key: tuple[str, Hashable], read: Callable[[bytes], Made]) -> Made:
        """What ``read`` makes of the bytes of a file that was read, by its name and whatever else
        decides about it."""
        if key not in self._made:
            self._made[key] = read(self._contents[key[0]])
        result: Made = self._made[key]
        return result

    def text(self, name: str, kind: str, largest: int = LARGEST) -> str:
        """The text of a file in UTF-8 of at most ``largest`` bytes; else as ``unreadable``.

        Raises ScenarioError where it cannot be read, is too large, or is no such text.
        """
        reason = self.unreadable(name, kind)
        if reason:
            raise ScenarioError([reason])
        content, path = self._contents[name], self.where(name)
        if len(content) > largest:
            most = f"{largest / 1e6:g} MB"
            raise ScenarioError([f"{path}: expected at most {most}, found more; thin it out"])
        try:
            return content.decode("utf-8-sig")
        except UnicodeDecodeError as error:
            line = content[: error.start].count(b"\n") + 1
            raise ScenarioError(
                [f"{path}:{line}: expected UTF-8 text, found other bytes; save it as text"]
            ) from None

    def curve(self, name: str) -> tuple[FloatArray, FloatArray]:
        """Times and heights of an injected signal, a CSV file of two columns.

        A header line may come first; empty lines and lines that begin with # are passed over.
        Raises ScenarioError: one sentence for each line that is wrong: not two numbers, not finite,
        a time that does not come after the one before; or fewer than 3 points, no area, ends far
        from zero, dips far below it, or too few points on the peak. Noise around zero is kept.

        Returns
        -------
        times : (points,) array, s
        heights : (points,) array, any unit
        """
        if name not in self._curves:
            text = self.text(name, "a CSV file that can be read")
            self._curves[name] = _curve(text, self.where(name))
        return self._curves[name]


def _curve(text: str, path: Path) -> tuple[FloatArray, FloatArray]:
    times, heights, problems = _rows(text, path)
    if not problems and len(times) < 3:
        problems = [f"{path}: expected at least 3 points, found {len(times)}; add points"]
    if not problems and not any(height > 0 for height in heights):
        problems = [f"{path}: expected a height above 0, found none; check the column"]
    if not problems and min(heights) < -DEEPEST * max(heights):
        problems = [
            f"{path}: expected a peak with noise around 0, found {min(heights):g} against "
            f"{max(heights):g}; take off the baseline, or the sign"
        ]
    if not problems and max(heights[0], heights[-1]) > HIGHEST_END * max(heights):
        problems = [
            f"{path}: expected a curve that begins and ends near 0, found ends at "
            f"{heights[0]:g} and {heights[-1]:g} of {max(heights):g}; take off the baseline, or "
            "record it whole"
        ]
    if not problems and (problem := Points(np.array(times), np.array(heights)).problem):
        problems = [f"{path}: {problem}"]
    if problems:
        more = len(problems) - MOST_PROBLEMS
        rest = [f"{path}: {more} more lines are wrong"] if more > 0 else []
        raise ScenarioError(problems[:MOST_PROBLEMS] + rest)
    return np.array(times), np.array(heights)


def _rows(text: str, path: Path) -> tuple[list[float], list[float], list[str]]:
    times: list[float] = []
    heights: list[float] = []
    problems: list[str] = []
    header_allowed = True
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        cells = line.split(",")
        header, header_allowed = header_allowed and not _is_number(cells[0]), False
        if header:
            if MINUTES.search(cells[0]):
                problems.append(
                    f"{path}:{number}: expected times in s, found minutes; convert them"
                )
            continue
        wrong = _wrong_row(cells, times)
        if wrong:
            problems.append(f"{path}:{number}: {wrong} (found {shortened(line, 40)})")
            continue
        times.append(float(cells[0]))
        heights.append(float(cells[1]))
    return times, heights, problems


def _wrong_row(cells: list[str], times: list[float]) -> str:
    """What is wrong with a row; empty where nothing is."""
    if len(cells) != 2 or not all(_is_number(cell) for cell in cells):
        return "expected a time in s, a comma and a height"
    time, height = float(cells[0]), float(cells[1])
    if not (math.isfinite(time) and math.isfinite(height)):
        return "expected finite numbers"
    if times and time <= times[-1]:
        return f"expected a time after {times[-1]:g} s; put the rows in order"
    return ""


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True
