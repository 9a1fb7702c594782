"""``tailrace figures``: the figures that explain what happens to a band, computed from scratch."""

import contextlib
import multiprocessing
import os
import signal
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias

import click

from tailrace.cli.studying import engine_option, make_folder, progress_bar, write_files
from tailrace.errors import TailraceError
from tailrace.identity import own_version
from tailrace.threads import THREADS, thread_count
from tailrace.wording import LANGUAGE, LANGUAGES, say, speaking

if TYPE_CHECKING:
    from tailrace.figures.sizes import Size
    from tailrace.figures.style import Picture
    from tailrace.report.gallery import Hung
    from tailrace.scenario.scenario import Scenario
    from tailrace.scenario.target import StudyError

FORMATS = ("svg", "pdf", "eps", "png")
SIZES = ("slide", "column", "page")
"""Names only, so that the help loads nothing; ``tailrace.figures.style`` holds them."""
FEW = 4
"""Figures up to which other processes would load longer than they help."""
FIRST, LAST = (
    (("fourier-number", "outlet-signals"),),
    (("straight-bent-coiled",), ("plume",), ("sum-of-variances",)),
)
"""Where processes share the figures: the longest are begun first, at both ends of the list; by one
process those that have marches in common."""


@click.command()
@click.argument("names", nargs=-1, metavar="[NAME|RECORD]...")
@click.option(
    "--scenario",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="The instrument to show, in place of the gallery's own.",
)
@click.option(
    "--solute",
    "solutes",
    multiple=True,
    metavar="NAME",
    help="Its solute; without it the least retained. Of a record up to four.",
)
@click.option("--tube", metavar="NAME", help="Its tube, for the plume; without it the first.")
@click.option(
    "--values",
    metavar="LIST",
    help="Of what a figure varies, such as '2, 5, 10 uL' or '0.1 .. 2 mL/min, 12 points'.",
)
@engine_option
@click.option(
    "--size",
    default="page",
    show_default=True,
    metavar="slide|column|page|WIDTH",
    help="What to fill, or a width such as 84mm, or 84mm x 60mm.",
)
@click.option(
    "--language",
    type=click.Choice(LANGUAGES),
    default=LANGUAGES[0],
    show_default=True,
    help="Of all words in the figures, their captions and numbers.",
)
@click.option("--font", type=click.FloatRange(4, 40), metavar="PT", help="Size of letters, pt.")
@click.option(
    "--format",
    "formats",
    default="svg,png",
    show_default=True,
    metavar="LIST",
    help="svg, pdf, eps, png: one or more, with commas.",
)
@click.option("--dpi", type=click.IntRange(50, 1200), help="Dots an inch of a png.  [default: 160]")
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    default=Path("figures"),
    show_default=True,
    metavar="DIR",
    help="Folder to write to, made where it is missing.",
)
@click.option("--list", "listing", is_flag=True, help="List the figures and stop.")
def figures(names: Sequence[str], out: Path, listing: bool, language: str, **asked: Any) -> None:
    """Compute the figures of the gallery, or those of each NAME, and write them to a folder.

    Beside each figure its numbers as NAME.csv, and an index.html with captions and alt texts.
    Without a NAME, figures that the scenario cannot serve are left out. The pictures of a RECORD (a
    file of run, improve, tolerance, compare, fit or measure) are drawn again, in the size and
    format asked for; nothing is computed; those of several records go to a folder for each, named
    after the record or its folder.

    \b
    tailrace figures --list
    tailrace figures staircase cell-volumes --scenario mine.toml --size slide
    tailrace figures cell-volumes --values "1, 2, 5 uL" --size 84mm --font 8 --format pdf
    tailrace figures out/record.h5 --size 84mm --format eps
    """
    with speaking(language):
        if listing:
            click.echo("\n".join(_list()))
            return
        _figures(names, out, asked)


def _figures(names: Sequence[str], out: Path, asked: Mapping[str, Any]) -> None:
    from tailrace.studies.gallery import checked

    records = [Path(name) for name in names if name.endswith((".h5", ".nc"))]
    named = [name for name in names if Path(name) not in records]
    chosen = checked(named) if named or not records else ()
    look = _Look(_formats(asked["formats"]), _size(asked), asked["dpi"])
    loaded = _loaded(asked["scenario"], chosen)
    make_folder(out)
    for record, folder in zip(records, _folders(records, out), strict=True):
        _redraw(record, asked["solutes"], look, folder)
    if chosen:
        _show(chosen, bool(named), loaded, asked, look, out)


@dataclass(frozen=True)
class _Look:
    """Formats, size and dots an inch of all pictures."""

    formats: tuple[str, ...]
    size: "Size"
    dpi: int | None

    def files(self, name: str, picture: "Picture") -> dict[str, bytes]:
        return picture.files(name, self.formats, self.dpi)


def _written(out: Path, files: Mapping[str, bytes]) -> list[Path]:
    return write_files(out, {out / file: content for file, content in files.items()})


def _size(asked: Mapping[str, Any]) -> "Size":
    from tailrace.figures.sizes import size_of

    try:
        return size_of(asked["size"], asked["font"])
    except ValueError as problem:
        raise TailraceError(f"--size: {problem}; change it") from None


def _folders(records: Sequence[Path], out: Path) -> list[Path]:
    """Of each record; several have one each, since their pictures bear the same names."""
    if len(records) < 2:
        return [out] * len(records)
    stems = ["record", *(at.stem for at in records)]
    folders = [
        out / (at.absolute().parent.name if stems.count(at.stem) > 1 else at.stem) for at in records
    ]
    for folder, record in zip(folders, records, strict=True):
        if folders.count(folder) > 1:
            raise TailraceError(
                f"{record}: another record would be drawn to {folder}, too; draw them one by one, "
                "each with an --out of its own"
            )
        make_folder(folder)
    return folders


def _redraw(record: Path, solutes: Sequence[str], look: _Look, out: Path) -> None:
    """The pictures of a record."""
    from tailrace.figures.sizes import wanting
    from tailrace.report.tellers import pictures_from

    try:
        with wanting(look.size, solutes):
            pictures = pictures_from(record)
    except ValueError as problem:
        raise TailraceError(f"--solute: {problem}") from None
    for name, picture in pictures.items():
        for path in _written(out, look.files(name, picture)):
            click.echo(f"wrote {path}", err=True)


def _show(
    chosen: Sequence[str],
    named: bool,
    loaded: "Scenario | None",
    asked: Mapping[str, Any],
    look: _Look,
    out: Path,
) -> None:
    """The figures of the gallery; what cannot be made is an error only where it was ``named``."""
    make = partial(_hung, loaded, dict(asked), look, LANGUAGE.get())
    hung: dict[str, Hung] = {}
    left_out: list[str] = []
    with progress_bar("figures") as progress:
        for done, found in enumerate(_made(make, chosen)):
            if progress is not None:
                progress(done, len(chosen))
            if isinstance(found, TailraceError):
                if named:
                    raise found
                left_out.append(str(found))
                continue
            one, files = found
            _written(out, files)
            hung[one.exhibit.name] = one
    shelf = [hung[name] for name in chosen if name in hung]
    for sentence in left_out:
        click.echo(f"left out: {sentence}", err=True)
    write_files(out, {out / "index.html": _index(shelf, loaded)})
    for one in shelf:
        click.echo(f"{one.exhibit.name}: {one.exhibit.caption}\n")
    click.echo(f"wrote {out / 'index.html'} and the files that it names", err=True)


def _list() -> Iterator[str]:
    from tailrace.studies.gallery import ENTRIES

    width = max(map(len, ENTRIES))
    for name, entry in ENTRIES.items():
        yield f"{name:{width}}  {say(entry.line)}" + ("" if entry.of_instrument else " *")
    yield ""
    yield say("* does not show an instrument: --scenario does not matter to it")


def _formats(text: str) -> tuple[str, ...]:
    chosen = [part.strip() for part in text.split(",")]
    for one in chosen:
        if one not in FORMATS:
            raise TailraceError(
                f"--format {text[:60]}: expected {', '.join(FORMATS)}, one or more with commas, "
                f"found {one[:20]!r}; leave it out"
            )
    return tuple(dict.fromkeys(chosen))


def _loaded(scenario: Path | None, chosen: Sequence[str]) -> "Scenario | None":
    """Read the scenario and tell for which figures it does not matter."""
    from tailrace.studies.gallery import ENTRIES

    if scenario is None:
        return None
    from tailrace.scenario.scenario import Scenario

    loaded = Scenario.load(scenario)
    without = [name for name in chosen if not ENTRIES[name].of_instrument]
    if without:
        click.echo(f"--scenario does not matter to: {', '.join(without)}", err=True)
    return loaded


Made: TypeAlias = "tuple[Hung, dict[str, bytes]]"


def _made(make: "Callable[[str], Made]", chosen: Sequence[str]) -> "Iterator[Made | StudyError]":
    """What is made of each name, in any order: by a process for each processor, this one among
    them, which takes from the end of the list what no other has begun."""
    held = {name for names in (*FIRST, *LAST) for name in names}
    between = [(name,) for name in chosen if name not in held]
    together = [[name for name in names if name in chosen] for names in (*FIRST, *between, *LAST)]
    together = [names for names in together if names]
    processes = min(thread_count(), len(together))
    tell = partial(_each, make)
    if processes == 1 or len(chosen) <= FEW:
        yield from tell(chosen)
        return
    # A fresh interpreter each: one that was split off could inherit a lock that nobody opens.
    fresh = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(processes - 1, fresh, _begin) as pool, _one_thread():
        try:
            given = [(pool.submit(tell, names), names) for names in together]
            for future, names in reversed(given):
                if future.cancel():
                    yield from tell(names)
            for future in as_completed(future for future, _ in given if not future.cancelled()):
                yield from future.result()
        finally:
            pool.shutdown(cancel_futures=True)


@contextlib.contextmanager
def _one_thread() -> Iterator[None]:
    """This process with one thread, as the others have."""
    before = os.environ.get(THREADS)
    os.environ[THREADS] = "1"
    try:
        yield
    finally:
        os.environ.pop(THREADS)
        if before is not None:
            os.environ[THREADS] = before


def _each(make: "Callable[[str], Made]", names: Sequence[str]) -> "list[Made | StudyError]":
    """What is made of each name, or why it cannot be."""
    from tailrace.scenario.target import StudyError

    found: list[Made | StudyError] = []
    for name in names:
        try:
            found.append(make(name))
        except StudyError as refusal:
            found.append(refusal)
    return found


def _begin() -> None:
    """Of a process that is one for each processor; it is ended from outside."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    os.environ[THREADS] = "1"


def _hung(
    loaded: "Scenario | None", asked: Mapping[str, Any], look: _Look, language: str, name: str
) -> "Made":
    """Compute one figure and draw it: what stands on the index page, and its files by name."""
    from tailrace.figures.gallery import draw
    from tailrace.report.gallery import Hung, as_csv
    from tailrace.studies.gallery import compute
    from tailrace.threads import linear_algebra_alone

    solute = asked["solutes"][0] if asked["solutes"] else None
    # Its matrices are small: on many threads they would be slower.
    with speaking(language), linear_algebra_alone():
        of = {one: asked[one] for one in ("tube", "values", "engine")}
        drawing = compute(name, loaded, solute=solute, **of)
        picture = draw(drawing, look.size)
        files = look.files(name, picture) | {f"{name}.csv": as_csv(drawing.table)}
        shown = replace(drawing, subject=None)
        return Hung(exhibit=shown, svg=picture.svg(), files=tuple(files)), files


def _index(hung: "Sequence[Hung]", scenario: "Scenario | None") -> bytes:
    from tailrace.report.gallery import as_index

    shown = say("The instrument shown is invented, and typical of the trade.")
    if scenario is not None:
        its = "Where an instrument is shown, it is that of “{title}”."
        shown = say(its, title=scenario.title)
    return as_index(hung, shown, own_version()).encode()
