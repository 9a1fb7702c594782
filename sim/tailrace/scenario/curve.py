"""A measured or computed inlet signal, read from a CSV file of two columns."""

import math
import re

import numpy as np

from tailrace.errors import ScenarioError
from tailrace.quantities.parse import shortened
from tailrace.scenario.problems import MOST_PROBLEMS

LARGEST = 20_000_000
"""Bytes; about a million points."""


MINUTES = re.compile(r"\bmin(ute)?s?\b", re.IGNORECASE)
HIGHEST_END = 0.1
"""Of the maximum: a curve that ends higher was cut off or stands on a baseline."""


def read_curve(path) -> tuple[np.ndarray, np.ndarray]:
    """Read times and heights.

    Parameters
    ----------
    path : pathlib.Path
        UTF-8; a header line may come first; empty lines and lines that begin with # are passed
        over.

    Returns
    -------
    times : (points,) array, s
    heights : (points,) array, any unit

    Raises
    ------
    ScenarioError
        One sentence for each line that is wrong: not two numbers, not finite, a height below
        zero, a time that does not come after the one before; or fewer than 3 points, or no area.
    """
    try:
        with path.open("rb") as stream:
            content = stream.read(LARGEST + 1)
        if len(content) > LARGEST:
            raise ScenarioError(
                [f"{path}: expected at most 20 MB, found more; thin out the points"]
            )
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        raise ScenarioError(
            [f"{path}:{line}: expected UTF-8 text, found other bytes; save it as CSV"]
        ) from None
    times, heights, problems = _rows(text, path)
    if not problems and len(times) < 3:
        problems = [f"{path}: expected at least 3 points, found {len(times)}; add points"]
    if not problems and any(heights) and max(heights[0], heights[-1]) > HIGHEST_END * max(heights):
        problems = [
            f"{path}: expected a curve that begins and ends near 0, found ends at "
            f"{heights[0]:g} and {heights[-1]:g} of {max(heights):g}; take off the baseline, or "
            "record it whole"
        ]
    if not problems and not any(heights):
        problems = [f"{path}: expected a height above 0, found only zeros; check the column"]
    if problems:
        more = len(problems) - MOST_PROBLEMS
        rest = [f"{path}: {more} more lines are wrong"] if more > 0 else []
        raise ScenarioError(problems[:MOST_PROBLEMS] + rest)
    return np.array(times), np.array(heights)


def _rows(text, path):
    times, heights, problems = [], [], []
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


def _wrong_row(cells, times):
    """Return what is wrong with a row, None where nothing is."""
    if len(cells) != 2 or not all(_is_number(cell) for cell in cells):
        return "expected a time in s, a comma and a height"
    time, height = float(cells[0]), float(cells[1])
    if not (math.isfinite(time) and math.isfinite(height)):
        return "expected finite numbers"
    if height < 0:
        return "expected a height of 0 or more; take off the baseline"
    if times and time <= times[-1]:
        return f"expected a time after {times[-1]:g} s; put the rows in order"
    return None


def _is_number(text):
    try:
        float(text)
    except ValueError:
        return False
    return True
