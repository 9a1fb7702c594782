"""``tailrace film``: the plume in a tube, or the whole way, as a GIF, an MP4 or a WebM."""

import shutil
from collections.abc import Iterable, Iterator
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING

import click

from tailrace.cli.studying import checked_file, progress_bar, report_written, write_files
from tailrace.errors import TailraceError
from tailrace.wording import LANGUAGES, speaking

if TYPE_CHECKING:
    from tailrace.figures.sizes import Size
    from tailrace.quantities.arrays import AnyArray
    from tailrace.scenario.scenario import Scenario
    from tailrace.studies.runner import Progress

FORMS = (".gif", ".mp4", ".webm")
DEFAULT_SECONDS = 8.0
FIRST_SHARE = 0.65
"""Of the film without its last, still second; the rest shows the recorded peak."""
PART_SECONDS = 2.0
"""Of each part, where the whole way is shown."""
STILL = 1.0
"""Seconds of the last picture."""
MOST_POINTS = 2_000_000_000
"""Picture elements in all frames; they are kept in memory for a GIF."""
SMALLEST_SIDE, LARGEST_SIDE = 300, 4000


@click.command()
@click.argument("scenario", type=click.Path(path_type=Path))
@click.option("--part", metavar="NAME", help="A tube; without it the first.")
@click.option("--whole", is_flag=True, help="The whole way: one band through all parts.")
@click.option("--solute", metavar="NAME", help="The solute; without it the first.")
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    default=Path("film.gif"),
    show_default=True,
    metavar="FILE",
    help="The film: a name that ends in .gif, or in .mp4 or .webm where ffmpeg is installed.",
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
@click.option("--language", type=click.Choice(LANGUAGES), default=LANGUAGES[0], show_default=True)
def film(
    scenario: Path,
    part: str | None,
    whole: bool,
    solute: str | None,
    out: Path,
    seconds: float | None,
    speed: float | None,
    rate: float,
    size: str,
    language: str,
) -> None:
    """Show what happens in a tube of SCENARIO: the plume, the signal at the outlet, the peak.

    The section of the tube is shaded by the concentration of the solute, while the signal of the
    stream that leaves is drawn below; where the path goes on, the peak recorded at its end
    follows. With --whole one part after the other is looked into, while what leaves each is drawn
    below, and at last the recorded peak over the textbook's Gaussian. The same input gives the same
    file.
    """
    from tailrace.scenario.scenario import Scenario

    chosen, program = _size(size), _program(out)
    if seconds is not None and speed is not None:
        raise TailraceError("expected --seconds or --speed, found both; leave one out")
    if whole and (part is not None or speed is not None):
        raise TailraceError(
            "expected --whole, or a tube with --part or --speed, found both; leave one out"
        )
    loaded = Scenario.load(scenario)
    with speaking(language):
        if whole:
            files = _write_way(out, program, loaded, solute, (seconds, rate), chosen)
        else:
            pace = seconds, speed, rate
            files = _write(out, program, loaded, (part, solute), pace, chosen)
    report_written(files)


def _size(text: str) -> "Size":
    from tailrace.figures.film import DOTS, film_size
    from tailrace.figures.sizes import SIZES

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
    """Where ffmpeg is, for a video; None for a GIF. Refuses before anything is computed."""
    ending = checked_file(out, *FORMS).suffix.lower()
    if ending == ".gif":
        return None
    program = shutil.which("ffmpeg") or _bundled()
    if program is None:
        raise TailraceError(
            f"--out {out}: expected the program ffmpeg for {ending}, found none installed; install "
            "it, or the Python package imageio-ffmpeg, or name a file that ends in .gif"
        )
    return program


def _bundled() -> str | None:
    """The ffmpeg of the package imageio-ffmpeg, where that is installed."""
    try:
        found: str = import_module("imageio_ffmpeg").get_ffmpeg_exe()
    except (ImportError, RuntimeError):
        return None
    return found


def _write_way(
    out: Path,
    program: str | None,
    scenario: "Scenario",
    solute: str | None,
    pace: tuple[float | None, float],
    size: "Size",
) -> list[Path]:
    from tailrace.figures.film import nearest_rate
    from tailrace.figures.way_film import way_frames, words_on
    from tailrace.studies.way import whole_way

    seconds, rate = pace
    rate = rate if program else nearest_rate(rate)
    parts = len(scenario.itinerary().passages)
    each = max(2, round(max(1.0, (seconds or PART_SECONDS * parts) - STILL) * rate / parts))
    hold = round(STILL * rate)
    total = each * parts + hold
    _afford(total, size)
    with progress_bar("parts") as progress:
        way = whole_way(scenario, solute, each, *_grid(size), progress=progress)
    pictures = way_frames(way, size, rate, hold)
    return _filmed(out, program, rate, pictures, total, words_on(way))


def _filmed(
    out: Path,
    program: str | None,
    rate: float,
    pictures: "Iterable[AnyArray]",
    total: int,
    words: str,
) -> list[Path]:
    """Write the frames into the file, by its ending, and into it in words what they show."""
    from tailrace.figures.film import palette, write_gif, write_video
    from tailrace.records.store import replacing

    def drawn(path: Path) -> None:
        with progress_bar("frames") as progress, replacing(path) as aside:
            counted = _counted(pictures, total, progress)
            if program:
                write_video(aside, counted, rate, program, path.suffix[1:].lower(), words)
            else:
                write_gif(aside, counted, rate, palette(), words)

    return write_files(out, {out: drawn})


def _write(
    out: Path,
    program: str | None,
    scenario: "Scenario",
    names: tuple[str | None, str | None],
    pace: tuple[float | None, float | None, float],
    size: "Size",
) -> list[Path]:
    from tailrace.figures.film import frames, nearest_rate, words_on
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

    pictures = frames(shown, size, rate, rest, hold)
    return _filmed(out, program, rate, pictures, total, words_on(shown))


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
