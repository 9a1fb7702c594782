"""What ``fit`` says, in words, tables, JSON and as a page; and the scenario that it writes."""

from functools import partial
from typing import Any

import numpy as np

from tailrace.quantities.arrays import FloatArray
from tailrace.records.layout import as_json as plain
from tailrace.records.trade import Trade, in_words, trade
from tailrace.report.measured.section import CLOCK, CLOSE_BENDS, Section, Telling, bent
from tailrace.report.numbers import by_powers, significant
from tailrace.report.table import Table, tabulated, words
from tailrace.studies.measured.result import Fitted, Parameter

METHOD = (
    "Least squares over the whole curves of all signals together, window and blank stretches, over "
    "the noise as measured; of noise whose neighbours hang together, what is new at each point "
    "counts. Of every signal the delay is fitted, too, and the area and the baseline are taken "
    "where they fit best: none of these is in a scenario.",
    "What [[uncertain]] says of a free field is a further observation of it. Other [[uncertain]] "
    "fields that matter are carried: fitted as well, held by what is known of them.",
    "Standard uncertainties are from the covariance, with the scatter of the residuals and of the "
    "blank stretches together. The 95 % interval is that of the covariance where the sum of "
    "squares rises at its ends as foreseen, within 10 %; else its ends are looked for (profile "
    "likelihood), and the standard uncertainty is half of it over 1.96. Two fields of one kind "
    "that may exchange their values get an interval that holds both.",
    "Where residuals are larger than the noise, or hang together, by more than chance (three "
    "standard deviations), the model is at fault: uncertainties are then widened by both, and the "
    "values may be wrong by more than they say.",
)
TITLE = "Fitted to measured signals"


def _unit(one: Parameter) -> Trade:
    return trade(one.kind, one.unit)


def _value(one: Parameter) -> str:
    unit = _unit(one)
    return by_powers(unit.of(one.value), unit.span(one.standard_uncertainty))


def parameters_table(study: Fitted) -> Table:
    """Every fitted field."""

    def number(read: Any, digits: int = 4) -> Any:
        return lambda one: significant(_unit(one).of(read(one)), digits)

    def known(one: Parameter) -> str:
        return "-" if np.isnan(one.prior) else significant(_unit(one).span(one.prior), 2)

    columns = [
        words("field", lambda one: in_words(one.field) + ("" if one.asked else " (carried)")),
        words("unit", lambda one: _unit(one).unit or "1"),
        words("scenario", number(lambda one: one.start)),
        words("known", known, "± u"),
        words("fitted", _value, "± u"),
        words("95 % interval", number(lambda one: one.low), "from"),
        words("", number(lambda one: one.high), "to"),
        words("looked for", lambda one: "yes" if one.profiled else "no"),
    ]
    return tabulated("Fields (u: standard uncertainty)", columns, study.parameters)


def correlation_table(study: Fitted) -> Table | None:
    """Correlations of the fitted values; None of a single one."""
    names = [in_words(one.field) for one in study.parameters]
    if len(names) < 2:
        return None
    columns = [
        words("field", lambda k: f"{k + 1}: {names[k]}"),
        *(
            words(f"{at + 1}", partial(_two_places, row))
            for at, row in enumerate(study.correlation)
        ),
    ]
    return tabulated("Correlation of the fitted values", columns, range(len(names)))


def _two_places(row: FloatArray, at: int) -> str:
    return f"{row[at]:.2f}"


def cautions(study: Fitted) -> list[str]:
    """What to be careful about."""
    lines = []
    if study.at_fault:
        lines.append(
            f"the residuals are {significant(study.residual_over_noise, 2)} times the noise, and "
            f"neighbours are correlated by {study.autocorrelation:.2f}: the model is at fault. "
            "Free what differs, or look for a part that is not in the scenario"
        )
    for group in study.indistinguishable:
        names = " and ".join(map(in_words, group))
        same = len({one.rpartition(".")[2] for one in group}) == 1
        order = " (in which order parts stand leaves next to no trace on a union)" if same else ""
        lines.append(
            f"{names} cannot be told apart by these signals: only what they do together is "
            f"known{order}. Measure with one of the parts taken out or changed, or say in "
            "[[uncertain]] what is known of one"
        )
    fields = [one.field for one in study.free]
    if "method.flow" in fields and any(one.endswith(".diffusivity") for one in fields):
        lines.append(CLOCK)
    if bent(fields):
        lines.append(CLOSE_BENDS)
    for one in study.free:
        if not one.told_by_data:
            lines.append(f"{in_words(one.field)}: the signals say no more than was known before")
        if one.cut:
            lines.append(
                f"{in_words(one.field)}: the {one.cut} end of its interval is the last value that "
                "was looked at, and the signals do not exclude what lies beyond"
            )
    return lines


def reported(study: Fitted) -> list[str]:
    """How well it fits, and what was matched beside."""
    lines = [
        f"Residuals are {significant(study.residual_over_noise, 3)} times the noise; neighbours "
        f"are correlated by {study.autocorrelation:.2f}."
    ]
    for name, one in study.measured.items():
        unit = f"{one.signal_unit} s".strip()
        lines.append(
            f"{name} ({one.file}): delayed by {significant(one.delay, 4)} s, area "
            f"{significant(one.area, 4)} {unit}, residuals "
            f"{significant(one.residual_over_noise, 2)} times the noise."
        )
    return lines


def conclusion(study: Fitted) -> str:
    """The values in one sentence."""
    found = [
        f"{in_words(one.field)} {_value(one)} {_unit(one).unit}".rstrip() for one in study.free
    ]
    end = "; but the model is at fault, see the cautions" if study.at_fault else ""
    for group in study.indistinguishable:
        end += f"; {' and '.join(map(in_words, group))} only together, not each by itself"
    return f"Fitted to {len(study.measured)} signals: {', '.join(found)}{end}."


def sections(study: Fitted) -> list[Section]:
    """Fields, then signals."""
    tables = [parameters_table(study), correlation_table(study)]
    overlays = range(len(study.measured))
    return [
        Section(title="Fields", tables=[one for one in tables if one is not None]),
        Section(title="Signals", lines=reported(study), pictures=list(overlays)),
    ]


def numbers(study: Fitted) -> dict[str, Any]:
    """What is in the JSON object; SI."""
    return {
        "parameters": [_parameter(one) for one in study.free],
        "carried": [_parameter(one) for one in study.parameters if not one.asked],
        "correlation": plain(study.correlation[: len(study.free), : len(study.free)]),
        "indistinguishable": plain(study.indistinguishable),
        "residual_over_noise": plain(study.residual_over_noise),
        "autocorrelation": plain(study.autocorrelation),
        "model_at_fault": study.at_fault,
        "measured": [
            {
                key: plain(getattr(one, key))
                for key in ("name", "file", "sha256", "delay", "area", "residual_over_noise")
            }
            for one in study.measured.values()
        ],
    }


def _parameter(one: Parameter) -> dict[str, Any]:
    return {
        "field": one.field,
        "unit": one.unit,
        "start": plain(one.start),
        "value": plain(one.value),
        "standard_uncertainty": plain(one.standard_uncertainty),
        "interval": [plain(one.low), plain(one.high)],
        "profiled": one.profiled,
        "cut": one.cut,
        "prior_uncertainty": plain(one.prior),
        "told_by_data": one.told_by_data,
    }


TOLD = Telling(
    title=TITLE,
    method=METHOD,
    conclusion=conclusion,
    sections=sections,
    numbers=numbers,
    cautions=cautions,
)
