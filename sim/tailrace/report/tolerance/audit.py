"""A tolerance study as one HTML page that an auditor can follow and sign."""

from tailrace.figures.tolerance.distributions import draw_distributions
from tailrace.figures.tolerance.importance import draw_importance
from tailrace.figures.tolerance.regions import draw_regions
from tailrace.figures.tolerance.widths import draw_widths
from tailrace.records.tolerance import as_study
from tailrace.report.paper import rendered
from tailrace.report.tolerance import tables, words
from tailrace.report.verification import check_tables, verdict

HASHES = ("scenario_sha256", "fingerprint")
"""Of the question; they are told where the study comes from."""


def page(record) -> str:
    """The report of a study, from its record alone.

    Parameters
    ----------
    record : xarray.DataTree
        Of ``tailrace.records.tolerance``.

    Returns
    -------
    str
        The same record gives the same text on one machine.
    """
    study = as_study(record)
    pictures = pictures_of(study)
    return rendered(
        "tolerance/audit.html.j2",
        pictures.values(),
        place={name: index for index, name in enumerate(pictures)},
        provenance=study.provenance,
        conclusion=words.conclusion(study),
        cautions=study.cautions,
        question=[
            (key, _said(value)) for key, value in study.question.items() if key not in HASHES
        ],
        drawing=words.drawing(study),
        stop="" if study.stop is None else words.sentence(study.stop.sentence),
        inputs=words.inputs_words(study),
        spread=tables.spread_table(study),
        judged=any(one.acceptance is not None for one in study.outcomes),
        acceptance=tables.acceptance_table(study),
        intervals=tables.intervals_table(study),
        kinds=tables.kinds_table(study),
        limits=tables.tolerance_limits_table(study),
        wilks=words.wilks_remarks(study),
        first_order=tables.first_order_table(study),
        remarks=[words.sentence(one.first_order.remark) for one in study.outcomes],
        indices=tables.indices_tables(study),
        matters=words.what_matters(study),
        widening=tables.widening_table(study),
        widenings=words.widening_words(study),
        maps=words.maps_words(study),
        qualification=words.qualification_words(study),
        numerical=tables.numerical_table(study),
        check=None if study.check is None else (verdict(study.check), check_tables(study.check)),
    )


def pictures_of(study) -> dict:
    """Every picture of a study.

    Parameters
    ----------
    study : tailrace.records.tolerance_study.Study

    Returns
    -------
    dict of str to Picture
        By the name of its file; only of what was asked for.
    """
    drawn = {"distributions": draw_distributions(study)}
    if study.indices is not None:
        drawn["importance"] = draw_importance(study)
    if study.widenings:
        drawn["widths"] = draw_widths(study)
    if study.maps:
        drawn["regions"] = draw_regions(study)
    return drawn


def _said(value):
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (list, tuple)):
        return ", ".join(_said(one) for one in value) or "none"
    return "none" if value is None else str(value)
