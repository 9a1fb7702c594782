"""``tailrace practice``: invented measurements of an instrument with a hidden fault."""

from pathlib import Path

import click

from tailrace.cli.studying import engine_option, make_folder, report_written, write_files
from tailrace.errors import TailraceError


@click.command()
@click.argument("scenario", type=click.Path(path_type=Path))
@click.option("--out", required=True, type=click.Path(path_type=Path), metavar="DIR")
@click.option("--seed", default=1, show_default=True, help="Another one is another exercise.")
@engine_option
@click.option("--name", default="", metavar="NAME", help="Before the names of all files.")
def practice(scenario: Path, out: Path, seed: int, engine: str, name: str) -> None:
    """Invent measurements of SCENARIO with one hidden fault, or none, to practise on.

    Writes to the folder DIR `practice.toml` (with --name NAME.toml), the instrument as its owner
    believes it to be, three signals at three flows with the columns taken out, and `answer.txt`:
    read it last. Find the fault with `compare`, `diagnose` and `fit`. The signals are simulated,
    with delay, noise and drift from the seed: they are no measurements.
    """
    from tailrace.scenario.scenario import Scenario
    from tailrace.studies.measured.practising import practice as made

    loaded = Scenario.load(scenario)
    if name != Path(name).name:
        raise TailraceError(
            f"--name: expected a name for files, found {name[:60]!r}; leave out folders"
        )
    found = made(loaded, seed, name, engine)
    make_folder(out)
    answer = (
        f"{found.field} is {found.factor:.3g} times as large as the scenario says."
        if found.field
        else "Nothing is wrong: the instrument is as the scenario says."
    )
    scenario_file = out / f"{name or 'practice'}.toml"
    files: dict[Path, bytes] = {
        out / name: content
        for name, content in (loaded.files.contents() | found.files).items()
        if out.resolve() == (out / name).resolve().parent
    }
    files |= {
        scenario_file: found.text.encode(),
        out / f"{name}-answer.txt".removeprefix("-"): f"{answer}\n".encode(),
    }
    report_written(write_files(out, dict(files)))
    click.echo(f"Begin with: tailrace compare {scenario_file}")
