"""Files that commands write: each whole or not at all, and one sentence where that fails."""

import shutil
import sys
from collections.abc import Callable, Iterable, Mapping
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, TypeAlias

import click

from tailrace.errors import TailraceError

if TYPE_CHECKING:
    from tailrace.report.table import Table

Content: TypeAlias = bytes | Callable[[Path], object]
"""What stands in a file, or what writes it."""


OUTWARD = {"scenario", "out", "as_json", "cluster", "expect"}
"""Arguments that say where a command reads, computes and writes, and not what."""
NARROWEST = 20
"""Columns of a terminal; what claims to be narrower is no terminal."""


def not_writable(out: Path, problem: OSError, option: str = "--out") -> TailraceError:
    """The error for a path that cannot be written, from the system's own."""
    return TailraceError(
        f"{option} {out}: expected a file or folder that can be written, found: "
        f"{problem.strerror or problem}; name another"
    )


def make_folder(folder: Path) -> None:
    """Make a folder, before anything is computed: a bad name costs no time."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise not_writable(folder, problem) from problem


def checked_file(out: Path, *endings: str, new_folder: bool = False) -> Path:
    """A file to be written, if its name has one of the endings; refused before any work.

    Its folder has to be there, or may be made later (``new_folder``).
    """
    if out.suffix.lower() not in endings:
        raise TailraceError(
            f"--out {out}: expected a file name that ends in {' or '.join(endings)}, found "
            f"another; add {endings[0]}"
        )
    if out.is_dir():
        raise TailraceError(f"--out {out}: expected a file, found a folder; name a file in it")
    if not new_folder and not out.parent.is_dir():
        raise TailraceError(
            f"--out {out}: expected a file in a folder that is there, found no {out.parent}; make "
            "the folder or name another"
        )
    return out


def write_files(out: Path, files: Mapping[Path, Content], option: str = "--out") -> list[Path]:
    """Write files, in this order.

    ``out``: as it was asked for; ``files``: by path what stands in the file, or what writes it:
    called with the path; ``option``: that asked for it.

    Returns
    -------
    list of Path
    """
    from tailrace.records.store import write_bytes

    try:
        for path, content in files.items():
            if isinstance(content, bytes):
                write_bytes(path, content)
            else:
                content(path)
    except OSError as problem:
        raise not_writable(out, problem, option) from problem
    return list(files)


def own_options() -> dict[str, object]:
    """Options of the command under way on which its numbers depend: what a record keeps."""
    given = click.get_current_context().params
    return {name: value for name, value in given.items() if name not in OUTWARD}


def show(blocks: "Iterable[str | Table]") -> None:
    """Print tables and paragraphs: on a terminal as wide as that is, headlines in bold."""
    from tailrace.report.table import WIDTH, shown

    if not sys.stdout.isatty():
        click.echo(shown(blocks))
        return
    width = shutil.get_terminal_size((WIDTH, 24)).columns
    click.echo(shown(blocks, max(NARROWEST, min(WIDTH, width)), partial(click.style, bold=True)))


def report_written(paths: Iterable[Path]) -> None:
    """Name the files that were written, on standard error."""
    for path in paths:
        click.echo(f"wrote {path}", err=True)
