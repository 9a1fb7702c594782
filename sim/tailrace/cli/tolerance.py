"""``tailrace tolerance``: how far do metrics spread, do limits hold, how wide may parts be?"""

import contextlib
import re
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from tailrace.cli.studying import (
    Content,
    Count,
    begun,
    checked_file,
    cluster_option,
    drawn,
    engine_option,
    json_option,
    own_options,
    print_json,
    progress_bar,
    replace_option,
    report_written,
    show,
    studying,
)
from tailrace.errors import AccuracyError, BudgetError, TailraceError
from tailrace.records.provenance import provenance_of
from tailrace.studies.samples import GENERATORS

if TYPE_CHECKING:
    from tailrace.journey.verification import CrossCheck
    from tailrace.scenario.scenario import Scenario
    from tailrace.studies.tolerance import Plan
    from tailrace.studies.tolerance.result import Tolerance

NOT_SHOWN = 1
"""Exit code where acceptance is not reached with the required probability and confidence."""


@click.command()
@click.argument("scenario", type=click.Path(path_type=Path))
@click.option(
    "--samples", type=Count(), default=10_000, show_default=True, help="Number of samples."
)
@click.option(
    "--digits",
    type=int,
    help="Sample until 1 or 2 digits of every standard uncertainty stand; --samples is "
    "then the most that may be made, if it is given.",
)
@click.option("--seed", type=int, default=1, show_default=True, help="Of the generator.")
@click.option(
    "--generator", type=click.Choice(GENERATORS), default=GENERATORS[0], show_default=True
)
@click.option("--indices", is_flag=True, help="Whose uncertainty matters: Sobol' indices.")
@click.option(
    "--rows", type=int, default=512, show_default=True, help="Of each matrix for --indices."
)
@click.option(
    "--widen", multiple=True, metavar="FIELD", help="How wide may this tolerance be? Or: all."
)
@click.option("--together", is_flag=True, help="And how wide may they be all at once?")
@click.option(
    "--map", "maps", multiple=True, metavar="'FIELD × FIELD'", help="Where may these two lie?"
)
@click.option(
    "--against",
    type=click.Path(path_type=Path),
    metavar="OTHER.toml",
    help="Move the method there: distribution of the second instrument less the first, held "
    "against each margin of [[accept]]; do both pass?",
)
@click.option(
    "--same",
    multiple=True,
    metavar="FIELD",
    help="With --against: the same part on both, as a column that is moved along.",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    metavar="DIR|FILE.h5",
    help="Write the record, the report and the figures to this folder; or record and report alone.",
)
@cluster_option
@replace_option
@engine_option
@json_option
@click.pass_context
def tolerance(
    context: click.Context,
    /,
    scenario: Path,
    out: Path | None,
    cluster: str | None,
    engine: str,
    as_json: bool,
    maps: tuple[str, ...],
    against: Path | None,
    same: tuple[str, ...],
    **asked: Any,
) -> None:
    """Sample the [[uncertain]] inputs of SCENARIO, travel every sample, judge by its [[accept]].

    Prints for every metric its mean, standard uncertainty and 95 % intervals, how often the
    criteria are satisfied and with what confidence, what closed form says, and what to measure on
    an instrument. Exit code 1 where a criterion does not hold with its probability and confidence.

    With --out a study that was stopped, even killed, goes on where it was: what is done is stored
    in the folder FILE.h5.parts until the record is written.

    With --against nothing is recorded: what is not known of the method is the same on both
    instruments, the rest is drawn for each.

    \b
    tailrace tolerance column.toml --samples 2000
    tailrace tolerance column.toml --digits 2 --indices --out study
    tailrace tolerance column.toml --widen "flow cell.volume" --widen "tube.bore" --together \\
        --map "tube.bore × flow cell.volume" --out study.h5
    """
    from tailrace.scenario.scenario import Scenario

    loaded, pairs = begun(scenario), [_pair(text) for text in maps]
    if against is None:
        satisfied = _studied(loaded, _planned(loaded, asked, pairs), out, cluster, engine, as_json)
    else:
        if out or maps or cluster or asked["widen"] or asked["indices"] or asked["digits"]:
            raise TailraceError(
                "--against: expected --samples, --seed, --same, --engine and --json beside it, "
                "found others; ask them without it"
            )
        satisfied = _moved(loaded, Scenario.load(against), same, engine, asked, as_json)
    context.exit(0 if satisfied else NOT_SHOWN)


def _studied(
    loaded: "Scenario",
    plan: "Plan",
    out: Path | None,
    cluster: str | None,
    engine: str,
    as_json: bool,
) -> bool:
    """Make the study, print it and write what is asked for; whether the criteria are kept."""
    from tailrace.report.tolerance.printed import as_json as plain
    from tailrace.report.tolerance.printed import blocks
    from tailrace.studies.tolerance import answer

    file = None if out is None else _file(out)
    with studying(plan, file, cluster, "journeys", engine, _foretold(plan)) as running:
        study = answer(plan, running.runner)
    check = None if file is None else _compared(loaded)
    if as_json:
        print_json(plain(study, provenance_of(loaded, own_options()), check))
    else:
        show(blocks(study))
    if out and file:
        from tailrace.records.record import tree_of

        record = tree_of(study, provenance_of(loaded, own_options()), cross_check=check)
        report_written(running.write(out, _files(out, file, record, study)))
    return study.satisfied


def _moved(
    first: "Scenario",
    second: "Scenario",
    same: tuple[str, ...],
    engine: str,
    asked: dict[str, Any],
    as_json: bool,
) -> bool:
    """Print what becomes of a method on another instrument; whether it may go there."""
    from tailrace.identity import own_version
    from tailrace.report.tolerance import moved
    from tailrace.studies.runner import Runner
    from tailrace.studies.tolerance.transferring import transfer

    with progress_bar("journeys") as progress:
        runner = Runner(progress=progress, engine=engine)
        found = transfer(first, second, asked["samples"], asked["seed"], same, runner)
    if as_json:
        print_json(moved.as_json(found, (first.sha256, second.sha256), own_version()))
    else:
        show(moved.blocks(found))
    return found.satisfied


def _foretold(plan: "Plan") -> int:
    """How many journeys are asked for; said, too."""
    from tailrace.studies.tolerance.solve import journeys

    count = journeys(plan)
    rows = ", ".join(f"{number} for {name}" for name, number in count.items())
    click.echo(f"up to {sum(count.values())} journeys: {rows}", err=True)
    return sum(count.values())


def _planned(loaded: "Scenario", asked: dict[str, Any], maps: list[tuple[str, ...]]) -> "Plan":
    from tailrace.studies.tolerance import plan

    rows = asked.pop("rows")
    indices = rows if asked.pop("indices") else 0
    widen = tuple(asked.pop("widen"))
    if "all" in widen:
        widen = ("all",)
    return plan(loaded, indices=indices, widen=widen, maps=tuple(maps), **asked)


def _file(out: Path) -> Path:
    """The record's file."""
    file = out if out.suffix == ".h5" else out / "record.h5"
    return checked_file(file, ".h5", new_folder=True)


def _pair(text: str) -> tuple[str, ...]:
    """The two fields of a map."""
    fields = tuple(one.strip() for one in re.split(r"×|\s+x\s+", text))
    if len(fields) != 2 or not all(fields):
        raise TailraceError(
            f"--map {text[:80]!r}: expected two fields with × between them, such as "
            f"'tube.bore × flow cell.volume', found {len(fields)}; write two"
        )
    return fields


def _compared(loaded: "Scenario") -> "CrossCheck | None":
    """Both solvers on the scenario as it stands; None where they cannot be compared."""
    from tailrace.journey.verification import verify

    with contextlib.suppress(AccuracyError, BudgetError):
        return verify(loaded.itinerary())
    click.echo("the spectral solver cannot compute this scenario: no cross-check", err=True)
    return None


def _files(out: Path, file: Path, record: Any, study: "Tolerance") -> dict[Path, Content]:
    """The record and what is made from it."""
    from tailrace.records.store import write_bytes, write_record
    from tailrace.report.tolerance.audit import page, pictures_of

    report = file.with_suffix(".html") if file == out else out / "report.html"
    pictures = cache(lambda: pictures_of(study))
    files: dict[Path, Content] = {
        file: lambda path: write_record(path, record),
        report: lambda path: write_bytes(path, page(record, pictures()).encode()),  # with the seal
    }
    return files | ({} if file == out else drawn(out, pictures))
