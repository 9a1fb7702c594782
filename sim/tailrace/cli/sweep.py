"""``tailrace sweep``: what becomes of the figures when fields of a scenario are varied."""

import json
from pathlib import Path

import click

from tailrace.cli.progress import progress_bar
from tailrace.cli.writing import no_file, resumable
from tailrace.errors import AccuracyError, TailraceError
from tailrace.records.provenance import own_version, provenance_of

MOST_ROWS = 40
"""So many rows are printed; of more, only the least and the greatest figures are told."""
COLUMNS = {
    "plates": "plates_half_height",
    "tailing": "tailing_5",
    "variance, s^2": "variance",
    "width, s": "width_half",
}


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
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object (SI), and no table.")
def sweep(scenario, vary, together, out, as_json):
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
    from tailrace.studies.sweeping import carried_out, planned

    plan = planned(Scenario.load(scenario), vary, together)
    kept = None if out is None else _kept(out, plan)
    with resumable(kept, no_file), progress_bar() as progress:
        made = carried_out(plan, kept, progress)
    written = [] if out is None else _write(out, made, kept)
    click.echo(_json(made) if as_json else "\n".join(_lines(made)))
    for path in written:
        click.echo(f"wrote {path}", err=True)
    _tell_failures(made)


def _kept(out, plan):
    from tailrace.records.blocks import KeptBlocks

    if out.suffix != ".h5":
        raise TailraceError(
            f"--out {out}: expected a file name that ends in .h5, found another; add .h5"
        )
    if out.is_dir():
        raise TailraceError(f"--out {out}: expected a file, found a folder; name a file in it")
    try:
        return KeptBlocks(out, plan, own_version())
    except OSError as problem:
        raise no_file(out, problem) from problem


def _write(out, made, kept):
    """Write the file, the maps, and only then let go of the blocks."""
    from tailrace.records.atomic import write_bytes
    from tailrace.records.sweep_record import as_dataset, write_sweep

    dataset = as_dataset(made, provenance_of(made.plan.scenario))
    written = [out]
    try:
        write_sweep(out, dataset)
        if len(made.shape) == 2 and min(made.shape) > 1 and all(one.unit for one in made.plan.axes):
            from tailrace.figures.maps import draw_maps

            picture = draw_maps(dataset)
            for ending, content in (("svg", picture.svg()), ("png", picture.png())):
                written.append(out.with_suffix(f".{ending}"))
                write_bytes(written[-1], content)
        kept.remove()
    except OSError as problem:
        raise no_file(out, problem) from problem
    return written


def _json(made):
    """One object: the axes, and for each case its values and what ``run --json`` says of it."""
    from tailrace.report.contract import as_contract
    from tailrace.studies.cases import choices

    plan, scenario = made.plan, made.plan.scenario
    cases = []
    for case, choice in enumerate(choices(plan.axes, plan.together)):
        at = {one.name: one.values[i].item() for one, i in zip(plan.axes, choice, strict=True)}
        said = as_contract(made.case(case), "", "", "")
        told = {key: said[key] for key in ("solutes", "pressure", "warnings")}
        cases.append({"at": at, "computed": bool(made.figures["computed"][case]), **told})
    answer = {
        "title": scenario.title,
        "scenario_sha256": scenario.sha256,
        "version": own_version(),
        "together": plan.together,
        "axes": [
            {"name": one.name, "unit": one.unit, "values": one.values.tolist()} for one in plan.axes
        ],
        "cases": cases,
    }
    return json.dumps(answer, indent=2, allow_nan=False)


def _lines(made):
    """Tables of all cases, or of their extremes where there are many."""
    yield made.plan.scenario.title
    count = len(made.plan.itineraries)
    sign = " = " if made.plan.together else " x "
    yield f"{count} cases: " + sign.join(f"{one.name} {len(one)}" for one in made.plan.axes)
    if count * len(made.solutes) <= MOST_ROWS:
        yield from _table(_case_rows(made))
    else:
        yield from _table(_extreme_rows(made))
    warned = [case for case in range(count) if made.figures["warnings"][case]]
    if warned:
        first = made.figures["warnings"][warned[0]].splitlines()[0]
        yield ""
        yield f"{len(warned)} of {count} cases carry warnings; the first:"
        yield f"at {made.plan.where(warned[0])}: {first}"


def _case_rows(made):
    from tailrace.report.numbers import significant
    from tailrace.studies.cases import choices, shown

    axes = made.plan.axes
    yield [*(one.name for one in axes), "solute", *COLUMNS]
    for case, choice in enumerate(choices(axes, made.plan.together)):
        for lane, solute in enumerate(made.solutes):
            figures = (made.figures[f"recorded/{name}"][case, lane] for name in COLUMNS.values())
            at = [shown(one, index) for one, index in zip(axes, choice, strict=True)]
            yield [*at, solute, *(significant(value, 4) for value in figures)]


def _extreme_rows(made):
    import numpy as np

    from tailrace.report.numbers import significant
    from tailrace.studies.cases import choices, shown

    axes = made.plan.axes
    cases = choices(axes, made.plan.together)
    yield ["solute", "figure", "", "value", *(f"at {one.name}" for one in axes)]
    for lane, solute in enumerate(made.solutes):
        for title, name in COLUMNS.items():
            values = made.figures[f"recorded/{name}"][:, lane]
            if np.isnan(values).all():
                continue
            for word, find in (("least", np.nanargmin), ("greatest", np.nanargmax)):
                case = int(find(values))
                at = (shown(one, index) for one, index in zip(axes, cases[case], strict=True))
                yield [solute, title, word, significant(values[case], 4), *at]


def _table(rows):
    rows = list(rows)
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    yield ""
    for row in rows:
        padded = (cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        yield "  ".join(padded).rstrip()


def _tell_failures(made):
    """Exit code 3 where a case is missing; the others have been printed and written."""
    failed = [case for case, done in enumerate(made.figures["computed"]) if not done]
    if failed:
        raise AccuracyError(
            f"{len(failed)} of {len(made.plan.itineraries)} cases could not be computed; the "
            f"first, at {made.plan.where(failed[0])}: {made.figures['warnings'][failed[0]]}"
        )
