"""What ``tailrace improve --measured`` takes back: signals that were measured after its steps."""

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from tailrace.cli.studying import (
    PRODUCT,
    Content,
    data_files,
    drawn,
    own_options,
    print_json,
    report_written,
    studying,
    write_files,
)
from tailrace.records.provenance import provenance_of

if TYPE_CHECKING:
    from tailrace.scenario.scenario import Scenario
    from tailrace.studies.measured.following import Followed


@dataclass(frozen=True, kw_only=True)
class Taken:
    """Steps that were made, and the scenario that they were planned in."""

    followed: "Followed"
    asked: "Scenario"

    def as_json(self) -> dict[str, Any]:
        """What is said of them; SI."""
        from tailrace.report.measured.steps import TOLD

        return TOLD.as_json(self.followed, provenance_of(self.asked))

    def show(self) -> None:
        """Print what is said of them."""
        from tailrace.report.measured.steps import TOLD

        click.echo(TOLD.text_of(self.followed) + "\n")

    def end(self, as_json: bool, out: Path | None) -> None:
        """Say it, where no change is left."""
        if as_json:
            print_json(self.as_json())
        else:
            self.show()
        report_written([] if out is None else write_files(out, self.files(out)))

    def files(self, out: Path) -> dict[Path, Content]:
        """Record, page and pictures, and the instrument as it is now."""
        from tailrace.records.record import tree_of
        from tailrace.records.store import write_bytes, write_record
        from tailrace.report.measured.steps import TOLD

        record = tree_of(self.followed, provenance_of(self.asked, own_options()))
        pictures = cache(lambda: TOLD.pictures_of(self.followed))
        files: dict[Path, Content] = {
            out / "steps.h5": lambda path: write_record(path, record),
            out / "steps.html": lambda path: write_bytes(
                path, TOLD.page(record, pictures()).encode()
            ),
            out / "now.toml": self.followed.text.encode(),
        }
        files |= drawn(out, pictures)
        return files | data_files(out, self.followed.now)


def taken_back(asked: "Scenario", out: Path | None, engine: str) -> Taken:
    """Judge the steps that were made by what was measured after each."""
    from tailrace.studies.measured.following import answer, plan

    planned, file = plan(asked), None if out is None else out / "steps.h5"
    with studying(
        planned, file, steps="hypotheses", engine=None if engine == PRODUCT else engine
    ) as study:
        followed = answer(planned, study.runner)
        if study.checkpoint is not None:
            study.checkpoint.remove()
    return Taken(followed=followed, asked=asked)
