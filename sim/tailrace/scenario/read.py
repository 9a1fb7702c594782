"""Reading a scenario file: all that is wrong with it is told at once."""

import hashlib
import re
import tomllib
from pathlib import Path

from pydantic import ValidationError

from tailrace.errors import ScenarioError
from tailrace.scenario.change import broken_changes, unworkable_changes
from tailrace.scenario.criteria import read_criteria
from tailrace.scenario.curve import read_curve
from tailrace.scenario.locate import Lines
from tailrace.scenario.model import Document
from tailrace.scenario.problems import MOST_PROBLEMS, Problem, problems_of, without_echoes
from tailrace.scenario.rules import broken_rules, table
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.uncertain_rules import broken_uncertain

LARGEST = 1_000_000
"""Bytes."""


def load_scenario(path) -> Scenario:
    """Read and check a scenario file.

    Parameters
    ----------
    path : str or pathlib.Path

    Returns
    -------
    Scenario

    Raises
    ------
    ScenarioError
        With one sentence for each thing to mend: file, line, key, what was expected, what was
        found, what to change.
    """
    path = Path(path)
    content = _bytes(path)
    text = _text(path, content)
    document = _document(path, text)
    problems, model = [], None
    try:
        model = Document.model_validate(document)
    except ValidationError as error:
        problems = problems_of(error, document)
    told = {problem.path for problem in problems}
    ties = [one for one in broken_rules(document) if one.path not in told]
    problems += without_echoes(ties, problems) + broken_changes(document)
    curve, wrong_rows = _curve(path, document, problems)
    if not problems and not wrong_rows:
        scenario = Scenario(
            title=model.title or path.stem,
            path=path,
            sha256=hashlib.sha256(content).hexdigest(),
            text=text,
            document=model,
            curve=curve,
        )
        problems = scenario.unsupported() or unworkable_changes(scenario)
        problems = problems or broken_uncertain(scenario) + read_criteria(scenario)[1]
        if not problems:
            return scenario
    raise ScenarioError(_sentences(path, text, problems) + wrong_rows)


def _bytes(path):
    if path.is_dir():
        raise ScenarioError([f"{path}: expected a scenario file, found a directory; name a file"])
    if not path.exists():
        raise ScenarioError([f"{path}: expected a scenario file, found nothing; check the name"])
    if not path.is_file():
        raise ScenarioError([f"{path}: expected a plain file, found a device; name a file"])
    try:
        with path.open("rb") as stream:
            content = stream.read(LARGEST + 1)
    except OSError as error:
        reason = (error.strerror or "unreadable").lower()
        raise ScenarioError(
            [f"{path}: expected a file that can be read, found: {reason}; check its permissions"]
        ) from None
    if len(content) > LARGEST:
        raise ScenarioError(
            [f"{path}: expected at most 1 MB, found more; is this the scenario file?"]
        )
    return content


def _text(path, content):
    try:
        # Some editors put a byte order mark in front, which TOML itself does not know.
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        raise ScenarioError(
            [f"{path}:{line}: expected UTF-8 text, found other bytes; save the file as UTF-8"]
        ) from None
    if not text.strip():
        raise ScenarioError(
            [f"{path}: expected a scenario, found an empty file; begin with a table [method]"]
        )
    return text


def _document(path, text):
    try:
        return tomllib.loads(text)
    except RecursionError:
        reason, line = "brackets nested too deep", None
    except ValueError as error:
        # TOMLDecodeError is one; numbers of thousands of digits raise the bare kind.
        reason = str(error)
        place = re.search(r"\(at line (\d+), column (\d+)\)", reason)
        line = int(place[1]) if place else None
        if line is None and "end of document" in reason:
            line = text.count("\n") + 1
        # Python names a key as a tuple: ('method', 'flow').
        reason = re.sub(r"\(('[^()]*'),?\)", lambda keys: keys[1].replace("', '", "."), reason)
        reason = reason.split(" (at ")[0].split(";")[0].replace("\n", " ")[:120]
    where = f"{path}:{line}" if line else f"{path}"
    reason = reason[:1].lower() + reason[1:]
    raise ScenarioError([f"{where}: expected TOML, found: {reason}; correct the line"])


def _curve(path, document, problems):
    """Read the file of an injected signal: its points and its own problems."""
    injection = table(document, "injection")
    name = injection.get("file")
    if injection.get("shape") != "signal" or not isinstance(name, str) or not name:
        return None, []
    where = path.parent / name[:500]
    try:
        if not where.is_file():
            raise FileNotFoundError(2, "no such file")
        return read_curve(where), []
    except ScenarioError as error:
        return None, list(error.problems)
    except (OSError, ValueError) as error:
        reason = (getattr(error, "strerror", None) or "a name that cannot be one").lower()
        sentence = f"expected a CSV file that can be read, found {reason} at {str(where)[:120]}; "
        problems.append(Problem(("injection", "file"), sentence + "correct the name"))
        return None, []


def _sentences(path, text, problems):
    """Put file, line and key in front, in the order of the file."""
    lines = Lines(text)
    placed = sorted(((lines.line(one.path), one) for one in problems), key=lambda pair: pair[0])
    said = [
        f"{path}:{line}: {one.key + ': ' if one.key else ''}{one.sentence}" for line, one in placed
    ]
    more = len(said) - MOST_PROBLEMS
    return said[:MOST_PROBLEMS] + ([f"{path}: {more} more problems"] if more > 0 else [])
