"""``tailrace bench``: the whole instrument on one page, for a browser."""

import re
from pathlib import Path

import click

from tailrace.cli.studying import checked_file, write_files


@click.command()
@click.argument("scenario", type=click.Path(path_type=Path), required=False)
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    metavar="FILE.html",
    default=Path("bench.html"),
    show_default=True,
    help="Write the page to this file.",
)
def bench(scenario: Path | None, out: Path) -> None:
    """Write a page on which an instrument is built, changed and computed, without a program.

    One HTML file that opens from disk, needs no network, and shows what every change does to the
    chromatogram while it is typed. SCENARIO is open in it, or an invented instrument; the page
    opens and saves scenario files as all commands read them.

    \b
    tailrace bench scenarios/inherited-core-shell.toml --out bench.html
    """
    from tailrace.cli.starting import QUESTIONS, scenario_text
    from tailrace.scenario.scenario import Scenario
    from tailrace.web.bench_page import bench_page

    out = checked_file(out, ".html", ".htm")
    if scenario is None:
        name = "instrument.toml"
        text = scenario_text({key: row[2] for key, row in QUESTIONS.items()}, Path(name))
        # an instrument and nothing else: who begins with it set no limit, and asked for no change
        text = re.sub(r"\n\[limits\].*", "", re.sub(r"tanks +=.*\n", "", text), flags=re.DOTALL)
    else:
        text, name = Scenario.load(scenario).text, scenario.name
    content = bench_page(text, name).encode()
    write_files(out, {out: content})
    click.echo(f"wrote {out}: {len(content) / 1e6:.2f} MB; open it in a browser")
