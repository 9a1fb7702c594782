"""What the commands for studies share: their options, and how a study runs and is interrupted."""

import contextlib
import json
import sys
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from tailrace.cli.writing import Content, make_folder, not_writable, write_files
from tailrace.records.provenance import own_version

if TYPE_CHECKING:
    from tailrace.records.checkpoint import Checkpoint
    from tailrace.studies.runner import Plan, Progress, Runner

cluster_option = click.option(
    "--cluster", metavar="ADDRESS", help="Of a Dask scheduler whose workers compute."
)
json_option = click.option(
    "--json", "as_json", is_flag=True, help="Print one JSON object (SI), and no table."
)


@dataclass(frozen=True)
class Study:
    """A study under way. Made by ``studying``."""

    runner: "Runner"
    checkpoint: "Checkpoint | None"

    def write(self, out: Path, files: Mapping[Path, Content]) -> list[Path]:
        """As ``write_files``; only then what was stored on the way is removed."""
        written = write_files(out, files)
        if self.checkpoint is not None:
            with refusing(out):
                self.checkpoint.remove()
        return written


@contextlib.contextmanager
def studying(
    plan: "Plan", file: Path | None, cluster: str | None = None, steps: str = "cases"
) -> Iterator[Study]:
    """Run a study: with a bar on a terminal, and saying where it goes on if it is interrupted.

    ``file``: the study's own file, whose folder is made; beside it blocks that are done are stored.
    Without one nothing is stored. ``cluster``: address of a Dask scheduler. ``steps``: what the bar
    counts.
    """
    from tailrace.studies.runner import Runner

    checkpoint = None if file is None else _checkpoint(file, plan)
    try:
        with contextlib.ExitStack() as stack:
            executor = None
            if cluster is not None:
                from tailrace.studies.cluster import on_cluster

                executor = stack.enter_context(on_cluster(cluster))
            if file is not None:
                stack.enter_context(refusing(file))
            progress = stack.enter_context(progress_bar(steps))
            yield Study(Runner(executor, checkpoint, progress), checkpoint)
    except KeyboardInterrupt:
        if checkpoint is not None:
            click.echo(
                f"{checkpoint.folder} keeps what is done; the same command goes on", err=True
            )
        raise


def _checkpoint(file: Path, plan: "Plan") -> "Checkpoint":
    from tailrace.records.checkpoint import Checkpoint

    make_folder(file.parent)
    with refusing(file):
        return Checkpoint(file, plan.question, own_version())


@contextlib.contextmanager
def refusing(out: Path) -> Iterator[None]:
    """Turn what the system says of a path that cannot be written into one sentence."""
    try:
        yield
    except OSError as problem:
        raise not_writable(out, problem) from problem


@contextlib.contextmanager
def progress_bar(steps: str = "cases") -> Iterator["Progress | None"]:
    """A bar on standard error with the time left; nothing where that is not a terminal.

    ``steps``: what there is to be done, many times. To be called as ``progress(done, total)``.
    """
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn
    from rich.progress import TimeRemainingColumn as TimeLeft

    columns = (
        BarColumn(),
        MofNCompleteColumn(),
        TextColumn(f"{steps},"),
        TimeLeft(),
        TextColumn("left"),
    )
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("", total=None)
        yield lambda done, total: bar.update(task, completed=done, total=total)


def print_json(value: object) -> None:
    """Print plain JSON values."""
    click.echo(json.dumps(value, indent=2, allow_nan=False))
