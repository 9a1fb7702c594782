"""``tailrace examples``: the scenarios that come with tailrace, listed or copied."""

import shutil
from pathlib import Path

import click

from tailrace.cli.writing import not_writable
from tailrace.errors import TailraceError


@click.command()
@click.argument("name", required=False)
@click.option(
    "--to",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="DIR",
    help="Copy to this folder, made where it is missing; without a NAME all of them.",
)
@click.option("--force", is_flag=True, help="Write over files that are there.")
def examples(name: str | None, to: Path | None, force: bool) -> None:
    """List the scenarios that come with tailrace, or copy the one called NAME.

    It is copied to this folder, or to that of --to, together with the data files that it needs.

    \b
    tailrace examples
    tailrace examples inherited-core-shell
    tailrace run inherited-core-shell.toml
    """
    from tailrace.scenario.examples import examples as known
    from tailrace.scenario.problems import unknown

    found = known()
    if name is None and to is None:
        width = max(map(len, found))
        for key, one in found.items():
            click.echo(f"{key:{width}}  {one.title}")
        return
    if name is not None and name not in found:
        raise TailraceError(f"NAME: {unknown('example', name, found)}")
    chosen = found.values() if name is None else [found[name]]
    copied = _copy([path for one in chosen for path in (one.path, *one.files)], to, force)
    for path in copied:
        click.echo(f"wrote {path}", err=True)


def _copy(paths: list[Path], to: Path | None, force: bool) -> list[Path]:
    """Copy files into one folder, all of them or none."""
    folder = to or Path()
    copies = {folder / path.name: path for path in paths}
    there = [copy for copy in copies if copy.exists()]
    if there and not force:
        raise TailraceError(
            f"{there[0]}: expected a name that is free, found a file; name another folder with "
            "--to, or write over it with --force"
        )
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for copy, path in copies.items():
            shutil.copyfile(path, copy)
    except OSError as problem:
        raise not_writable(folder, problem) from problem
    return list(copies)
