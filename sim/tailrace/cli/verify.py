"""``tailrace verify``: a scenario by two solvers, or a record computed again from itself."""

import contextlib
import io
import json
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

import click

from tailrace.cli.numerics import accuracy_option

if TYPE_CHECKING:
    from tailrace.records.provenance import Provenance

DISAGREE = 1
"""Exit code where the solvers differ by far more than the error estimates foresee, or a record does
not come out again."""
SAME = 1e-12
"""Relative difference of records computed on unlike processors or libraries, at most."""
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

    A RECORD of run, sweep, improve or tolerance is computed again from what it holds (scenario,
    data files, options), and every number of it is compared; signatures beside it are held against
    it, too.

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
    from tailrace.report.again import signature_line, verdict, where

    stored = read_record(path)
    source, kind = as_provenance(stored), KINDS[stored.attrs["kind"]]
    if not source.scenario:
        raise TailraceError(
            f"{path}: expected a record that holds its scenario, found one of `{kind.command}`; "
            "repeat that command with the raw files, whose SHA-256 the record names"
        )
    click.echo(f"Seal {check_seal(path)}: the record is as it was written.")
    for one in signatures_of(path):
        click.echo(printable(signature_line(one)))
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        out = folder / ("made" if kind.file else "made.h5")
        scenario = _laid_out(folder, source)
        group = context.find_root().command
        assert isinstance(group, click.Group)
        command = group.get_command(context, kind.command)
        assert command is not None
        options = json.loads(source.options)
        with (
            contextlib.redirect_stdout(io.StringIO()),
            contextlib.redirect_stderr(io.StringIO()),
            contextlib.suppress(click.exceptions.Exit),
        ):
            arguments = {name: tuple(one) if isinstance(one, list) else one
                         for name, one in options.items()}  # fmt: skip
            context.invoke(command, scenario=scenario, out=out, **arguments)
        found = differences(stored, read_record(out / kind.file if kind.file else out))
    here = computing() == source.libraries
    same = all(one.largest <= (0.0 if here else SAME) for one in found)
    if found:
        click.echo(where(found[:MOST_LISTED]).text())
    click.echo(verdict(found, source, same))
    return same


def _laid_out(folder: Path, source: "Provenance") -> Path:
    """The scenario of a record in a folder, with the files that it read; its path."""
    scenario = folder / f"{source.title if '/' not in source.title else 'scenario'}.toml"
    scenario.write_bytes(source.scenario.encode())
    for file, content in source.files.items():
        target = folder / file
        if folder in target.resolve().parents:
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(content)
    return scenario
