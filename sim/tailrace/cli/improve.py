"""``tailrace improve``: which changes to make, in which order, and where to stop."""

from __future__ import annotations

import contextlib
import json
import re
import time
from collections.abc import Mapping
from functools import cache, partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from tailrace.cli.studying import (
    LONG,
    Content,
    Study,
    begun,
    cluster_option,
    data_files,
    drawn,
    engine_option,
    json_option,
    own_options,
    print_json,
    replace_option,
    report_written,
    show,
    studying,
    write_files,
)
from tailrace.cli.taken import Taken, taken_back
from tailrace.errors import AccuracyError, BudgetError, QuantityError, TailraceError
from tailrace.identity import own_version
from tailrace.records.provenance import provenance_of
from tailrace.studies.improving.aims import AIMS, ORDERS
from tailrace.studies.improving.expecting import QUICK, RANGES, STATED, TYPICAL

if TYPE_CHECKING:
    from tailrace.journey.itinerary import Itinerary
    from tailrace.journey.result import Result
    from tailrace.journey.verification import CrossCheck
    from tailrace.studies.improving.aims import Constraints
    from tailrace.studies.improving.planning import Plan
    from tailrace.studies.improving.result import Improvement
    from tailrace.studies.runner import Runner

UNMET = 1
"""Exit code where nothing keeps to the constraints."""


@click.command()
@click.argument("scenario", type=click.Path(path_type=Path))
@click.option(
    "--aim", type=click.Choice(list(AIMS)), help="By default plates, without a column variance."
)
@click.option("--solute", metavar="NAME", help="Of this solute; the worst of all without it.")
@click.option("--pair", metavar='"A/B"', help="Resolution of this pair; the critical one without.")
@click.option(
    "--pressure",
    metavar='"400 bar"',
    help="At most, over the whole path, at its highest along a programme.",
)
@click.option("--cell-pressure", metavar='"60 bar"', help="At most, at the inlet of the cell.")
@click.option("--signal-to-noise", metavar="0.8", help="At least, over that of the start.")
@click.option("--budget", metavar="1500", help="At most, in the currency of the file.")
@click.option("--effort", metavar='"2 h"', help="Working time, at most.")
@click.option("--stop", default="2%", show_default=True, help="Least gain of a step worth making.")
@click.option(
    "--order",
    type=click.Choice(ORDERS),
    default="gain",
    show_default=True,
    help="Most gain as early as possible, or most for the money or the working time.",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Write improvement.h5, report.html, worksheet.html and pictures to this folder.",
)
@click.option(
    "--cross-check",
    is_flag=True,
    help="With --out: compute the start and the end with the second solver, too.",
)
@click.option(
    "--measured",
    is_flag=True,
    help="Take back what [[measured]] found after the changes that its rows name: say of each step "
    "whether it brought what it should, and plan what is left from there.",
)
@cluster_option
@engine_option
@replace_option
@json_option
@click.option(
    "--ranges",
    type=click.Choice(RANGES),
    help="Which ranges go with what should be measured, from 64 samples: of what the file calls "
    "uncertain (stated), or of typical tolerances of makers where it calls nothing so. By default "
    "stated; typical with --expect, and with --out where that takes seconds.",
)
@click.option(
    "--expect",
    is_flag=False,
    flag_value="-",
    metavar="[FILE]",
    help="Print what measurements should show after each step; or write FILE.csv or FILE.json.",
)
def improve(
    scenario: Path,
    aim: str | None,
    solute: str | None,
    pair: str | None,
    stop: str,
    order: str,
    out: Path | None,
    cross_check: bool,
    measured: bool,
    cluster: str | None,
    engine: str,
    as_json: bool,
    ranges: str | None,
    expect: str | None,
    **limits: str | None,
) -> None:
    """Simulate every combination of the changes of SCENARIO, and say which to make.

    The changes stand in the scenario's [[changes]], each with its cost and effort. Printed are the
    best order, one step at a time, what each change is worth (its Shapley value: its gain averaged
    over all orders), what the money and the work buy, and where to stop. Keys of --json:
    tailrace.report.improvement.printed.as_json.

    With --out a study that was stopped goes on where it was (improvement.h5.parts), and rows to
    fill in for each step are written to measured.toml, which --measured takes back.

    \b
    tailrace improve scenarios/decide/brewery-core-shell.toml --out out/brewery
    tailrace improve lab.toml --aim resolution --budget 500 --signal-to-noise 0.8
    tailrace improve out/brewery/measured.toml --measured --out out/brewery-2
    """
    from tailrace.studies.improving.planning import planned

    of, constraints, file = _of(aim, solute, pair), _constraints(limits), _expect_file(expect)
    _check_out(scenario, out, cross_check)
    loaded = begun(scenario)
    taken = taken_back(loaded, out, engine) if measured else None
    if taken is not None:
        if not taken.followed.left:
            return taken.end(as_json, out)
        loaded = taken.followed.now
    plan = planned(loaded, aim or "", of, constraints, _share(stop), order, engine)
    ranges = ranges or (None if expect is None else TYPICAL)
    study, found = _answered(plan, out, cluster, engine, ranges)
    _print(found, as_json, expect is not None, taken)
    files = out and study.write(out, _files(out, found, cross_check, ranges, taken))
    report_written([*(files or []), *_write_expected(file, found)])
    click.get_current_context().exit(UNMET if found.outcome == "infeasible" else 0)


def _answered(
    plan: Plan, out: Path | None, cluster: str | None, engine: str, ranges: str | None
) -> tuple[Study, Improvement]:
    from tailrace.studies.improving.solve import answer

    record = out and out / "improvement.h5"
    with studying(plan, record, cluster, "parts computed", engine) as study:
        report = partial(_so_far, study.runner, time.monotonic())
        ranges = ranges or (STATED if out is None else QUICK)
        return study, answer(plan, study.runner, ranges, report)


def _so_far(runner: Runner, begun: float, found: Improvement, work: tuple[int, int]) -> None:
    """Show the steps before samples are marched for ranges, and say how long these take."""
    from tailrace.records.trade import for_people
    from tailrace.report.improvement.tables import steps_table

    took, (journeys, parts) = time.monotonic() - begun, work
    left = took * parts / max(runner.passed, 1)
    if left < LONG:
        return
    click.echo(steps_table(for_people(found)).text(), err=True)
    click.echo(
        f"\nThis is the order; what follows are the ranges of these numbers, {journeys} journeys "
        f"that take about {left / 60:.0f} min. --ranges none leaves them out.",
        err=True,
    )


def _check_out(scenario: Path, out: Path | None, cross_check: bool) -> None:
    """Refuse what cannot be written, before any work."""
    if cross_check and out is None:
        raise click.UsageError("--cross-check: expected --out beside it, found none; name a folder")
    if out is not None and scenario.resolve() == (out / "measured.toml").resolve():
        raise TailraceError(
            f"--out {out}: expected a folder without {scenario}, which would be overwritten, found "
            "its own; name another one"
        )


def _of(aim: str | None, solute: str | None, pair: str | None) -> str:
    """The solute or pair that counts; empty for the worst."""
    if solute is not None and pair is not None:
        raise TailraceError("expected --solute or --pair, found both; leave one out")
    if pair is not None and aim != "resolution":
        raise TailraceError(
            f"--pair: expected it with --aim resolution, found --aim {aim or 'plates'}; "
            "take --solute, or that aim"
        )
    if solute is not None and aim == "resolution":
        raise TailraceError(
            '--solute: expected a pair for --aim resolution, found a solute; write --pair "A/B"'
        )
    if pair is not None and "/" not in pair:
        raise TailraceError(
            f'--pair: expected two solutes with a stroke between them such as "A/B", found '
            f'"{pair[:60]}"; put both'
        )
    return solute or pair or ""


def _constraints(limits: Mapping[str, str | None]) -> Constraints:
    """Limits in SI, by the names of the options."""
    from tailrace.quantities.parse import parse
    from tailrace.studies.improving.aims import Constraints

    found = {}
    kinds = {"pressure": "pressure", "cell_pressure": "pressure", "effort": "effort"}
    for name, text in limits.items():
        if text is None:
            continue
        option = f"--{name.replace('_', '-')}"
        if name in kinds:
            try:
                found[name] = parse(text, kinds[name])
            except QuantityError as problem:
                raise TailraceError(f"{option}: {problem}") from problem
        elif re.fullmatch(r"\s*[0-9]*\.?[0-9]+\s*", text):
            found[name] = float(text)
        else:
            raise TailraceError(
                f'{option}: expected a number of 0 or more, found "{text[:60]}"; write digits alone'
            )
    return Constraints(**found)


def _share(text: str) -> float:
    """``2%`` or ``0.02`` as a fraction, 1."""
    match = re.fullmatch(r"\s*([0-9]*\.?[0-9]+)\s*(%?)\s*", text)
    share = float(match.group(1)) / (100 if match.group(2) else 1) if match else -1
    if not 0 <= share < 1:
        raise TailraceError(
            f'--stop: expected a share from 0% to below 100%, found "{text[:60]}"; write 2% or 0.02'
        )
    return share


def _expect_file(expect: str | None) -> Path | None:
    """The file that ``--expect`` names, None where it names none; refused before any work."""
    if expect is None or expect == "-":
        return None
    file = Path(expect)
    if file.suffix not in (".csv", ".json"):
        raise TailraceError(
            f"--expect {file}: expected a file name that ends in .csv or .json, found another; "
            "add the ending, or put --expect last to print without a file"
        )
    if not file.parent.is_dir():
        raise TailraceError(
            f"--expect {file}: expected a file in a folder that exists, found none; make "
            f"{file.parent}, or name another file"
        )
    return file


def _files(
    out: Path, found: Improvement, cross_check: bool, ranges: str | None, taken: Taken | None
) -> dict[Path, Content]:
    """The record and what is made from it."""
    from tailrace.records.record import tree_of
    from tailrace.records.store import write_bytes, write_record
    from tailrace.report.improvement.audit import page, pictures_of
    from tailrace.report.improvement.printed import expected_csv
    from tailrace.report.improvement.sheet import as_sheet
    from tailrace.studies.measured.following import to_fill_in

    # where steps were taken back, this is a plan for the scenario that came of them
    options = own_options() | {"measured": False, "ranges": ranges}
    provenance = provenance_of(found.scenario, options)
    states, checks = _states(found, cross_check)
    record = tree_of(found, provenance, states=states, checks=checks or None)
    pictures = cache(lambda: pictures_of(record))
    files: dict[str, Content] = {
        "improvement.h5": lambda path: write_record(path, record),
        "report.html": lambda path: write_bytes(path, page(record, pictures()).encode()),
        "worksheet.html": as_sheet(found, provenance).encode(),
        "measured.toml": to_fill_in(found).encode(),
        "expected.csv": expected_csv(found).encode(),
    }
    contents = {out / name: content for name, content in files.items()}
    contents |= drawn(out, pictures) | data_files(out, found.scenario)
    return contents | ({} if taken is None else taken.files(out))


def _states(
    found: Improvement, cross_check: bool
) -> tuple[dict[str, Result], dict[str, CrossCheck]]:
    """Runs of the start, of where to stop and of the end; both solvers compared on first and last.

    Each a dict by what the state is called; the second is empty where nothing was to be compared.
    """
    from tailrace.journey import travel

    journeys = found.states()
    results = {name: travel(itinerary) for name, itinerary in journeys.items()}
    ends = dict.fromkeys((next(iter(journeys)), next(reversed(journeys)))) if cross_check else {}
    checks = {name: _compared(name, journeys[name]) for name in ends}
    return results, {name: check for name, check in checks.items() if check is not None}


def _compared(name: str, itinerary: Itinerary) -> CrossCheck | None:
    """Both solvers on one state; None where they cannot be compared."""
    from tailrace.journey.verification import verify

    with contextlib.suppress(AccuracyError, BudgetError):
        return verify(itinerary)
    click.echo(f"the spectral solver cannot compute it {name}: no cross-check", err=True)
    return None


def _write_expected(file: Path | None, found: Improvement) -> list[Path]:
    from tailrace.report.improvement.printed import as_json, expected_csv

    if file is None:
        return []
    if file.suffix == ".csv":
        text = expected_csv(found)
    else:
        whole = as_json(found, own_version())
        about = {key: whole[key] for key in ("contract", "title", "scenario_sha256", "version")}
        text = json.dumps(about | whole["expected"], indent=2, allow_nan=False) + "\n"
    return write_files(file, {file: text.encode()}, "--expect")


def _print(found: Improvement, as_json: bool, expect: bool, taken: Taken | None) -> None:
    """Tables and sentences, or JSON; before them what was taken back."""
    from tailrace.report.improvement import printed

    if as_json:
        head = {} if taken is None else {"made": taken.as_json()}
        print_json(printed.as_json(found, own_version()) | head)
        return
    if taken is not None:
        taken.show()
    show(printed.blocks(found, found.scenario.title, expect))
