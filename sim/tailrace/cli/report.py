"""``tailrace report``: a record as one HTML page that stands alone."""

from pathlib import Path

import click

from tailrace.cli.writing import not_writable


@click.command()
@click.argument("record", type=click.Path(path_type=Path))
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    metavar="FILE.html",
    help="Write the page to this file; without it beside the record, under the record's name.",
)
def report(record: Path, out: Path | None) -> None:
    """Make the report of RECORD, a file of `run`, `improve`, `tolerance` or `measure` with --out.

    One HTML file: question, inputs, method, results with their uncertainty, figures, numerical
    evidence, versions, hashes, cautions, and room for signatures. It holds no script and fetches
    nothing, and can be printed. Nothing is computed again.
    """
    from tailrace.records.store import write_bytes
    from tailrace.report.page import page_of

    page = page_of(record)
    out = record.with_suffix(".html") if out is None else out
    try:
        write_bytes(out, page.encode())
    except OSError as problem:
        raise not_writable(out, problem) from problem
    click.echo(f"wrote {out}", err=True)
