"""A tolerance study in pictures: distributions, indices, widths of tolerances, maps."""

import math
import textwrap
from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Rectangle
from numpy.typing import NDArray

from tailrace.figures.layout import LETTER, heading, key_columns, panels, room_across
from tailrace.figures.sizes import on_narrow
from tailrace.figures.style import (
    DASHES,
    FAINT,
    INK,
    MOST_PANELS,
    SERIES,
    Look,
    Picture,
    counted,
    first_of,
    named,
    pale,
    short,
)
from tailrace.figures.writing import micro
from tailrace.quantities.arrays import FloatArray, IntArray
from tailrace.records.trade import Trade, in_words, trade
from tailrace.studies.tolerance.result import (
    Acceptance,
    Indices,
    Outcome,
    RegionMap,
    Tolerance,
    Widening,
)
from tailrace.wording import number, say

MOST_BINS = 40
ASIDE, HIGHER = 0.76, 0.72
"""Of the way through a place of a map, where its number stands, across and upward."""
REFUSED: Look = {"fc": pale(SERIES[1], 0.12), "hatch": "////", "ec": pale(SERIES[1], 0.4)}
"""Ground that is out of limits."""


def draw_distributions(study: Tolerance) -> Picture:
    """A histogram for each metric; dashed, what first-order propagation says of it.

    Of at most MOST_PANELS metrics, the first ones.
    """
    shown = study.outcomes[:MOST_PANELS]
    across, upward = first_of(len(study.outcomes)), say("Density over its maximum")
    with panels(len(shown), 3, (0.5, 2.2), (0.9, 2.4), across=across, upward=upward) as figure:
        for panel, outcome in zip(figure.axes, shown, strict=True):
            _histogram(panel, outcome)
        heading(figure, _finding(study), 90)
        handles = _key(shown)
        ncols = key_columns(figure, [str(one.get_label()) for one in handles], 4)
        figure.legend(handles=handles, loc="outside lower left", ncols=ncols)
    return Picture(figure, say("How far the metrics spread"), _words_on_spreads(shown))


def _finding(study: Tolerance) -> str:
    """How often all criteria are satisfied together, or how far the first metric spreads."""
    judged = study.acceptance
    if judged is not None:
        return say(
            "All criteria together: satisfied by {share:.3g} % of samples, with {confidence:.3g} % "
            "confidence by {least:.3g} % or more; {asked:.3g} % asked",
            share=100 * judged.probability,
            confidence=100 * judged.confidence,
            least=100 * judged.lower_bound,
            asked=100 * judged.required,
        )
    first = study.outcomes[0]
    unit = trade(first.kind, first.unit)
    low, high = (unit.of(getattr(first.spread.symmetric, end)) for end in ENDS)
    text = "{metric}: 95 % of samples from {low:.4g} to {high:.4g} {unit}"
    return say(text, metric=named(first.name), low=low, high=high, unit=unit.unit).strip()


def _histogram(panel: Axes, outcome: Outcome) -> None:
    """One histogram, the interval under it, limits and what lies beyond them."""
    unit = trade(outcome.kind, outcome.unit)
    values = np.asarray(unit.of(outcome.values[np.isfinite(outcome.values)]))
    panel.set_xlabel(unit.unit or short(say(outcome.measure), 36))
    note = textwrap.fill(_note(outcome), int(room_across(panel) / LETTER))
    panel.set_title(short(named(outcome.name), 44), pad=8 + 11 * len(note.split("\n")))
    panel.annotate(note, (0, 1.02), xycoords="axes fraction", va="bottom", fontsize=9, color=INK)
    if values.size < 2 or np.ptp(values) <= 1e-9 * np.abs(values).max():
        same = f" {counted(float(values[0]), 3)} {unit.unit}".rstrip() if values.size else ""
        words = say("does not vary:{value}", value=same) if same else say("does not vary")
        panel.text(0.5, 0.5, words, transform=panel.transAxes, ha="center")
        panel.set(xticks=[], yticks=[])
        return
    bins = int(min(MOST_BINS, max(8, math.sqrt(values.size))))
    counts, edges = np.histogram(values, bins)
    panel.stairs(counts / counts.max(), edges, fill=True, color=pale(SERIES[0], 0.75))
    _first_order(panel, outcome, unit, values, counts.max() / (values.size * np.diff(edges)[0]))
    low, high = unit.of(outcome.spread.symmetric.low), unit.of(outcome.spread.symmetric.high)
    panel.plot([low, high], [-0.09, -0.09], color=INK, linewidth=3, solid_capstyle="butt")
    panel.plot(unit.of(outcome.spread.mean), -0.09, "o", color="white", markeredgecolor=INK, ms=5)
    _limits(panel, outcome, unit, values)
    panel.set_ylim(-0.18, 1.1)
    panel.set_yticks([0, 0.5, 1])
    panel.locator_params(axis="x", nbins=4)


def _first_order(
    panel: Axes, outcome: Outcome, unit: Trade, values: FloatArray, peak: float
) -> None:
    """The Gaussian of the closed forms on the same scale of densities."""
    closed = outcome.first_order
    deviation = unit.span(closed.standard_uncertainty)
    if not (math.isfinite(closed.value) and math.isfinite(deviation) and deviation > 0):
        return
    centre = unit.of(closed.value)
    reach = 4 * values.std()
    if abs(centre - values.mean()) > 3 * reach:
        return  # it would squeeze the histogram into a corner
    at = np.linspace(centre - 3.5 * deviation, centre + 3.5 * deviation, 141)
    density = np.exp(-(((at - centre) / deviation) ** 2) / 2) / (deviation * math.sqrt(2 * math.pi))
    panel.plot(at, density / peak, color=SERIES[1], linestyle=DASHES[1], linewidth=1.4)


def _limits(panel: Axes, outcome: Outcome, unit: Trade, values: FloatArray) -> None:
    """Lines at the limits, and hatched ground beyond them."""
    left, right = panel.get_xlim()
    ends = [unit.of(one) for one in (outcome.at_least, outcome.at_most)]
    reach = np.ptp(values)
    near = [one for one in ends if values.min() - 2 * reach < one < values.max() + 2 * reach]
    left = min([left, *(one - 0.08 * reach for one in near)])
    right = max([right, *(one + 0.08 * reach for one in near)])
    panel.set_xlim(left, right)
    for limit, beyond in zip(ends, (left, right), strict=True):
        if limit in near:
            panel.axvline(limit, color=SERIES[1], linewidth=1.6)
            panel.axvspan(*sorted((limit, beyond)), linewidth=0, zorder=0, **REFUSED)


def _note(outcome: Outcome) -> str:
    """How often the limit holds."""
    judged = outcome.acceptance
    if judged is None:
        return say("no limit")
    least, asked = 100 * judged.lower_bound, 100 * judged.required
    return say("satisfied by {least:.3g} % or more, {asked:.3g} % asked", least=least, asked=asked)


def _key(shown: Sequence[Outcome]) -> list[Artist]:
    handles: list[Artist] = [
        Patch(color=pale(SERIES[0], 0.75), label=say("simulated samples")),
        Line2D([], [], color=INK, linewidth=3, label=say("95 % of them (symmetric), and mean")),
    ]
    if any(math.isfinite(one.first_order.value) for one in shown):
        look: dict[str, Any] = {"linestyle": DASHES[1], "label": say("first order, closed form")}
        handles.append(Line2D([], [], color=SERIES[1], **look))
    if any(one.acceptance is not None for one in shown):
        handles.append(Patch(**REFUSED, label=say("out of limits")))
    return handles


def _words_on_spreads(shown: Sequence[Outcome]) -> str:
    sentences = []
    for one in shown:
        unit = trade(one.kind, one.unit)
        low, high = unit.of(one.spread.symmetric.low), unit.of(one.spread.symmetric.high)
        behind = f" {unit.unit}" if unit.unit else ""
        words = {"low": counted(low), "high": counted(high), "unit": behind, "note": _note(one)}
        text = "{metric}: mean {mean}{unit}, 95 % from {low} to {high}{unit}; {limits}{note}."
        words |= {"mean": counted(unit.of(one.spread.mean)), "limits": _ends_asked(one, unit)}
        sentences.append(say(text, metric=named(one.name), **words))
    text = "Histograms of the metrics over the samples. {sentences}"
    return say(text, sentences=" ".join(sentences))


def _ends_asked(one: Outcome, unit: Trade) -> str:
    """The limits of a metric, to stand before how often they are kept."""
    ends = (("at least {value}{unit}, ", one.at_least), ("at most {value}{unit}, ", one.at_most))
    behind = f" {unit.unit}" if unit.unit else ""
    return "".join(
        say(text, value=counted(unit.of(end)), unit=behind)
        for text, end in ends
        if math.isfinite(end)
    )


THICK = 0.36
"""Of one bar, where the distance of two inputs is 1."""


def draw_importance(study: Tolerance) -> Picture:
    """Bars for each input, first order and total; a panel for each metric.

    Of at most MOST_PANELS metrics, the first ones; inputs in the order of their greatest total
    index. The study has to have indices.
    """
    found = study.indices
    assert found is not None
    rows = min(len(found.outcomes), MOST_PANELS)
    order = np.argsort(-np.nan_to_num(found.total[:rows]).max(axis=0), kind="stable")
    names = [textwrap.fill(short(in_words(found.inputs[at]), 48), 26) for at in order]
    across = "Share of the variance of the metric (bars: {confidence:.3g} % interval)"
    across = say(across, confidence=100 * found.confidence)
    across = f"{across}\n{first_of(len(found.outcomes))}".strip()
    wide, tall, key = (1.8, 1.8), (0.5, 0.9 + 0.25 * len(order)), ("upper left", 2)
    with panels(rows, 3, wide, tall, across=across, key=key, sharey=True) as figure:
        for row, panel in enumerate(figure.axes):
            _shares(panel, found, row, order)
            panel.set_title(short(named(found.outcomes[row]), 44))
        figure.axes[0].set_yticks(range(len(names)), names, fontsize=9)
        figure.axes[0].set_ylim(len(order) - 0.4, -0.6)
    title = say("Shares of the variance (Sobol' indices)")
    return Picture(figure, title, _words_on_shares(found, rows, order))


def _shares(panel: Axes, found: Indices, row: int, order: IntArray) -> None:
    places = np.arange(len(order))
    looks: dict[str, tuple[str, dict[str, Any]]] = {
        "first": ("alone (first order)", {"facecolor": SERIES[0]}),
        "total": ("with all it acts with (total)", {"facecolor": "#ffffff", "hatch": "/////"}),
    }
    for step, (name, (label, look)) in enumerate(looks.items()):
        values = np.nan_to_num(getattr(found, name)[row, order])
        low, high = (np.nan_to_num(getattr(found, f"{name}_{end}")[row, order]) for end in ENDS)
        at = places + (step - 0.5) * THICK
        panel.barh(at, values, THICK, edgecolor=INK, linewidth=0.6, label=say(label), **look)
        arms = np.clip([values - low, high - values], 0, None)
        panel.errorbar(values, at, xerr=arms, fmt="none", ecolor=FAINT, capsize=2.5, elinewidth=1.4)
    panel.set_xlim(left=min(0.0, panel.get_xlim()[0]), right=max(1.05, panel.get_xlim()[1]))
    panel.axvline(0, color=INK, linewidth=0.8)
    panel.grid(visible=False, axis="y")
    panel.tick_params(axis="y", length=0)
    panel.set_xticks([0, 0.25, 0.5, 0.75, 1], ["0", "", number("0.5"), "", "1"])


ENDS = ("low", "high")
TOLD = 4
"""Inputs of which the words on shares tell."""


def _words_on_shares(found: Indices, rows: int, order: IntArray) -> str:
    sentences = []
    for row in range(rows):
        inputs = ", ".join(
            say(
                "{field} {alone:.2f} alone and {total:.2f} in total",
                field=in_words(found.inputs[column]),
                alone=found.first[row, column],
                total=found.total[row, column],
            )
            for column in order[:TOLD]
        )
        if len(order) > TOLD:
            inputs += say("; {count} other inputs", count=len(order) - TOLD)
        sentences.append(f"{named(found.outcomes[row])}: {inputs}.")
    text = "Bars of the Sobol' indices of every input. {sentences}"
    return say(text, sentences=" ".join(sentences))


def draw_widths(study: Tolerance) -> Picture:
    """A panel for each question of `--widen`: share satisfied against the width of the tolerance.

    ``study``: with widenings. Of at most MOST_PANELS questions, the first ones.
    """
    shown = study.widenings[:MOST_PANELS]
    across = say("Width of the tolerance, over the stated one")
    across = f"{across}\n{first_of(len(study.widenings))}".strip()
    labels: Look = {"across": across, "upward": say("All criteria satisfied, % of samples")}
    key = ("upper left", 2 if len(shown) == 1 else 3)
    with panels(len(shown), 4, (0.5, 2.2), (0.8, 2.0), **labels, key=key) as figure:
        for panel, widening in zip(figure.axes, shown, strict=True):
            _acceptance(panel, widening, study.acceptance)
    text = say(
        "Share of samples that satisfy all criteria against the width of a tolerance, and the "
        "widest that was accepted, over the stated one. {answers}.",
        answers="; ".join(f"{_widened(one)}: {_answer(one)}" for one in shown),
    )
    if (stated := study.acceptance) is not None:
        shares = {"share": 100 * stated.probability, "required": 100 * stated.required}
        text += say(
            " As stated {share:.3g} % satisfy all, {required:.3g} % are required.", **shares
        )
    return Picture(figure, say("Acceptance against the width of a tolerance"), text)


def _acceptance(panel: Axes, widening: Widening, stated: Acceptance | None) -> None:
    """Scales that were tried in the search, the fresh samples, and the study's own at 1."""
    tried = [(one.scale, one.acceptance) for one in widening.tried]
    tried += [(1.0, stated)] if stated is not None else []
    scales = np.array([scale for scale, _ in tried])
    judged = [one for _, one in tried]
    share = 100 * np.array([one.probability for one in judged])
    low = 100 * np.array([one.interval.low for one in judged])
    high = 100 * np.array([one.interval.high for one in judged])
    bound = 100 * np.array([one.lower_bound for one in judged])
    panel.errorbar(
        *(scales, share),
        yerr=np.clip([share - low, high - share], 0, None),
        fmt="o",
        color=SERIES[0],
        markersize=4,
        elinewidth=1.4,
        capsize=2.5,
        label=say("satisfied, with its interval"),
    )
    lower = say("one-sided lower bound")
    panel.plot(scales, bound, "v", color=SERIES[2], markersize=5, label=lower)
    required = 100 * judged[0].required if judged else math.nan
    asked: Look = {"color": SERIES[1], "linestyle": DASHES[1], "label": say("required")}
    panel.axhline(required, linewidth=1.4, **asked)
    if widening.fresh is not None:
        look: dict[str, Any] = {"color": SERIES[3], "markersize": 6, "fillstyle": "none"}
        confirmed = 100 * widening.fresh.probability
        panel.plot(widening.scale, confirmed, "s", label=say("satisfied by fresh samples"), **look)
    if widening.scale > 0:
        widest = say("widest that was accepted")
        panel.axvline(widening.scale, color=INK, linewidth=1.6, label=widest)
    panel.axvline(1, color=FAINT, linestyle=DASHES[2], linewidth=1.4, label=say("as stated"))
    margin = 0.06 * np.ptp([1.0, *scales]) or 0.1
    panel.set_xlim(min(1.0, *scales) - margin, max(1.0, *scales) + margin)
    panel.set_ylim(top=101)
    panel.set_title(f"{short(_widened(widening), 44)}: {_answer(widening)}", fontsize=9.5)
    panel.locator_params(axis="both", nbins=4)


def _answer(widening: Widening) -> str:
    return say("{scale:.3g} times" if widening.scale > 0 else "none", scale=widening.scale)


def _widened(one: Widening) -> str:
    """What is widened: one input alone, or all together, and by which rule."""
    if one.rule == "alone":
        return say("{field} alone", field=in_words(one.inputs[0].name))
    return say("all together, {rule}", rule=say(one.rule))


ANSWERS = {
    1: ("satisfied with confidence", "#8fc1e3", ""),
    -1: ("not decided", "#f1ede2", "...."),
    0: ("missed with confidence", "#d5763a", "////"),
}
"""Word, colour and hatch: light blue, sand and vermilion differ in lightness as well."""

LINES = "#1a1a1a66"
"""Of a hatch: faint enough for numbers to be read on it."""


def draw_regions(study: Tolerance) -> Picture:
    """A map for each pair of inputs; the numbers are the share of samples accepted, per cent.

    Of at most MOST_PANELS maps, the first ones.
    """
    shown = study.maps[:MOST_PANELS]
    across = say("Numbers: % of samples that satisfy all criteria")
    across = f"{across}\n{first_of(len(study.maps))}".strip()
    rows = max(one.allowed.shape[0] for one in shown)
    tall = (1.4 if on_narrow() else 0.6, 0.8 + 0.24 * rows)
    with panels(len(shown), 2, (0.6, 3.4), tall, across=across) as figure:
        for panel, one in zip(figure.axes, shown, strict=True):
            _map(panel, one)
        handles = [
            Patch(facecolor=colour, hatch=hatch, edgecolor=LINES, linewidth=0.5, label=say(word))
            for word, colour, hatch in ANSWERS.values()
        ]
        stated = say("as stated; diamond: the scenario")
        handles.append(Patch(facecolor="none", edgecolor=INK, linewidth=2, label=stated))
        ncols = key_columns(figure, [str(one.get_label()) for one in handles], 2)
        figure.legend(handles=handles, loc="outside upper left", ncols=ncols)
    return Picture(figure, say("Where two inputs may lie"), _words_on_maps(shown))


def _map(panel: Axes, one: RegionMap) -> None:
    across, upward = (trade(one.kinds[axis], one.units[axis]) for axis in (0, 1))
    x, y = across.of(one.first).tolist(), upward.of(one.second).tolist()
    edges = _edges(x), _edges(y)
    for row, column in np.ndindex(one.allowed.shape):
        _, colour, hatch = ANSWERS[int(one.allowed[row, column])]
        left, low = edges[0][column], edges[1][row]
        wide, high = edges[0][column + 1] - left, edges[1][row + 1] - low
        look: dict[str, Any] = {"facecolor": colour, "hatch": hatch, "edgecolor": LINES}
        panel.add_patch(Rectangle((left, low), wide, high, linewidth=0, **look))
    _numbers(panel, one, *edges)
    (left, right), (low, high) = (
        (unit.of(end.low), unit.of(end.high))
        for unit, end in zip((across, upward), one.stated, strict=True)
    )
    look = {"fill": False, "linewidth": 2, "edgecolor": INK, "zorder": 4}
    stated = Rectangle((left, low), right - left, high - low, **look)
    panel.add_patch(stated)
    panel.plot(
        across.of(one.nominal[0]),
        upward.of(one.nominal[1]),
        "D",
        ms=7,
        mfc=INK,
        mec="white",
        zorder=5,
    )
    panel.set_xlabel(micro(across.named(short(in_words(one.names[0]), 44))))
    panel.set_ylabel(micro(upward.named(short(in_words(one.names[1]), 44))))
    panel.set_xlim(edges[0][0], edges[0][-1])
    panel.set_ylim(edges[1][0], edges[1][-1])
    panel.xaxis.set_major_formatter("{x:.6g}")
    panel.yaxis.set_major_formatter("{x:.6g}")
    panel.grid(visible=False)
    panel.set_title(
        say(
            "{share:.3g} % satisfied with {confidence:.3g} % confidence",
            share=100 * one.required,
            confidence=100 * one.confidence,
        )
    )


def _numbers(panel: Axes, one: RegionMap, x: list[float], y: list[float]) -> None:
    """The share of samples accepted, as a number in every place; half of the undecided.

    ``x``, ``y``: borders of the places, in whose upper right quarters the numbers stand, since
    what is stated often begins in their middle.
    """
    if one.allowed.size > 150:
        return
    shares = 100 * (one.accepted + 0.5 * one.undecided) / one.samples
    for row, column in np.ndindex(one.allowed.shape):
        # A plain ground keeps the hatch off the number, and the number a text in the file.
        ground = {
            "facecolor": ANSWERS[int(one.allowed[row, column])][1],
            "linewidth": 0,
            "pad": 0.3,
        }
        place: dict[str, Any] = {"ha": "center", "va": "center", "fontsize": 8.5, "bbox": ground}
        place["zorder"] = 4.5  # above the frame of what is stated, below the diamond
        right, above = (
            ends[at] + share * (ends[at + 1] - ends[at])
            for ends, at, share in ((x, column, ASIDE), (y, row, HIGHER))
        )
        panel.text(right, above, f"{shares[row, column]:.0f}", **place)


def _edges(values: list[float]) -> list[float]:
    """Borders of cells half-way between values."""
    if len(values) < 2:
        return [values[0] - 0.5, values[0] + 0.5]
    middle = [(one + other) / 2 for one, other in pairwise(values)]
    return [2 * values[0] - middle[0], *middle, 2 * values[-1] - middle[-1]]


def _reach(one: RegionMap, axis: int, values: FloatArray) -> str:
    """An input with the values at which a map has places, and what is stated of it."""
    unit = trade(one.kinds[axis], one.units[axis])
    ends = (values[0], values[-1], one.stated[axis].low, one.stated[axis].high)
    names = ("low", "high", "least", "most")
    told = {name: counted(unit.of(end)) for name, end in zip(names, ends, strict=True)}
    text = "{field} from {low} to {high}{unit} (stated: {least} to {most})"
    behind = micro(f" {unit.unit}") if unit.unit else ""
    return say(text, field=in_words(one.names[axis]), unit=behind, **told)


def _stated(one: RegionMap) -> NDArray[np.bool_]:
    """Which places lie within what is stated."""
    (left, right), (low, high) = ((end.low, end.high) for end in one.stated)
    within = (one.first >= left) & (one.first <= right)
    return np.asarray(((one.second >= low) & (one.second <= high))[:, None] & within)


def _words_on_maps(shown: Sequence[RegionMap]) -> str:
    lines = []
    for one in shown:
        counts = [int(np.count_nonzero(one.allowed == word)) for word in ANSWERS]
        lines.append(
            say(
                "{across} across, {upward} upward: of {places} places {held} are satisfied with "
                "confidence, {open} not decided, {missed} missed; within what is stated {inner} "
                "of {all} are satisfied.",
                across=_reach(one, 0, one.first),
                upward=_reach(one, 1, one.second),
                places=one.allowed.size,
                inner=np.count_nonzero(one.allowed[_stated(one)] == 1),
                all=np.count_nonzero(_stated(one)),
                held=counts[0],
                open=counts[1],
                missed=counts[2],
            )
        )
    return say("Maps of where two inputs may lie. {maps}", maps=" ".join(lines))
