"""``tailrace improve``: which changes to make, in which order, and where to stop."""

import json
import sys
from pathlib import Path

import click

from tailrace.cli.improve_options import constraints_of, expect_file, share_of, wanted
from tailrace.cli.progress import progress_bar
from tailrace.errors import TailraceError

AIMS = ("plates", "resolution", "tailing", "signal")
ORDERS = ("gain", "money", "effort")
PICTURES = ("steps", "frontiers", "peaks")
"""Names of the picture files."""


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
    help="Write improvement.h5, worksheet.html and pictures to this folder.",
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object (SI), and no table.")
@click.option(
    "--expect",
    is_flag=False,
    flag_value="-",
    metavar="[FILE]",
    help="Say what measurements should show after each step; to FILE.csv or FILE.json.",
)
def improve(scenario, aim, solute, pair, stop, order, out, as_json, expect, **limits):
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
    from tailrace.scenario.read import load_scenario
    from tailrace.studies.improving.planning import planned

    targets = wanted(aim, solute, pair)
    constraints = constraints_of(limits)
    file = expect_file(expect)
    plan = planned(
        load_scenario(scenario),
        aim=aim,
        of=targets,
        constraints=constraints,
        stop=share_of(stop),
        order=order,
    )
    kept = None if out is None else _kept(out, plan)
    made = _made(plan, kept)
    written = [] if out is None else _write(out, made, kept)
    if file is not None:
        written.append(_write_expected(file, made))
    _print(made, as_json, expect is not None)
    for path in written:
        click.echo(f"wrote {path}", err=True)


def _kept(out, plan):
    from tailrace.records.blocks import KeptBatches

    try:
        out.mkdir(parents=True, exist_ok=True)
        return KeptBatches(out / "improvement.h5", plan, _version())
    except OSError as problem:
        raise _not_writable(out, problem) from problem


def _not_writable(out, problem):
    return TailraceError(
        f"--out {out}: expected a folder that can be written, found: "
        f"{problem.strerror or problem}; name another folder"
    )


def _made(plan, kept):
    """Travel, and say where it can go on if it is stopped."""
    from tailrace.studies.improving.answering import carried_out

    try:
        with progress_bar("parts passed") as progress:
            return carried_out(plan, kept=kept, progress=progress)
    except KeyboardInterrupt:
        if kept is not None:
            click.echo(f"{kept.folder} keeps what is done; the same command goes on", err=True)
        raise
    except OSError as problem:
        if kept is None:
            raise
        raise _not_writable(kept.folder, problem) from problem


def _write(out, made, kept):
    """Write the record, the pictures and the work sheet, and only then let go of the blocks."""
    from tailrace.records.atomic import write_bytes
    from tailrace.records.improvement import as_dataset
    from tailrace.records.improvement_store import write_improvement
    from tailrace.report.improvement.expected import expected_csv
    from tailrace.report.improvement.sheet import as_sheet

    provenance = _provenance(made.scenario)
    written = [out / "improvement.h5"]
    files = {
        "expected.csv": expected_csv(made).encode(),
        "worksheet.html": as_sheet(made, provenance).encode(),
    }
    for name, picture in zip(PICTURES, _pictures(made), strict=True):
        files |= {f"{name}.svg": picture.svg(), f"{name}.png": picture.png()}
    try:
        write_improvement(written[0], as_dataset(made, provenance))
        for name, content in files.items():
            written.append(out / name)
            write_bytes(written[-1], content)
        kept.remove()
    except OSError as problem:
        raise _not_writable(out, problem) from problem
    return written


def _provenance(scenario):
    from tailrace.records.provenance import Provenance

    return Provenance(
        title=scenario.title,
        scenario_sha256=scenario.sha256,
        scenario=scenario.text,
        version=_version(),
        assumptions=tuple(scenario.assumptions()),
    )


def _pictures(made):
    """The staircase, the frontiers, and the peaks at the start, where to stop, and at the end."""
    from tailrace.figures.improvement.before_after import draw_before_after
    from tailrace.figures.improvement.frontiers import draw_frontiers
    from tailrace.figures.improvement.staircase import draw_staircase
    from tailrace.journey import travel

    last = len(made.steps) - 1
    states = {"as it is": 0}
    if 0 < made.stop_after < last:
        states[f"after step {made.stop_after}, where to stop"] = made.stop_after
    if last:
        states[f"after step {last}, the last"] = last
    results = {
        name: travel(made.scenario_with(made.steps[number].taken).itinerary())
        for name, number in states.items()
    }
    return draw_staircase(made), draw_frontiers(made), draw_before_after(results)


def _write_expected(file, made):
    from tailrace.records.atomic import write_bytes
    from tailrace.report.improvement.contract import as_contract
    from tailrace.report.improvement.expected import expected_csv

    if file.suffix == ".csv":
        text = expected_csv(made)
    else:
        whole = as_contract(made, _version())
        about = {key: whole[key] for key in ("title", "scenario_sha256", "version")}
        text = json.dumps(about | whole["expected"], indent=2, allow_nan=False) + "\n"
    try:
        write_bytes(file, text.encode())
    except OSError as problem:
        raise TailraceError(
            f"--expect {file}: expected a file that can be written, found: "
            f"{problem.strerror or problem}; name another file"
        ) from problem
    return file


def _print(made, as_json, expect):
    """Tables with bold type on a terminal, plain text into files and pipes; or JSON."""
    from tailrace.report.improvement.contract import as_contract
    from tailrace.report.improvement.text import as_text, for_terminal

    if as_json:
        click.echo(json.dumps(as_contract(made, _version()), indent=2, allow_nan=False))
        return
    if not sys.stdout.isatty():
        click.echo(as_text(made, made.scenario.title, expect))
        return
    from rich.console import Console

    console = Console(highlight=False)
    for block in for_terminal(made, made.scenario.title, expect):
        console.print(block)


def _version():
    from importlib.metadata import version

    return version("tailrace")
