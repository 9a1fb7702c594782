"""``tailrace run``: send every solute of a scenario through its path and say what came of it."""

import json
import sys
import time
from collections.abc import Sequence
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

import click

from tailrace.cache import compiled_seconds
from tailrace.cli.numerics import accuracy_option, solver_option
from tailrace.cli.studying import (
    Content,
    begun,
    drawn,
    make_folder,
    own_options,
    refuse_finished,
    replace_option,
    report_written,
    show,
    write_files,
)
from tailrace.errors import TailraceError
from tailrace.identity import own_version
from tailrace.records.provenance import provenance_of

if TYPE_CHECKING:
    from tailrace.journey.result import Result
    from tailrace.journey.verification import CrossCheck
    from tailrace.records.provenance import Provenance
    from tailrace.scenario.scenario import Scenario

LONG, LOADING = 5.0, 2.0
"""s from which a user is told, and which loading the kernels may take."""


@click.command()
@click.argument("scenario", type=click.Path(path_type=Path))
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Write record.h5, report.html, curves as CSV and figures to this folder, made if missing.",
)
@click.option(
    "--cross-check",
    is_flag=True,
    help="With --out: compute the tubes with the second solver, too, and keep the comparison.",
)
@replace_option
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object (SI), and no table.")
@solver_option
@accuracy_option
def run(
    scenario: Path,
    out: Path | None,
    cross_check: bool,
    as_json: bool,
    solver: str | None,
    accuracy: float | None,
) -> None:
    """Propagate every solute of SCENARIO through its path and print what is recorded."""
    from tailrace.journey import travel
    from tailrace.journey.foretelling import compile_seconds, march_seconds
    from tailrace.journey.propagation import spread
    from tailrace.journey.verification import verify
    from tailrace.report.run import blocks
    from tailrace.scenario.columns import with_columns
    from tailrace.scenario.doubts import with_assumptions
    from tailrace.scenario.unusual import unusual

    loaded = begun(scenario)
    provenance = None
    if cross_check and out is None:
        raise click.UsageError("--cross-check: expected --out beside it, found none; name a folder")
    if out is not None:
        refuse_finished(out / "record.h5")
        make_folder(out)
        provenance = provenance_of(loaded, own_options())
    itinerary = loaded.itinerary().computed(accuracy=accuracy, solver=solver)
    try:
        parts = [part for part, _ in itinerary.passages]
        bent = [part.name for part in parts if part.nearly_as_fine]
        watch = _Watch([part.finer for part in parts], bent)
        passages = spread(itinerary)
        watch.begin(compile_seconds(passages), march_seconds(passages, itinerary.resolution))
        result = travel(itinerary, watch, blame=True)
        result = with_columns(loaded, with_assumptions(loaded, result), accuracy, solver)
    except TailraceError:
        # the cause of what cannot be computed, more often than not
        for line in unusual(loaded):
            click.echo(f"unusual: {line}", err=True)
        raise
    check = verify(itinerary) if cross_check else None
    if as_json:
        _print_json(loaded, result)
    else:
        show([*blocks(result, loaded.title), *_estimates(loaded, result)])
    if out is not None and provenance is not None:
        report_written(write_files(out, _files(out, result, provenance, check)))


class _Watch:
    """Follows a journey; says what it will take where that is long.

    On a terminal one line, overwritten until it is done and then wiped out. ``finer``: of each
    part; they are passed by the coarse journey first. ``bent``: names of parts that take longest.
    """

    def __init__(self, finer: list[float], bent: Sequence[str] = ()) -> None:
        self._finer, self._parts = finer, len(finer)
        self._why = f", most of it in tubes that are bent: {', '.join(bent)}" if bent else ""
        self._times, self._said = [_now()], False
        self._terminal = sys.stderr.isatty()

    def begin(self, compiling: float, marching: float) -> None:
        """Say what is long before anything is computed; s of one processor, as foretold."""
        if compiling + marching <= LONG:
            return
        once = f", of which {compiling:.0f} s compile its kernels, once" if compiling else ""
        takes = f"{float(f'{compiling + marching:.2g}'):g} s of one processor"
        off = "or several times as long" if self._why else "to a factor of two"
        self._say(f"This run takes about {takes}, {off}{once}")
        self._said = marching > LONG

    def _say(self, text: str) -> None:
        start = "\r\x1b[K" if self._terminal else ""
        click.echo(f"{start}{text}{self._why}.", err=True)

    def __call__(self, done: int, total: int) -> None:
        self._times.append(_now())
        whole = self._foretold(done, total)
        start = "\r\x1b[K" if self._terminal else ""
        if whole > LONG and not self._said:
            self._said = True
            self._say(f"This run takes up to about {whole:.0f} s")
        if self._terminal:
            bar = "" if done == total else f"part {done} of {total}"
            click.echo(f"{start}{bar}", nl=False, err=True)

    def _foretold(self, done: int, total: int) -> float:
        """Seconds of the whole run: from the coarse journey, later from the fine one so far."""
        if done == self._parts:
            each = [after - before for before, after in pairwise(self._times)]
            coarse = max(sum(each), LOADING)
            fine = sum(time * finer for time, finer in zip(each, self._finer, strict=True))
            return (1 - LOADING / coarse) * (fine + coarse * (total - done) / done)
        if not self._parts < done <= 2 * self._parts:
            return 0.0
        fine, parts = self._times[done] - self._times[self._parts], done - self._parts
        share = self._times[parts] - self._times[0]
        return fine * (self._times[self._parts] - self._times[0]) / share if fine > LONG / 2 else 0


def _now() -> float:
    """s, without what kernels took that are compiled once for all runs."""
    return time.monotonic() - compiled_seconds()


def _files(
    out: Path, result: "Result", provenance: "Provenance", check: "CrossCheck | None"
) -> dict[Path, Content]:
    """The record, the curves, the figures and the page."""
    from tailrace.records.record import as_record
    from tailrace.records.store import write_bytes, write_record
    from tailrace.report.page import page, pictures_of
    from tailrace.report.run import bands_csv, recorded_csv

    record = as_record(result, provenance, check)
    pictures = cache(lambda: pictures_of(record))
    files: dict[Path, Content] = {
        out / "record.h5": lambda path: write_record(path, record),
        out / "recorded.csv": recorded_csv(result),
        out / "bands.csv": bands_csv(result),
    }
    files |= drawn(out, pictures)
    report = out / "report.html"
    return files | {report: lambda path: write_bytes(path, page(record, pictures()).encode())}


def _print_json(loaded: "Scenario", result: "Result") -> None:
    from tailrace.report.run import as_json
    from tailrace.scenario.assumptions import remarks
    from tailrace.scenario.unusual import unusual

    answer = as_json(result, loaded.title, loaded.sha256, own_version())
    answer["estimates"] = remarks(loaded, result)
    answer["unusual"] = unusual(loaded)
    click.echo(json.dumps(answer, indent=2, allow_nan=False))


def _estimates(loaded: "Scenario", result: "Result") -> list[str]:
    from tailrace.scenario.assumptions import remarks
    from tailrace.scenario.unusual import unusual

    return [*remarks(loaded, result), *(f"Unusual: {line}." for line in unusual(loaded))]
