"""``Scenario``: a checked scenario file, or one made in code, ready to be travelled."""

import hashlib
import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Self

from pydantic import ValidationError

from tailrace.display import Displayed
from tailrace.errors import ScenarioError, printable
from tailrace.journey.itinerary import Itinerary
from tailrace.scenario.assumptions import assumptions
from tailrace.scenario.build import itinerary, unsupported
from tailrace.scenario.change_rules import (
    broken_changes,
    broken_columns,
    unworkable_changes,
    unworkable_columns,
)
from tailrace.scenario.changed import changed, with_values
from tailrace.scenario.contents import Contents
from tailrace.scenario.criteria import read_criteria
from tailrace.scenario.drift import broken_drifts
from tailrace.scenario.files import Files
from tailrace.scenario.inputs import broken_uncertain
from tailrace.scenario.measured import broken_measured, wrong_names
from tailrace.scenario.model import Document
from tailrace.scenario.problems import (
    Problem,
    Tables,
    as_meant,
    problems_of,
    without_echoes,
)
from tailrace.scenario.read import bytes_of, sentences, tables_of, text_of
from tailrace.scenario.reading import broken_readings
from tailrace.scenario.rules import broken_rules, table
from tailrace.scenario.target import target
from tailrace.scenario.timed import with_retention
from tailrace.scenario.toml import as_toml, in_toml

UNNAMED = "scenario"


@dataclass(frozen=True, kw_only=True)
class Scenario(Contents, Displayed):
    """What a scenario says: fields as of ``Contents``.

    Made by ``tailrace.load``, ``Scenario.from_text`` or ``Scenario.from_tables``. The checks are
    the same, and so are their sentences: a ScenarioError has one for each thing to mend.
    """

    def __repr__(self) -> str:
        """Title, and how much there is."""
        return (
            f"Scenario({self.title!r}, solutes: {len(self.document.solutes)}, "
            f"parts: {len(self.document.path)})"
        )

    @classmethod
    def load(cls, path: str | os.PathLike[str]) -> Self:
        """Read and check a scenario file.

        Raises ScenarioError with one sentence for each thing to mend: file, line, key, what was
        expected, what was found, what to change.
        """
        path = Path(path)
        return cls._checked(path, bytes_of(path), Files(path.parent))

    @classmethod
    def from_text(
        cls,
        text: str,
        folder: str | os.PathLike[str] = ".",
        *,
        name: str = UNNAMED,
        files: Mapping[str, bytes] | None = None,
    ) -> Self:
        """Check the text of a scenario file.

        The files that it names are looked for in the folder, where ``files`` does not hold them.
        The name stands in front of messages, and for a missing title. Raises ScenarioError.
        """
        path = Path(folder) / name
        return cls._checked(path, text.encode(), Files(path.parent, files))

    @classmethod
    def from_tables(
        cls,
        tables: Mapping[str, Any],
        folder: str | os.PathLike[str] = ".",
        *,
        name: str = UNNAMED,
        files: Mapping[str, bytes] | None = None,
    ) -> Self:
        """Check tables as ``tomllib`` would read them; parameters as of ``from_text``.

        ``{"method": {"flow": "1 mL/min", ...}, "path": [{"name": "tube", "part": "tube", ...}]}``
        Raises ScenarioError.
        """
        path = Path(folder) / name
        return cls._checked(path, as_toml(tables).encode(), Files(path.parent, files), lines=False)

    def changed(self, values: Mapping[str, Any]) -> Self:
        """The scenario with other values, checked as a whole.

        ``{"inlet tube.length": "100 mm", "method.flow": "0.5 mL/min"}``: by field, named as by
        ``tailrace sweep --vary``, each value as the file would hold it. Raises StudyError for a
        field that is not there, or stays as it is. Raises ScenarioError.
        """
        places = {target(self.tables, field).place: value for field, value in values.items()}
        new = with_values(self.tables, places)
        label = ", ".join(f"{field} = {in_toml(value)}" for field, value in values.items())
        try:
            content = as_toml(new).encode()
            return self._checked(self.path, content, self.files, lines=False)
        except ScenarioError as error:
            raise ScenarioError([f"with {label}: {one}" for one in error.problems]) from None

    def with_changes(self, *names: str) -> Self:
        """The scenario after some of its ``[[changes]]``, with all that these need.

        Raises ScenarioError for unknown names, and for what does not go together.
        """
        return changed(self, names)

    def itinerary(self) -> Itinerary:
        """The parts in order, each with the stream that passes it; lanes are the solutes."""
        return itinerary(self)

    def assumptions(self) -> list[str]:
        """One sentence for each default or estimate that a run rests on."""
        return assumptions(self)

    def unsupported(self) -> list[Problem]:
        """What the eluent room cannot answer for this method and path."""
        return unsupported(self)

    @classmethod
    def _checked(cls, path: Path, content: bytes, files: Files, lines: bool = True) -> Self:
        """A sound scenario, or all that is wrong with it at once."""
        text = text_of(path, content)
        tables = tables_of(path, text)
        model, problems = _read(tables)
        problems += without_echoes(wrong_names(tables, files), problems)
        wrong_rows = _wrong_curve(tables, files, problems)
        if model is not None and not problems and not wrong_rows:
            scenario = cls(
                title=model.title or printable(path.stem),
                path=path,
                sha256=hashlib.sha256(content).hexdigest(),
                text=text,
                tables=tables,
                document=model,
                files=files,
            )
            problems = scenario.unsupported()
            if not problems:
                scenario, problems = with_retention(scenario)
            names = [one.name for one in model.solutes]
            problems = problems or [
                *unworkable_changes(scenario),
                *unworkable_columns(scenario),
                *broken_uncertain(scenario),
                *read_criteria(scenario)[1],
                *broken_readings(model.reading, names),
                *broken_drifts(scenario),
                *broken_measured(scenario),
            ]
            if not problems:
                return scenario
        raise ScenarioError(sentences(path, text if lines else None, problems) + wrong_rows)


def _read(tables: Tables) -> tuple[Document | None, list[Problem]]:
    """The tables checked, and all that is wrong with them; None where that is anything."""
    model, problems, meant = None, list[Problem](), as_meant(tables)
    for read in (tables, meant):
        try:
            model = Document.model_validate(read)
        except ValidationError as error:
            named = {one.path for one in problems}
            problems += [one for one in problems_of(error, read) if one.path not in named]
        if meant == tables:
            break
    named = {one.path for one in problems}
    ties = [one for one in broken_rules(meant) if one.path not in named]
    problems += without_echoes(ties, problems) + broken_changes(meant) + broken_columns(meant)
    return model, problems


def _wrong_curve(tables: Tables, files: Files, problems: list[Problem]) -> list[str]:
    """What is wrong within the file of an injected signal; that it is missing is a problem."""
    injection = table(tables, "injection")
    name = injection.get("file")
    if injection.get("shape") != "signal" or not isinstance(name, str) or not name:
        return []
    reason = files.unreadable(name, "a CSV file that can be read")
    if reason:
        problems.append(Problem(("injection", "file"), reason))
        return []
    try:
        files.curve(name)
    except ScenarioError as error:
        return list(error.problems)
    return []
