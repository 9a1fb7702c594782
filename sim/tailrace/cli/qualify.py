"""``tailrace qualify``: is this installation sound, and how well is the model known?"""

import json
import time
from pathlib import Path

import click

NOT_QUALIFIED = 1
"""Exit code where a file was altered or a known answer is not met."""


@click.command()
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    metavar="FILE.html",
    help="Write a page to sign: answers, validation, intended use, limits.",
)
@click.option("--because", default="", metavar="TEXT", help="Why, written on the page.")
@click.option("--json", "json_output", is_flag=True, help="Print one JSON object.")
@click.pass_context
def qualify(context: click.Context, out: Path | None, because: str, json_output: bool) -> None:
    """Check this installation against known answers; compare the model with measured values.

    Files are compared with what was installed, some forty answers with closed forms and published
    tables, in well under a minute and a half. Beside them stands what the model makes of measured
    and published values, with bias and spread. Exit code 1 where a file was altered or an answer
    is not met.
    """
    from tailrace.cli.studying import checked_file, show, write_files
    from tailrace.report.qualification import as_json, blocks, page
    from tailrace.scenario.examples import document
    from tailrace.studies.qualifying import installed, known, validation
    from tailrace.studies.qualifying.result import Qualified

    if out is not None:
        checked_file(out, ".html")
    begin, processor = time.perf_counter(), time.process_time()
    how, files, altered = installed.altered()
    answers, compared = tuple(known.answers()), validation.compared()
    found = Qualified(
        files=files,
        altered=altered,
        installation=how,
        known=answers,
        compared=compared,
        seconds=time.perf_counter() - begin,
        processor_seconds=time.process_time() - processor,
    )
    if json_output:
        click.echo(json.dumps(as_json(found), indent=1))
    else:
        show(blocks(found))
    if out is not None:
        text = page(found, because, *map(document, ("evidence.md", "limits.md", "CHANGELOG.md")))
        for path in write_files(out, {out: text.encode()}):
            click.echo(f"wrote {path}", err=True)
    context.exit(0 if found.satisfied else NOT_QUALIFIED)
