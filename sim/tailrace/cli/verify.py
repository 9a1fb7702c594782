"""``tailrace verify``: a scenario by two solvers, or a record computed again from itself."""

import contextlib
import io
import json
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from tailrace.cli.numerics import accuracy_option
from tailrace.cli.studying import ALONE, OUTWARD

if TYPE_CHECKING:
    from tailrace.records.provenance import Provenance

DISAGREE = 1
"""Exit code where the solvers differ by far more than the error estimates foresee, or a record does
not come out again."""
SAME = 1e-12
"""Rounding of records computed on unlike processors or libraries, at most."""
MOST_LISTED = 12


@click.command()
@click.argument("scenario", type=click.Path(path_type=Path), metavar="SCENARIO|RECORD.h5")
@accuracy_option
@click.pass_context
def verify(context: click.Context, scenario: Path, accuracy: float | None) -> None:
    """Compute a scenario with two solvers and compare; or compute a record again.

    Of a SCENARIO the tubes are computed by finite differences and by a spectral solver. Printed is
    for each part how far the two bands behind it are apart and by how much the variances added
    differ, and for each recorded metric the difference beside the sum of the two error estimates.

    A RECORD of any command is computed again from what it holds (scenario, data files, options),
    and every number of it is compared; signatures beside it are held against it, too.

    Exit code 1 where a difference is larger than three times that sum and can be read, or a record
    does not come out again.
    """
    from tailrace.errors import TailraceError
    from tailrace.journey.verification import verify as compare
    from tailrace.report.run import check_text
    from tailrace.scenario.scenario import Scenario

    if scenario.suffix == ".h5":
        if accuracy is not None:
            raise TailraceError("--accuracy: expected a scenario, found a record; leave it out")
        context.exit(0 if _again(context, scenario) else DISAGREE)
    loaded = Scenario.load(scenario)
    comparison = compare(loaded.itinerary().computed(accuracy=accuracy))
    click.echo(check_text(comparison, loaded.title))
    context.exit(0 if comparison.agree else DISAGREE)


def _again(context: click.Context, path: Path) -> bool:
    """Compute a record again, and say what differs; whether it is the same."""
    from tailrace.errors import TailraceError, printable
    from tailrace.records.again import differences
    from tailrace.records.envelope import signatures_of
    from tailrace.records.kinds import KINDS
    from tailrace.records.provenance import computing
    from tailrace.records.record import as_provenance
    from tailrace.records.seal import check_seal
    from tailrace.records.store import read_record
    from tailrace.report.again import scales, signature_line, verdict, where

    stored = read_record(path)
    source, kind = as_provenance(stored), KINDS[stored.attrs["kind"]]
    group = context.find_root().command
    assert isinstance(group, click.Group)
    command = group.get_command(context, kind.command)
    assert command is not None
    options = json.loads(source.options or "{}")
    unknown = {*options} - {one.name for one in command.params} | {*options} & OUTWARD
    if unknown or not source.options:
        found = ", ".join(sorted(map(ascii, unknown)))[:80] or "none, as of one saved in Python"
        raise TailraceError(
            f"{path}: expected options of `{kind.command}`, found {found}; compute it again with "
            "what made it"
        )
    click.echo(f"Seal {source.seal}: the record is as it was written.")
    for one in signatures_of(path):
        click.echo(printable(signature_line(one)))
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        out = folder / ("made" if kind.file else "made.h5")
        arguments = _laid_out(folder, source, options)
        context.meta[ALONE] = True
        with (
            contextlib.redirect_stdout(io.StringIO()),
            contextlib.redirect_stderr(io.StringIO()),
            contextlib.suppress(click.exceptions.Exit),
        ):
            context.invoke(command, out=out, **arguments)
        recomputed = out / kind.file
        whole = check_seal(recomputed) == source.seal  # circumstances and all
        apart = [] if whole else differences(stored, read_record(recomputed))
    alike = computing() == source.libraries
    same = all(one.rounding <= SAME for one in apart) and not (alike and apart)
    if apart:
        worst = sorted(apart, key=lambda one: -one.rounding)[:MOST_LISTED]
        click.echo(f"{where(worst).text()}\n{scales(worst)}")
    click.echo(verdict(apart, source, same))
    return same


def _laid_out(folder: Path, source: "Provenance", options: dict[str, Any]) -> dict[str, Any]:
    """Write what a record holds to a folder; the arguments of its command."""
    for file, content in source.files.items():
        target = folder / file
        if folder in target.resolve().parents:
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(content)
    given: dict[str, Any] = {
        name: tuple(one) if isinstance(one, list) else one for name, one in options.items()
    }
    if not source.scenario:  # the files are what was asked about
        blank = given.get("blank")
        held = tuple(folder / one for one in given.get("files", ()))
        return given | {"files": held, "blank": folder / blank if blank else None}
    # what has no title of its own is called after its file
    scenario = folder / f"{Path(source.title).name}.toml"
    try:
        scenario.write_bytes(source.scenario.encode())
    except (OSError, ValueError):  # a title that is no name of a file
        scenario = folder / "scenario.toml"
        scenario.write_bytes(source.scenario.encode())
    return given | {"scenario": scenario}
