"""``tailrace check``: is a scenario right, and what does it rest on?"""

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

import click

from tailrace.cli.studying import begun

if TYPE_CHECKING:
    from tailrace.quantities.arrays import Number
    from tailrace.scenario.scenario import Scenario


@click.command()
@click.argument("scenario", type=click.Path())
def check(scenario: str) -> None:
    """Check SCENARIO without running it: its path, and every default and estimate it rests on."""
    import numpy as np

    from tailrace.journey.foretelling import march_seconds
    from tailrace.journey.propagation import spread
    from tailrace.report.sentences import assumption_line
    from tailrace.scenario.changed import on_columns
    from tailrace.scenario.doubts import assumptions_of
    from tailrace.scenario.unusual import unusual

    loaded = begun(scenario)
    solutes = loaded.document.solutes
    count = f"{len(solutes)} solute{'s' if len(solutes) > 1 else ''}"
    click.echo(f'OK: {loaded.path}: "{loaded.title}", {count}')
    click.echo("\nPath")
    for row in _columns(_path_rows(loaded)):
        click.echo(f"  {row}")
    click.echo(f"\n{_pressure(loaded)}")
    for name, one in on_columns(loaded).items():
        click.echo(f"With {name}: {_pressure(one)}")
    itinerary = loaded.itinerary()
    bent = [part.name for part, _ in itinerary.passages if part.nearly_as_fine]
    if bent:
        seconds = march_seconds(spread(itinerary), itinerary.resolution)
        takes = f"a run takes about {seconds:.2g} s of one processor"
        click.echo(f"\nTime\n  {', '.join(bent)}: bent; {takes}")
    doubtful = assumptions_of(loaded)
    if doubtful:
        click.echo("\nWhat matters most")
    lanes = [one.name for one in solutes]
    for doubt in doubtful:
        lane = int(np.argmax(doubt.high / doubt.low))
        click.echo(f"  {assumption_line(doubt, lanes, lane)}")
    click.echo("\nAssumptions, those first on which most depends")
    for line in loaded.assumptions():
        click.echo(f"  {line}")
    rare = unusual(loaded)
    if rare:
        click.echo("\nUnusual")
    for line in rare:
        click.echo(f"  {line}")


def _pressure(loaded: "Scenario") -> str:
    """The pressure, and every warning of a run that needs no journey; as ``run`` has them."""

    from tailrace.journey.hydraulics import limited, pressure
    from tailrace.journey.propagation import spread
    from tailrace.journey.validity import foreseen
    from tailrace.report.sentences import pressure_line

    itinerary = loaded.itinerary()
    passages = spread(itinerary)
    found = limited(pressure(passages), itinerary.pressure_limit)
    lines = [f"Warning: {line}" for line in foreseen(passages, itinerary, found)]
    gradient = loaded.document.gradient is not None
    return "\n".join([pressure_line(found, [part for part, _ in passages], gradient), *lines])


def _path_rows(loaded: "Scenario") -> list[tuple[str, ...]]:
    """Return the header and one row of texts for each part of the path."""
    import numpy as np

    from tailrace.quantities.kinds import show

    rows: list[tuple[str, ...]] = [("name", "part", "volume", "residence")]
    names = {one.name for one in loaded.document.path}
    for part, stream in loaded.itinerary().passages:
        if part.name in names:
            rows.append(
                (
                    part.name,
                    part.kind,
                    show(np.max(part.volume), "volume", 3),
                    _span(part.residence(stream), show),
                )
            )
    return rows


def _span(times: "Number", show: Callable[..., str]) -> str:
    """Return one time, or the least and the greatest where solutes differ."""
    import numpy as np

    least, greatest = show(np.min(times), "duration", 3), show(np.max(times), "duration", 3)
    return least if least == greatest else f"{least} to {greatest}"


def _columns(rows: list[tuple[str, ...]]) -> Iterator[str]:
    """Pad the texts of every column to one width."""
    widths = [max(len(cell) for cell in column) for column in zip(*rows, strict=True)]
    for row in rows:
        cells = (cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        yield "  ".join(cells).rstrip()
