"""A tolerance study as one HTML page that an auditor can follow and sign."""

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from tailrace.figures.drift import draw_drift
from tailrace.figures.style import Picture
from tailrace.figures.tolerance import (
    draw_distributions,
    draw_importance,
    draw_regions,
    draw_widths,
)
from tailrace.records.record import as_beside, as_provenance, as_result
from tailrace.records.trade import as_recorded
from tailrace.report.paper import rendered
from tailrace.report.sentences import verdict
from tailrace.report.tables import check_tables
from tailrace.report.tolerance import drifting, readings, sentences, tables
from tailrace.studies.tolerance.result import Tolerance


@as_recorded
def page(record: Any, pictures: Mapping[str, Picture] | None = None) -> str:
    """The report of a study, from its record (xarray.DataTree) alone.

    The same record gives the same text on one machine. ``pictures``: of ``pictures_of``, where they
    are at hand.
    """
    study, check = as_result(record), as_beside(record, "cross_check")
    pictures = pictures or pictures_of(study)
    asked = {key: value for key, value in asdict(study.question).items() if "sha256" not in key}
    return rendered(
        "tolerance/audit.html.j2",
        pictures.values(),
        place={name: index for index, name in enumerate(pictures)},
        provenance=as_provenance(record),
        conclusion=sentences.conclusion(study),
        cautions=sentences.cautions(study),
        question=[(key, _answer(value)) for key, value in asked.items()],
        sampling=sentences.sampling(study),
        stop="" if study.stop is None else sentences.stopped(study.stop),
        inputs=tables.inputs_table(study),
        readings=readings.readings_table(study),
        spread=tables.spread_table(study),
        acceptance=tables.acceptance_table(study),
        intervals=tables.intervals_table(study),
        kinds=tables.kinds_table(study),
        limits=tables.tolerance_limits_table(study),
        wilks=sentences.no_limits(study),
        first_order=tables.first_order_table(study),
        series=readings.series(study),
        discrepancy=sentences.discrepancy(study),
        discrepancies=tables.discrepancy_table(study),
        population="" if study.population is None else sentences.population(study.population),
        remarks=[
            line for one in study.outcomes for line in dict.fromkeys(sentences.first_order(one))
        ],
        indices=tables.indices_tables(study),
        matters=sentences.what_matters(study),
        widening=tables.widening_table(study),
        widenings=[sentences.widening(study, one) for one in study.widenings],
        maps=[sentences.region(one) for one in study.maps],
        qualification=tables.qualification_table(study),
        drifts=drifting.both_tables(study),
        retest=drifting.retest(study),
        numerical=tables.numerical_table(study),
        check=None if check is None else (verdict(check), check_tables(check)),
    )


def pictures_of(study: Tolerance) -> dict[str, Picture]:
    """Every picture of what was asked for, by the name of its file."""
    pictures = {"distributions": draw_distributions(study)}
    if study.indices is not None:
        pictures["importance"] = draw_importance(study)
    if study.widenings:
        pictures["widths"] = draw_widths(study)
    if study.drifting is not None:
        pictures["drift"] = draw_drift(study.drifting)
    if study.maps:
        pictures["regions"] = draw_regions(study)
    return pictures


def _answer(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list | tuple):
        return ", ".join(map(_answer, value)) or "none"
    return "none" if value is None else str(value)
