"""``tailrace practice``: invented measurements of an instrument with a hidden fault."""

from pathlib import Path

import click

from tailrace.cli.studying import make_folder, report_written, write_files


@click.command()
@click.argument("scenario", type=click.Path(path_type=Path))
@click.option("--out", required=True, type=click.Path(path_type=Path), metavar="DIR")
@click.option("--seed", default=1, show_default=True, help="Another one is another exercise.")
def practice(scenario: Path, out: Path, seed: int) -> None:
    """Invent measurements of SCENARIO with one hidden fault, or none, to practise on.

    Writes to the folder DIR `practice.toml`, the instrument as its owner believes it to be, three
    signals at three flows with the columns taken out, and `answer.txt`: read it last. Find the
    fault with `compare` and `fit`. The signals are simulated, with delay, noise and drift from the
    seed: they are no measurements.
    """
    from tailrace.scenario.scenario import Scenario
    from tailrace.studies.measured.practising import practice as made

    make_folder(out)
    loaded = Scenario.load(scenario)
    found = made(loaded, seed)
    answer = (
        f"{found.field} is {found.factor:.3g} times as large as the scenario says."
        if found.field
        else "Nothing is wrong: the instrument is as the scenario says."
    )
    files: dict[Path, bytes] = {
        out / name: content
        for name, content in (loaded.files.contents() | found.files).items()
        if out.resolve() == (out / name).resolve().parent
    }
    files |= {
        out / "practice.toml": found.text.encode(),
        out / "answer.txt": f"{answer}\n".encode(),
    }
    report_written(write_files(out, dict(files)))
    click.echo(f"tailrace compare {out / 'practice.toml'}")
