"""``tailrace improve``: which changes to make, in which order, and where to stop."""

import contextlib
import json
import sys
from pathlib import Path

import click

from tailrace.cli.improve_options import constraints_of, expect_file, share_of, wanted
from tailrace.cli.studying import json_option, print_json, studying
from tailrace.cli.writing import Content, report_written, write_files
from tailrace.errors import AccuracyError, BudgetError
from tailrace.records.provenance import own_version, provenance_of
from tailrace.studies.improving.aims import AIMS, ORDERS


@click.command()
@click.argument("scenario", type=click.Path(path_type=Path))
@click.option("--aim", type=click.Choice(AIMS), default="plates", help="What is to be better.")
@click.option("--solute", metavar="NAME", help="Of this solute; the worst of all without it.")
@click.option("--pair", metavar='"A/B"', help="Resolution of this pair; the critical one without.")
@click.option("--pressure", metavar='"400 bar"', help="At most, over the whole path.")
@click.option("--cell-pressure", metavar='"60 bar"', help="At most, at the inlet of the cell.")
@click.option("--signal-to-noise", metavar="0.8", help="At least, over that of the start.")
@click.option("--budget", metavar="1500", help="At most, in the currency of the file.")
@click.option("--effort", metavar='"2 h"', help="Working time, at most.")
@click.option("--stop", default="2%", show_default=True, help="A step that brings less is left.")
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
@json_option
@click.option(
    "--expect",
    is_flag=False,
    flag_value="-",
    metavar="[FILE]",
    help="Say what measurements should show after each step; to FILE.csv or FILE.json.",
)
def improve(scenario, aim, solute, pair, stop, order, out, cross_check, as_json, expect, **limits):
    """Simulate every combination of the changes of SCENARIO, and say which to make.

    The changes stand in the scenario's [[changes]], each with its cost and effort. Printed are the
    best order, one step at a time, what each change is worth, what the money and the work buy, and
    where to stop. The keys of --json are those of tailrace.report.improvement.contract.as_contract.

    With --out a study that was stopped goes on where it was: what is done is kept in the folder
    improvement.h5.parts until the file is written.

    \b
    tailrace improve scenarios/decide/brewery-core-shell.toml --out out/brewery
    tailrace improve lab.toml --aim resolution --budget 500 --signal-to-noise 0.8
    """
    from tailrace.scenario.scenario import Scenario
    from tailrace.studies.improving.answering import answer
    from tailrace.studies.improving.planning import planned

    if cross_check and out is None:
        raise click.UsageError("--cross-check: expected --out beside it, found none; name a folder")
    targets = wanted(aim, solute, pair)
    constraints = constraints_of(limits)
    file = expect_file(expect)
    plan = planned(
        Scenario.load(scenario),
        aim=aim,
        of=targets,
        constraints=constraints,
        stop=share_of(stop),
        order=order,
    )
    record = None if out is None else out / "improvement.h5"
    with studying(plan, record, steps="parts passed") as study:
        made = answer(plan, study.runner)
    written = [] if out is None else study.write(out, _files(out, made, cross_check))
    if file is not None:
        written += _write_expected(file, made)
    _print(made, as_json, expect is not None)
    report_written(written)


def _files(out, made, cross_check) -> dict[Path, Content]:
    """The record and what is made from it."""
    from tailrace.records.improvement_store import as_record, write_improvement
    from tailrace.report.improvement.audit import as_page, pictures_of
    from tailrace.report.improvement.expected import expected_csv
    from tailrace.report.improvement.sheet import as_sheet

    provenance = provenance_of(made.scenario)
    record = as_record(made, provenance, *_states(made, cross_check))
    pictures = pictures_of(record)
    files = {
        "improvement.h5": lambda path: write_improvement(path, record),
        "report.html": as_page(record, pictures).encode(),
        "worksheet.html": as_sheet(made, provenance).encode(),
        "expected.csv": expected_csv(made).encode(),
    }
    for name, picture in pictures.items():
        files |= {f"{name}.svg": picture.svg(), f"{name}.png": picture.png()}
    return {out / name: content for name, content in files.items()}


def _states(made, cross_check):
    """Runs of the start, of where to stop and of the end; both solvers compared on first and last.

    Each a dict by what the state is called; the second is empty where nothing was to be compared.
    """
    from tailrace.journey import travel

    last = len(made.steps) - 1
    numbers = {"as it is": 0}
    if 0 < made.stop_after < last:
        numbers[f"after step {made.stop_after}, where to stop"] = made.stop_after
    if last:
        numbers[f"after step {last}, the last"] = last
    journeys = {
        name: made.scenario_with(made.steps[number].taken).itinerary()
        for name, number in numbers.items()
    }
    results = {name: travel(itinerary) for name, itinerary in journeys.items()}
    ends = dict.fromkeys((next(iter(journeys)), next(reversed(journeys)))) if cross_check else {}
    checks = {name: _compared(name, journeys[name]) for name in ends}
    return results, {name: check for name, check in checks.items() if check is not None}


def _compared(name, itinerary):
    """Both solvers on one state; None where they cannot be compared."""
    from tailrace.journey.verification import verify
    from tailrace.records.cross_check import cross_check

    with contextlib.suppress(AccuracyError, BudgetError):
        return cross_check(verify(itinerary))
    click.echo(f"the spectral solver cannot compute it {name}: no cross-check", err=True)
    return None


def _write_expected(file, made):
    from tailrace.report.improvement.contract import as_contract
    from tailrace.report.improvement.expected import expected_csv

    if file.suffix == ".csv":
        text = expected_csv(made)
    else:
        whole = as_contract(made, own_version())
        about = {key: whole[key] for key in ("title", "scenario_sha256", "version")}
        text = json.dumps(about | whole["expected"], indent=2, allow_nan=False) + "\n"
    return write_files(file, {file: text.encode()}, "--expect")


def _print(made, as_json, expect):
    """Tables with bold type on a terminal, plain text into files and pipes; or JSON."""
    from tailrace.report.improvement.contract import as_contract
    from tailrace.report.improvement.text import as_text, for_terminal

    if as_json:
        print_json(as_contract(made, own_version()))
        return
    if not sys.stdout.isatty():
        click.echo(as_text(made, made.scenario.title, expect))
        return
    from rich.console import Console

    console = Console(highlight=False)
    for block in for_terminal(made, made.scenario.title, expect):
        console.print(block)
