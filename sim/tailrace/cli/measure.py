"""``tailrace measure``: read signals as data systems export them, and measure their peaks."""

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from tailrace.cli.measured import written
from tailrace.cli.studying import (
    json_option,
    make_folder,
    own_options,
    print_json,
    refuse_finished,
    replace_option,
    report_written,
    write_files,
)
from tailrace.errors import QuantityError
from tailrace.identity import own_version
from tailrace.records.provenance import Provenance

if TYPE_CHECKING:
    from tailrace.measurements.result import Measured


@click.command()
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--window", nargs=2, metavar="FROM TO", help='One peak, such as "2.0 min" "2.6 min".')
@click.option(
    "--baseline",
    type=click.Choice(["constant", "line", "smooth"]),
    default="line",
    show_default=True,
    help="From the blank stretches on both sides; smooth: one that bends slowly.",
)
@click.option("--blank", type=click.Path(path_type=Path), help="A blank run, taken off first.")
@click.option("--repeats", is_flag=True, help="The files are one measurement, made several times.")
@click.option("--time-unit", type=click.Choice(["ms", "s", "min", "h"]), help="Of the files.")
@click.option("--signal-unit", default="", metavar="TEXT", help="Of the files, such as mAU.")
@click.option("--time-column", metavar="NUMBER|HEADING")
@click.option("--signal-column", metavar="NUMBER|HEADING")
@click.option("--interval", metavar="TEXT", help='Of files of values alone, such as "0.2 s".')
@click.option("--start", metavar="TEXT", help="Time of the first of them.")
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Write record.h5, report.html and a picture of each file to this folder.",
)
@replace_option
@json_option
def measure(files: tuple[Path, ...], out: Path | None, as_json: bool, **asked: Any) -> None:
    """Measure every peak of FILES: text of any layout, or netCDF after ASTM E1947.

    Says how each file was read, its noise and its baseline, and of every peak all metrics with
    their standard uncertainty, and how far the moments hang on the window. Where a file holds an
    integration of its own, it stands beside.

    \b
    tailrace measure injection.csv
    tailrace measure run1.csv run2.csv run3.csv --repeats --window "2.0 min" "2.6 min"
    tailrace measure trace.cdf --baseline smooth --out measured
    """
    if out is not None:
        refuse_finished(out / "record.h5")
        make_folder(out)
    from tailrace.report.measured.files import TOLD

    study = _measured(files, asked)
    origin = Provenance(title=study.title, scenario_sha256="", scenario="", version=own_version())
    if as_json:
        print_json(TOLD.as_json(study, origin))
    else:
        click.echo(TOLD.text_of(study))
    if out is not None:
        origin = _origin(study, files, asked)
        report_written(write_files(out, written(out, TOLD, study, origin)))


def _measured(files: tuple[Path, ...], asked: dict[str, Any]) -> "Measured":
    import tailrace
    from tailrace.measurements.signal import Wanted

    wanted = Wanted(
        time_unit=asked["time_unit"] or "",
        signal_unit=asked["signal_unit"],
        time=asked["time_column"],
        signal=asked["signal_column"],
        interval=_seconds("--interval", asked["interval"]),
        start=_seconds("--start", asked["start"]) or 0.0,
    )
    window = None
    if asked["window"]:
        one, other = (_seconds("--window", text) for text in asked["window"])
        window = float(one or 0.0), float(other or 0.0)
    shared = {key: asked[key] for key in ("baseline", "blank", "repeats")}
    return tailrace.measure(*files, window=window, wanted=wanted, **shared)


def _seconds(option: str, text: str | None) -> float | None:
    from tailrace.quantities.parse import parse

    try:
        return None if text is None else parse(text, "programme time")
    except QuantityError as error:
        raise QuantityError(f"{option}: {error}") from None


def _origin(study: "Measured", files: tuple[Path, ...], asked: dict[str, Any]) -> Provenance:
    """With the files themselves, each by a name of its own."""
    held = {f"{number}/{one.name}": one for number, one in enumerate(files, 1)}
    blank = {f"blank/{one.name}": one for one in [asked["blank"]] if one}
    options = own_options() | {"files": list(held), "blank": next(iter(blank), None)}
    return Provenance(
        title=study.title,
        scenario_sha256="",
        scenario="",
        version=own_version(),
        options=json.dumps(options, sort_keys=True),
        files={name: one.read_bytes() for name, one in (held | blank).items()},
    )
