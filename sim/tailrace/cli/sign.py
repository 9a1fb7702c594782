"""``tailrace sign``: a name, a reason and a meaning beside a record."""

import datetime
from pathlib import Path

import click

from tailrace.cli.studying import report_written, write_files


@click.command()
@click.argument("record", type=click.Path(path_type=Path))
@click.option("--name", required=True, help="Who signs.")
@click.option("--reason", required=True, help="Why.")
@click.option("--meaning", required=True, help="As what: author, reviewer, approver.")
@click.option(
    "--key",
    type=click.Path(path_type=Path),
    metavar="KEY.pem",
    help="Ed25519 private key: then only its holder can have signed.",
)
@click.option(
    "--time",
    metavar="RFC3339",
    help="When; by default now, by the clock of this machine, in UTC.",
)
def sign(
    record: Path, name: str, reason: str, meaning: str, key: Path | None, time: str | None
) -> None:
    """Sign RECORD in a file beside it, RECORD.h5.signed.json; the record keeps its bytes.

    The file names the SHA-256 of the record, who signed, why, as what, when, and the signature
    before. `tailrace verify` holds it against the record, `tailrace report` shows it. Without a key
    it says who signed and proves nothing of it: rules for signatures and for keys are your own.

    \b
    tailrace sign study.h5 --name "A. Person" --reason "release of method 7" --meaning approver
    """
    from tailrace.records.envelope import EnvelopeError, envelope_of, signed
    from tailrace.records.store import read_record

    try:
        at = datetime.datetime.fromisoformat(time) if time else datetime.datetime.now(datetime.UTC)
        if at.tzinfo is None:
            raise ValueError
    except ValueError:
        raise EnvelopeError(
            f"--time: expected one such as 2026-05-04T09:30:00+00:00, found {time!r:.60}; give "
            "the zone too"
        ) from None
    read_record(record)
    file = envelope_of(record)
    moment = at.astimezone(datetime.UTC).isoformat(timespec="seconds")
    report_written(write_files(file, {file: signed(record, name, reason, meaning, moment, key)}))
