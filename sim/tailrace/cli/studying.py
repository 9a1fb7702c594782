"""What commands share: options, how a study runs and is interrupted, and the files written."""

import contextlib
import json
import re
import shutil
import sys
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, TypeAlias

import click

from tailrace.errors import TailraceError, printable

if TYPE_CHECKING:
    from tailrace.figures.style import Picture
    from tailrace.records.checkpoint import Checkpoint
    from tailrace.report.table import Table
    from tailrace.scenario.scenario import Scenario
    from tailrace.studies.runner import Plan, Progress, Runner

Content: TypeAlias = bytes | Callable[[Path], object]
"""What stands in a file, or what writes it."""


OUTWARD = {"scenario", "out", "as_json", "cluster", "expect", "against", "same"}
"""Arguments that say where a command reads, computes and writes, and not what."""
PRODUCT, MARCH = "product", "march"
"""As of ``tailrace.studies.batch``, which takes long to load."""
REPLACE, ALONE = "tailrace.replace", "tailrace.alone"
"""Where a command notes that it may overwrite; that nothing but the record is wanted."""
MARKS = (b"<dc:title>tailrace</dc:title>", b"Software\0tailrace")
"""By which a picture, as SVG or PNG, is known as one of this program."""
DRAWN = re.compile(
    r"sources|stages|peaks|chromatogram|columns|steps|frontiers|distributions|importance|widths|drift"
    r"|regions|hypotheses|plan|(steps-)?overlay-\d+|signal-\d+"
)
"""Names of pictures that stand beside a record: no others go with it."""
PROBE = 4096
"""Bytes that are written and removed, to see whether they can be."""
SOON, LEFT, LONG, FEW, LOADING = 5.0, 10.0, 60.0, 4, 2
"""s after which it is told how long a study takes; what is worth telling of that; from which on
`improve` shows its order before the ranges; steps from which time is foretold; and reports passed
over before: what computes is loaded then."""
NARROWEST = 20
"""Columns of a terminal; what claims to be narrower is no terminal."""


def not_writable(out: Path, problem: OSError, option: str = "--out") -> TailraceError:
    """The error for a path that cannot be written, from the system's own."""
    if isinstance(problem, FileExistsError | NotADirectoryError):
        return TailraceError(
            f"{option} {out}: expected a folder, or a name that is free for one, found a file or a "
            "device; name another"
        )
    return TailraceError(
        f"{option} {out}: expected a file or folder that can be written, found: "
        f"{problem.strerror or problem}; name another"
    )


def make_folder(folder: Path) -> None:
    """Make a folder and write there, before anything is computed: a bad name costs no time."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder) as probe:
            probe.write(bytes(PROBE))
    except OSError as problem:
        raise not_writable(folder, problem) from problem


def refuse_finished(record: Path) -> None:
    """Refuse to overwrite a record, or to mix files with those of another command in one folder.

    Unless the command under way was told to.
    """
    from tailrace.records.kinds import KINDS

    names = {kind.file for kind in KINDS.values() if kind.file}
    rivals = [record.with_name(name) for name in sorted(names)] if record.name in names else []
    for found in (one for one in (record, *rivals) if one.exists()):
        if not click.get_current_context().meta.get(REPLACE):
            raise TailraceError(
                f"--out: expected no record yet, found {found}; add --replace to overwrite what is "
                "there, or name another place"
            )


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
    """Write files, in this order; of a record that is computed again, the record alone.

    Where it takes the place of another record, pictures of that one are removed.

    ``out``: as it was asked for; ``files``: by path what stands in the file, or what writes it:
    called with the path; ``option``: that asked for it.

    Returns
    -------
    list of Path
    """
    from tailrace.records.store import write_bytes

    try:
        for path, content in files.items():
            if _alone() and path.suffix != ".h5":
                continue
            if isinstance(content, bytes):
                write_bytes(path, content)
            else:
                content(path)
        for path in _stale(out, files):
            path.unlink()
    except OSError as problem:
        raise not_writable(out, problem, option) from problem
    return list(files)


def _stale(out: Path, files: Mapping[Path, Content]) -> list[Path]:
    """Pictures of a record that was replaced: under the names that commands give them, and of this
    program. Those of ``figures`` have a table beside them; any other is its owner's."""
    if not click.get_current_context().meta.get(REPLACE) or not out.is_dir() or _alone():
        return []
    pictures = {*out.glob("*.svg"), *out.glob("*.png")} - {*files}
    return [
        one
        for one in sorted(pictures)
        if DRAWN.fullmatch(one.stem)
        and one.is_file()
        and not one.with_suffix(".csv").exists()
        and any(mark in one.read_bytes() for mark in MARKS)
    ]


def _alone() -> bool:
    return bool(click.get_current_context().meta.get(ALONE))


def drawn(out: Path, pictures: "Callable[[], Mapping[str, Picture]]") -> dict[Path, Content]:
    """The files of pictures in a folder; none where nothing but the record is wanted."""
    chosen = {} if _alone() else pictures()
    if strange := [name for name in chosen if not DRAWN.fullmatch(name)]:
        raise ValueError(f"pictures that --replace would not find: {strange}")
    files = (picture.files(name) for name, picture in chosen.items())
    return {out / name: content for one in files for name, content in one.items()}


def data_files(out: Path, scenario: "Scenario") -> dict[Path, Content]:
    """The files that a scenario names, beside it in a folder; those that would lie outside of it
    are left out."""
    files: dict[Path, Content] = {}
    for name, content in scenario.files.contents().items():
        if out.resolve() in (out / name).resolve().parents:
            make_folder((out / name).parent)
            files[out / name] = content
    return files


def own_options() -> dict[str, object]:
    """Options of the command under way on which its numbers depend: what a record keeps."""
    given = click.get_current_context().params
    return {name: value for name, value in given.items() if name not in OUTWARD}


def begun(scenario: Path | str) -> "Scenario":
    """The scenario of a file; times are told in its unit until the command ends."""
    from tailrace.records.trade import times_as_in
    from tailrace.scenario.scenario import Scenario

    found = Scenario.load(Path(scenario))
    click.get_current_context().with_resource(times_as_in(found.text))
    return found


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
        click.echo(printable(f"wrote {path}"), err=True)


class Count(click.ParamType):  # type: ignore[type-arg]  # generic only from click 8.3 on
    """A whole number, which may be written as 1e6."""

    name = "integer"

    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> int:
        """The number, or one sentence why there is none."""
        try:
            number = float(str(value))
            if number == int(number):
                return int(number)
        except (ValueError, OverflowError):
            pass
        return self.fail(
            f"expected a whole number such as 2000 or 1e6, found {value!r}", param, ctx
        )


cluster_option = click.option(
    "--cluster",
    metavar="ADDRESS",
    help="Of a Dask scheduler whose workers compute. Whoever reaches it can run anything there: "
    "keep it in a trusted network.",
)
replace_option = click.option(
    "--replace",
    is_flag=True,
    expose_value=False,
    callback=lambda context, _, chosen: context.meta.update({REPLACE: chosen}),
    help="With --out: overwrite a finished record; its own pictures go.",
)
engine_option = click.option(
    "--engine",
    type=click.Choice((PRODUCT, MARCH)),
    default=PRODUCT,
    show_default=True,
    help="product: multiply transfer functions where the path is linear (of many cases some are "
    "marched to compare); march: march all.",
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
    plan: "Plan",
    file: Path | None,
    cluster: str | None = None,
    steps: str = "cases",
    engine: str | None = None,
    whole: int = 0,
) -> Iterator[Study]:
    """Run a study: with a bar on a terminal, and saying where it goes on if it is interrupted.

    ``file``: the study's own file, whose folder is made; beside it blocks that are done are stored.
    Without one nothing is stored. ``cluster``: address of a Dask scheduler. ``steps``: what the bar
    counts. ``engine``: as of ``Runner``, where cases are compared. ``whole``: how many there will
    be at most, where more are planned than those of the first batch.
    """
    import scipy.linalg  # noqa: F401  # its library has to be loaded to be told

    from tailrace.studies.runner import Runner
    from tailrace.threads import linear_algebra_alone

    if file is not None:
        refuse_finished(file)
    checkpoint = None if file is None else _checkpoint(file, plan)
    try:
        with contextlib.ExitStack() as stack:
            stack.enter_context(linear_algebra_alone())
            executor = None
            if cluster is not None:
                from tailrace.studies.cluster import on_cluster

                executor = stack.enter_context(on_cluster(cluster))
            if file is not None:
                stack.enter_context(refusing(file))
            progress = stack.enter_context(progress_bar(steps, whole))
            if engine == PRODUCT:
                _tell_of_marches(plan.scenario)
            runner = Runner(executor, checkpoint, progress, engine or PRODUCT, _tell_of_bends)
            yield Study(runner, checkpoint)
    except KeyboardInterrupt:
        if checkpoint is not None:
            click.echo(
                f"{checkpoint.folder} keeps what is done; the same command goes on", err=True
            )
        raise


def _tell_of_marches(scenario: "Scenario") -> None:
    """Say beforehand what those cost that are compared with products, where they are long."""
    from tailrace.journey.foretelling import march_seconds
    from tailrace.journey.migration import not_by_products
    from tailrace.journey.propagation import spread
    from tailrace.studies.engine import LONG, MARCHES_LONG

    itinerary = scenario.itinerary()
    passages = spread(itinerary)
    seconds = march_seconds(passages, itinerary.resolution)
    if seconds > LONG and not not_by_products(passages):
        click.echo(
            f"bent tubes: products are compared with {MARCHES_LONG} marches or some more, each of "
            f"{seconds:.0f} s or a few times as long, of one processor",
            err=True,
        )


def _tell_of_bends(seconds: float) -> None:
    """Say beforehand how long bends take that are in no table, where that is long."""
    if seconds > SOON:
        click.echo(
            "bent tubes that are in no table are solved for first, for each group of cases: about "
            f"{seconds:.0f} s, or up to three times as long, of one processor",
            err=True,
        )


def _checkpoint(file: Path, plan: "Plan") -> "Checkpoint":
    from tailrace.records.checkpoint import Checkpoint

    make_folder(file.parent)
    with refusing(file):
        return Checkpoint(file, plan.question)


@contextlib.contextmanager
def refusing(out: Path) -> Iterator[None]:
    """Turn what the system says of a path that cannot be written into one sentence."""
    try:
        yield
    except OSError as problem:
        raise not_writable(out, problem) from problem


@contextlib.contextmanager
def progress_bar(steps: str = "cases", whole: int = 0) -> Iterator["Progress | None"]:
    """A bar on standard error with the time left; where that is not a terminal, one sentence on it
    if it is long.

    ``steps``: what there is to be done, many times, ``whole`` times in all. To be called as
    ``progress(done, total)``.
    """
    if not sys.stderr.isatty():
        yield _Foretold(steps, whole)
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
        yield lambda done, total: bar.update(task, completed=done, total=max(total, whole))


class _Foretold:
    """Says once how long is left, where that is long."""

    def __init__(self, steps: str, whole: int) -> None:
        self._steps, self._whole = steps, whole
        self._begun, self._loading = (0.0, 0), LOADING
        self._said, self._total = False, 0

    def __call__(self, done: int, total: int) -> None:
        now, whole = time.monotonic(), max(total, self._whole)
        if total > self._total:  # a new batch, whose cases may take another time each
            self._total, self._begun, self._loading = total, (now, done), LOADING
        begun, first = self._begun
        if self._loading and done > first:
            self._begun, self._loading = (now, done), self._loading - 1
            return
        if self._loading or self._said or done - first < FEW or now - begun < SOON:
            return
        left = (now - begun) / (done - first) * (whole - done)
        if left > LEFT:
            self._said = True
            takes = f"{left:.0f} s" if left < 2 * LONG else f"{left / LONG:.0f} min"
            progress = f"{done} of up to {whole} {self._steps} done"
            click.echo(f"{progress}; about {takes} left", err=True)


def print_json(value: object) -> None:
    """Print plain JSON values."""
    click.echo(json.dumps(value, indent=2, allow_nan=False))
