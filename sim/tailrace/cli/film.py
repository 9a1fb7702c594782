"""``tailrace film``: the plume moving through a tube, as a GIF or an MP4."""

import shutil
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click

from tailrace.cli.studying import checked_file, progress_bar, report_written, write_files
from tailrace.errors import TailraceError

if TYPE_CHECKING:
    from tailrace.figures.style import Size
    from tailrace.quantities.arrays import AnyArray
    from tailrace.scenario.scenario import Scenario
    from tailrace.studies.runner import Progress

FORMS = (".gif", ".mp4")
DEFAULT_SECONDS = 8.0
FIRST_SHARE = 0.65
"""Of the film without its last, still second; the rest shows the recorded peak."""
STILL = 1.0
"""Seconds of the last picture."""
MOST_POINTS = 2_000_000_000
"""Picture elements in all frames; they are kept in memory for a GIF."""
SMALLEST_SIDE, LARGEST_SIDE = 300, 4000


@click.command()
@click.argument("scenario", type=click.Path(path_type=Path))
@click.option("--part", metavar="NAME", help="A tube; without it the first.")
@click.option("--solute", metavar="NAME", help="The solute; without it the first.")
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    default=Path("film.gif"),
    show_default=True,
    metavar="FILE",
    help="The film: a name that ends in .gif, or in .mp4 where ffmpeg is installed.",
)
@click.option(
    "--seconds",
    type=click.FloatRange(1, 120),
    help=f"Length of the film; {DEFAULT_SECONDS:g} without it.",
)
@click.option(
    "--speed",
    type=click.FloatRange(min=0, min_open=True),
    help="In place of a length: how many times faster than it happens the plume goes; 0.2 is "
    "five times slower.",
)
@click.option(
    "--rate", type=click.FloatRange(1, 50), default=20, show_default=True, help="Frames a second."
)
@click.option(
    "--size",
    default="page",
    show_default=True,
    metavar="slide|column|page|WxH",
    help="A named size, or width x height in picture elements, such as 1280x720.",
)
def film(
    scenario: Path,
    part: str | None,
    solute: str | None,
    out: Path,
    seconds: float | None,
    speed: float | None,
    rate: float,
    size: str,
) -> None:
    """Show what happens in a tube of SCENARIO: the plume, the signal at the outlet, the peak.

    The section of the tube is shaded by the concentration of the solute, while the signal of the
    stream that leaves is drawn below; where the path goes on, the peak recorded at its end
    follows. The same input gives the same file.
    """
    from tailrace.scenario.scenario import Scenario

    chosen, program = _size(size), _program(out)
    if seconds is not None and speed is not None:
        raise TailraceError("expected --seconds or --speed, found both; leave one out")
    loaded = Scenario.load(scenario)
    report_written(_write(out, program, loaded, (part, solute), (seconds, speed, rate), chosen))


def _size(text: str) -> "Size":
    from tailrace.figures.film import DOTS, film_size
    from tailrace.figures.style import SIZES

    try:
        size = film_size(text)
    except ValueError:
        size = None
    sides = (0.0,) if size is None else (DOTS * size.width, DOTS * size.height)
    if size is None or min(sides) < SMALLEST_SIDE or max(sides) > LARGEST_SIDE:
        raise TailraceError(
            f"--size {text[:40]}: expected {', '.join(SIZES)} or width x height in picture "
            f"elements, {SMALLEST_SIDE} to {LARGEST_SIDE} each, found something else; write such "
            "as 1280x720"
        )
    return size


def _program(out: Path) -> str | None:
    """Where ffmpeg is, for an MP4; None for a GIF. Refuses before anything is computed."""
    ending = checked_file(out, *FORMS).suffix.lower()
    program = shutil.which("ffmpeg") if ending == ".mp4" else None
    if ending == ".mp4" and program is None:
        raise TailraceError(
            f"--out {out}: expected the program ffmpeg for an MP4, found none installed; install "
            "it, or name a file that ends in .gif"
        )
    return program


def _write(
    out: Path,
    program: str | None,
    scenario: "Scenario",
    names: tuple[str | None, str | None],
    pace: tuple[float | None, float | None, float],
    size: "Size",
) -> list[Path]:
    from tailrace.figures.film import frames, nearest_rate, palette, write_gif, write_mp4
    from tailrace.records.store import replacing
    from tailrace.studies.plume import goes_on, passage, plume

    seconds, speed, rate = pace
    rate = rate if program else nearest_rate(rate)
    share = FIRST_SHARE if goes_on(scenario, names[0]) else 1.0
    if speed is not None:
        seconds = passage(scenario, *names) / speed / share + STILL
    moving = max(1.0, (seconds or DEFAULT_SECONDS) - STILL)
    first = max(2, round(moving * share * rate))
    rest, hold = round(moving * (1 - share) * rate), round(STILL * rate)
    total = first + rest + hold
    _afford(total, size)
    with progress_bar("moments") as progress:
        shown = plume(scenario, *names, first, *_grid(size), recorded=True, progress=progress)

    def drawn(path: Path) -> None:
        with progress_bar("frames") as progress, replacing(path) as aside:
            pictures = _counted(frames(shown, size, rate, rest, hold), total, progress)
            if program:
                write_mp4(aside, pictures, rate, program)
            else:
                write_gif(aside, pictures, rate, palette())

    return write_files(out, {out: drawn})


def _afford(count: int, size: "Size") -> None:
    from tailrace.figures.film import DOTS

    points = count * size.width * size.height * DOTS**2
    if points > MOST_POINTS:
        raise TailraceError(
            f"expected a film of at most {MOST_POINTS:.0e} picture elements in all, found {count} "
            f"frames with {points:.1e}; make it shorter, smaller, or lower its --rate"
        )


def _grid(size: "Size") -> tuple[int, int]:
    """Rings and sections that the picture can show."""
    return (32, 160) if size.narrow else (40, 200)


def _counted(
    pictures: Iterable["AnyArray"], total: int, progress: "Progress | None"
) -> Iterator["AnyArray"]:
    for done, picture in enumerate(pictures, 1):
        yield picture
        if progress is not None:
            progress(done, total)
