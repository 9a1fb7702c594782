"""What ``compare`` says, in words, tables, JSON and as a page."""

import math
from typing import Any

from tailrace.measurements.result import metric_description
from tailrace.measures.registry import TAILING, WIDTH
from tailrace.records.layout import as_json as plain
from tailrace.records.trade import Trade, in_words, people
from tailrace.report.measured.section import Section, Telling
from tailrace.report.numbers import significant, with_error
from tailrace.report.table import Table, tabulated, words
from tailrace.studies.measured.result import (
    AGREES,
    DIFFERS,
    MATCHED,
    SATISFACTORY,
    UNSATISFACTORY,
    Compared,
    Comparison,
)

CLOSE_TO_NOISE = 1.2
METHOD = (
    "The simulated signal is read at the points of the file, gets noise as measured (deviation and "
    "correlation of neighbours), and the same baseline, smoothing and window; 200 times. Means of "
    "the metrics stand for the prediction, their scatter for the uncertainty from noise.",
    "Delay and area of the simulated signal are those that bring it nearest to the measured one "
    "(least squares over the window): when the injector started and how the detector responds is "
    "not in a scenario. So retention time, mean time and area are not judged.",
    "Uncertainty of the prediction: each input of [[uncertain]] a standard deviation up and down, "
    "matched anew (first order, JCGM 100:2008, with their correlations), and the discretisation "
    "error, once, as half the width of an even distribution (over the root of 3). What repeats "
    "(same_as) scatter beyond noise is added to that of the measurement.",
    "Zeta score: difference over its standard uncertainty (ISO 13528; from memory). Up to "
    f"{SATISFACTORY:g} they agree, above {UNSATISFACTORY:g} they differ; between it cannot be "
    "said, nor where the uncertainty is a quarter of the value or more, nor (no zeta) where noise "
    "does not scatter a metric normally. E_n is half of zeta, both uncertainties being expanded "
    "by 2.",
    "Of the metrics of a signal that agrees about one in 400 is expected above "
    f"{UNSATISFACTORY:g} by chance.",
)
TITLE = "Measured against simulated"


def metrics_table(one: Comparison) -> Table:
    """Every metric, measured and predicted."""

    def both(value: str, error: str) -> Any:
        def text(name: str) -> str:
            size = _read(name, one.signal_unit).size
            number, off, measured = (
                float(group[name]) / size
                for group in (getattr(one, value), getattr(one, error), one.measured_uncertainty)
            )
            # no digit that is lost beside the measurement
            told = number and measured > 0
            most = max(2, 2 + int(math.log10(abs(number) / measured))) if told else 0
            return with_error(number, off, digits=most)

        return text

    columns = [
        words("metric", lambda name: _read(name, one.signal_unit).named(labelled(name))),
        words("measured", both("measured", "measured_uncertainty"), "± u"),
        words("simulated", both("predicted", "predicted_uncertainty"), "± u"),
        words("difference", both("difference", "joint_uncertainty"), "± u"),
        words("zeta", lambda name: significant(float(one.zeta[name]), 2)),
        words("E_n", lambda name: significant(float(one.zeta[name]) / 2, 2)),
        words("verdict", lambda name: "not judged" if name in MATCHED else one.verdict(name)),
    ]
    return tabulated(f"{one.name}, {one.solute} (u: standard uncertainty)", columns, one.zeta)


def labelled(name: str) -> str:
    """What people call a metric."""
    return metric_description(name).label


def _read(name: str, unit: str) -> Trade:
    """What a metric of a signal in this unit is read in."""
    unit_of_metric = str(metric_description(name).unit)
    of_signal = {"signal": unit, "signal s": f"{unit} s".strip()}
    return (
        Trade(of_signal[unit_of_metric]) if unit_of_metric in of_signal else people(unit_of_metric)
    )


def reported(one: Comparison) -> list[str]:
    """How one measurement was matched, and what is left."""
    unit, time = f"{one.signal_unit} s".strip(), people("s")
    start, end, delay, error = (
        each / time.size
        for each in (one.window_start, one.window_end, one.delay, one.delay_uncertainty)
    )
    lines = [
        f"{one.file}: window {significant(start, 5)} to {significant(end, 5)} {time.unit}, noise "
        f"{significant(one.noise, 2)} {one.signal_unit}. The simulated signal is delayed by "
        f"{with_error(delay, error)} {time.unit} and scaled to an area of "
        f"{with_error(one.area, one.area_uncertainty)} {unit}: when the injector "
        "started, and how the detector responds, is not in a scenario."
    ]
    left = one.residual_over_noise
    if left > CLOSE_TO_NOISE:
        lines.append(
            f"What is left between the curves is {significant(left, 2)} times what noise alone "
            "would leave of signals so treated: they differ in shape."
        )
    return lines


def conclusion(study: Compared) -> str:
    """Whether they agree, and where not, with the width and the tailing in words."""
    return "\n".join([_verdict(study), *(width_in_words(one) for one in study.measured.values())])


def width_in_words(one: Comparison, wanted_as: str = "simulated") -> str:
    """How wide and how skewed one measured peak is beside the one that is wanted."""
    measured, wanted = (float(group[WIDTH]) for group in (one.measured, one.predicted))
    apart, unsure = measured / wanted - 1, float(one.joint_uncertainty[WIDTH]) / abs(wanted)
    size = f"{significant(100 * abs(apart), 2)} % {'wider' if apart > 0 else 'narrower'}"
    known = f"standard uncertainty of {significant(100 * unsure, 2)} %"
    width = {
        AGREES: f"as wide as {wanted_as} ({size}, within twice its {known})",
        DIFFERS: f"{size} at half height than {wanted_as}, beyond three times its {known}",
    }.get(
        one.verdict(WIDTH), f"{size} at half height than {wanted_as}, with a {known}: not decided"
    )
    seen, foreseen = (float(group[TAILING]) for group in (one.measured, one.predicted))
    differing = f"tails {'more' if seen > foreseen else 'less'}"
    how = {AGREES: "tails alike", DIFFERS: differing}.get(
        one.verdict(TAILING), "it cannot be said whether it tails alike"
    )
    tails = f"{significant(seen, 3)}, {wanted_as} {significant(foreseen, 3)}"
    return f"{one.name}: the measured peak is {width}; {how} ({tails})."


def _verdict(study: Compared) -> str:
    count = len(study.measured)
    signals = "The signal" if count == 1 else f"All {count} signals"
    if study.agrees:
        verb = "agrees" if count == 1 else "agree"
        return (
            f"{signals} {verb} with the simulation: no metric that is judged differs by more than "
            f"{UNSATISFACTORY:g} times its standard uncertainty."
        )
    found = []
    for name, one in study.measured.items():
        differ = [key for key in one.zeta if one.verdict(key) == DIFFERS]
        # width and tailing are told in words
        if differ and {WIDTH, TAILING}.isdisjoint(differ):
            labels = "; ".join(str(metric_description(key).label) for key in differ)
            found.append(f"{name} ({labels})")
        elif differ:
            found.append(name)
    return f"Measured and simulated differ at: {', '.join(found)}."


def sections(study: Compared) -> list[Section]:
    """One a measurement."""
    carried = ", ".join(map(in_words, study.inputs))
    about = (
        f"The simulation carries the uncertainty of {carried}."
        if carried
        else "No [[uncertain]] inputs: the simulation carries its discretisation error alone."
    )
    return [
        Section(title="Inputs", lines=[about]),
        *(
            Section(title=name, lines=reported(one), tables=[metrics_table(one)], pictures=[at])
            for at, (name, one) in enumerate(study.measured.items())
        ),
    ]


def numbers(study: Compared) -> dict[str, Any]:
    """What is in the JSON object; SI."""
    return {
        "inputs": list(study.inputs),
        "measured": [one_json(one) for one in study.measured.values()],
        "agrees": study.agrees,
    }


def one_json(one: Comparison) -> dict[str, Any]:
    """One measurement; SI."""
    single = ("name", "file", "sha256", "solute", "signal_unit", "noise", "delay", "area")
    more = ("delay_uncertainty", "area_uncertainty", "residual_over_noise")
    keys = (
        "measured",
        "measured_uncertainty",
        "predicted",
        "predicted_uncertainty",
        "difference",
        "zeta",
    )
    return {
        **{key: plain(getattr(one, key)) for key in (*single, *more)},
        "window": [one.window_start, one.window_end],
        "metrics": {
            name: {key: plain(float(getattr(one, key)[name])) for key in keys}
            | {"e_n": plain(float(one.zeta[name]) / 2), "verdict": one.verdict(name)}
            for name in one.zeta
        },
        "agrees": one.agrees,
    }


TOLD = Telling(
    title=TITLE,
    method=METHOD,
    conclusion=conclusion,
    sections=sections,
    numbers=numbers,
)
