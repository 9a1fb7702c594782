"""``tailrace sweep``: what becomes of the metrics when fields of a scenario are varied."""

from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from tailrace.cli.studying import cluster_option, json_option, print_json, studying
from tailrace.cli.writing import Content, checked_file, report_written
from tailrace.errors import AccuracyError
from tailrace.records.provenance import own_version, provenance_of

if TYPE_CHECKING:
    from tailrace.studies.sweeping import Sweep

MOST_ROWS = 40
"""So many rows are printed; of more, only the least and the greatest metrics."""


@click.command()
@click.argument("scenario", type=click.Path(path_type=Path))
@click.option(
    "--vary",
    multiple=True,
    required=True,
    metavar="'FIELD = VALUES'",
    help="A field and the values that it takes; can be given several times.",
)
@click.option("--together", is_flag=True, help="Vary the fields in step, not each with each.")
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    metavar="FILE.h5",
    help="Write the result to this file, and maps of it beside it where two numbers are varied.",
)
@cluster_option
@json_option
def sweep(
    scenario: Path,
    vary: Sequence[str],
    together: bool,
    out: Path | None,
    cluster: str | None,
    as_json: bool,
) -> None:
    """Travel SCENARIO once for every choice of values, and print what becomes of the peaks.

    \b
    FIELD   method.flow          method.eluent.water     injection.volume
            tube.length          "inlet tube".length     detector.time_constant
            cohumulone.retention_factor
            (a part or a solute by its name, in quotes where it has a point in it;
            path.NAME or solutes.NAME where the name is that of a table)
    VALUES  0.1, 0.3, 1 mL/min           a list; the last unit holds for bare numbers
            50 mm .. 1 m, 40 points      a range in equal steps
            0.1 .. 10 mL/min, 21 points, log      in equal ratios
            core-shell, fully porous     words, where the field takes words

    With --out a sweep that was stopped goes on where it was: what is done is kept in the folder
    FILE.h5.parts until the file is written.

    \b
    tailrace sweep tube.toml --vary "tube.length = 50 mm .. 1 m, 40 points" \\
        --vary "method.flow = 0.1, 0.3, 1 mL/min" --out tube.h5
    """
    from tailrace.scenario.scenario import Scenario
    from tailrace.studies.sweeping import answer, plan

    planned = plan(Scenario.load(scenario), vary, together)
    file = None if out is None else checked_file(out, ".h5")
    with studying(planned, file, cluster) as study:
        made = answer(planned, study.runner)
    written = [] if file is None else study.write(file, _files(file, made))
    if as_json:
        print_json(_as_json(made))
    else:
        click.echo("\n".join(_lines(made)))
    report_written(written)
    _report_failures(made)


def _files(out: Path, made: "Sweep") -> dict[Path, Content]:
    """The record, and maps of it where two numbers are varied."""
    from tailrace.records.sweep_record import as_dataset, write_sweep

    dataset = as_dataset(made, provenance_of(made.plan.scenario))
    files: dict[Path, Content] = {out: lambda path: write_sweep(path, dataset)}
    if len(made.shape) == 2 and min(made.shape) > 1 and all(one.unit for one in made.plan.axes):
        from tailrace.figures.maps import draw_maps

        picture = draw_maps(dataset)
        files |= {out.with_suffix(".svg"): picture.svg(), out.with_suffix(".png"): picture.png()}
    return files


def _columns() -> dict[str, str]:
    """The metrics that are printed, by the heads of their columns."""
    from tailrace.measures.registry import METRICS, PLATES, TAILING, VARIANCE, WIDTH

    rows = (METRICS[name] for name in (PLATES, TAILING, VARIANCE, WIDTH))
    return {row.label if row.unit == "1" else f"{row.label}, {row.unit}": row.name for row in rows}


def _as_json(made: "Sweep") -> dict[str, Any]:
    """One object: the axes, and for each case its values and what ``run --json`` says of it."""
    from tailrace.report.contract import as_contract
    from tailrace.studies.axes import choices

    plan, scenario = made.plan, made.plan.scenario
    cases = []
    for case, choice in enumerate(choices(plan.axes, plan.together)):
        at = {one.name: one.values[i].item() for one, i in zip(plan.axes, choice, strict=True)}
        said = as_contract(made.case(case), "", "", "")
        told = {key: said[key] for key in ("solutes", "pressure", "warnings")}
        cases.append({"at": at, "computed": bool(made.metrics["computed"][case]), **told})
    return {
        "contract": 2,
        "title": scenario.title,
        "scenario_sha256": scenario.sha256,
        "version": own_version(),
        "together": plan.together,
        "axes": [
            {"name": one.name, "unit": one.unit, "values": one.values.tolist()} for one in plan.axes
        ],
        "cases": cases,
    }


def _lines(made: "Sweep") -> Iterator[str]:
    """Tables of all cases, or of their extremes where there are many."""
    yield made.plan.scenario.title
    count = len(made.plan.itineraries)
    sign = " = " if made.plan.together else " x "
    yield f"{count} cases: " + sign.join(f"{one.name} {len(one)}" for one in made.plan.axes)
    if count * len(made.solutes) <= MOST_ROWS:
        yield from _table(_case_rows(made))
    else:
        yield from _table(_extreme_rows(made))
    warned = [case for case in range(count) if made.metrics["warnings"][case]]
    if warned:
        first = made.metrics["warnings"][warned[0]].splitlines()[0]
        yield ""
        yield f"{len(warned)} of {count} cases carry warnings; the first:"
        yield f"at {made.plan.where(warned[0])}: {first}"


def _case_rows(made: "Sweep") -> Iterator[list[str]]:
    from tailrace.report.numbers import significant
    from tailrace.studies.axes import choices, shown

    axes, columns = made.plan.axes, _columns()
    yield [*(one.name for one in axes), "solute", *columns]
    for case, choice in enumerate(choices(axes, made.plan.together)):
        for lane, solute in enumerate(made.solutes):
            metrics = (made.metrics[f"recorded/{name}"][case, lane] for name in columns.values())
            at = [shown(one, index) for one, index in zip(axes, choice, strict=True)]
            yield [*at, solute, *(significant(value, 4) for value in metrics)]


def _extreme_rows(made: "Sweep") -> Iterator[list[str]]:
    import numpy as np

    from tailrace.report.numbers import significant
    from tailrace.studies.axes import choices, shown

    axes, columns = made.plan.axes, _columns()
    cases = choices(axes, made.plan.together)
    yield ["solute", "metric", "", "value", *(f"at {one.name}" for one in axes)]
    for lane, solute in enumerate(made.solutes):
        for title, name in columns.items():
            values = made.metrics[f"recorded/{name}"][:, lane]
            if np.isnan(values).all():
                continue
            for word, find in (("least", np.nanargmin), ("greatest", np.nanargmax)):
                case = int(find(values))
                at = (shown(one, index) for one, index in zip(axes, cases[case], strict=True))
                yield [solute, title, word, significant(values[case], 4), *at]


def _table(rows: Iterable[list[str]]) -> Iterator[str]:
    rows = list(rows)
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    yield ""
    for row in rows:
        padded = (cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        yield "  ".join(padded).rstrip()


def _report_failures(made: "Sweep") -> None:
    """Exit code 3 where a case is missing; the others have been printed and written."""
    failed = [case for case, done in enumerate(made.metrics["computed"]) if not done]
    if failed:
        raise AccuracyError(
            f"{len(failed)} of {len(made.plan.itineraries)} cases could not be computed; the "
            f"first, at {made.plan.where(failed[0])}: {made.metrics['warnings'][failed[0]]}"
        )
