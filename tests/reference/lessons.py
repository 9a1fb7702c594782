"""The lessons' answers: each computed here once, and written from here into the teachers' sheets.

``python -m reference.lessons`` (with tests/ and sim/ on the path) writes the bodies of all tables
anew, and the empty ones of the students' sheets.
"""

import re
import sys
from collections.abc import Callable
from functools import cache
from pathlib import Path
from statistics import NormalDist

import numpy as np

import tailrace
from reference.residuals import left_over
from reference.tree import ROOT
from tailrace.journey.result import Result
from tailrace.records.separation import kept_fraction, separation
from tailrace.report.numbers import percent, significant, to_the_place_of, with_error
from tailrace.scenario.measured import as_measured, measured_files
from tailrace.studies.axes import axis, shown
from tailrace.studies.measured.bench import signals
from tailrace.studies.measured.inventing import Invention, invented
from tailrace.studies.sweeping import Sweep, sweep
from tailrace.web.sheet import Sheet, lesson
from tailrace.web.sheet import tables as tables_of
from tailrace.web.stations import version_of
from tailrace.web.stops import spoken

FOLDER = ROOT / "scenarios" / "lessons"
HALF_WIDTH = np.sqrt(8 * np.log(2))
WIDTH, PLATES, OWN, TAILING, VARIANCE = (
    "width_half",
    "plates_half_height",
    "plates_own_retention",
    "tailing_5",
    "variance",
)
SWEPT = {
    "bore": (
        ("tube.bore = 0.1, 0.2, 0.3 mm", "injection.volume = 0.02, 0.08, 0.18 uL"),
        ("tube.length = 125, 250, 500, 1000 mm",),
        ("method.flow = 0.25, 0.5, 1, 2 mL/min",),
    ),
    "gaussian-fails": (
        ("tube.length = 30, 100, 300, 1000, 3000, 10000 mm",),
        ("tube.length = 100 mm", "injection.sigma = 0.05, 0.2, 0.5, 1, 2 s"),
    ),
    "joint": (("joint.unswept = 0, 0.8",), ("joint.exchange = 20, 5, 1, 0.2, 0.05",)),
    "slow-detector": (("detector.time_constant = 0.02, 0.05, 0.1, 0.2, 0.5, 1 s",),),
    "plate-height": (("method.flow = 0.05, 0.1, 0.15, 0.2, 0.3, 0.4, 0.6, 0.8, 1, 1.2 mL/min",),),
    "gradient": (
        ("tube before.length = 100, 400 mm", "tube behind.length = 100, 400 mm"),
        ("injection.volume = 1, 5, 20 uL",),
    ),
    "two-tails": (("base.amount = 0.35, 3.5, 7 nmol",), ("method.flow = 0.1, 0.3, 0.6 mL/min",)),
    "tolerance": (
        ("joint.gap_length = 0.001, 0.05, 0.1, 0.25, 0.5, 0.75, 1 mm",),
        ("inlet tube.bore = 0.102, 0.12, 0.138 mm",),
        ("cell.volume = 0.95, 1, 1.05 uL",),
        (
            "joint.gap_length = 0.05, 0.1, 0.16, 0.21, 0.28, 0.35, 0.42, 0.51, 0.62, 0.78 mm",
            "inlet tube.bore = "
            "0.129, 0.118, 0.104, 0.125, 0.133, 0.111, 0.122, 0.107, 0.136, 0.115 mm",
        ),
    ),
    "coil": (
        ("tube.bend_radius = 25 mm, 50 mm, 100 mm, 300 mm, 1 m, 100 m",),
        ("tube.bend_radius = 50 mm, 100 m", "method.flow = 0.05, 0.1, 0.2, 0.5 mL/min"),
    ),
}
"""What students are told to vary, sweep by sweep; those with two fields in step are TOGETHER."""
TOGETHER = {("bore", 0), ("tolerance", 3)}
SAMPLES, ROWS = 400, 128
FIRST_ORDER = (("bore", 1, 0.0104), ("gap", 0, 0.23), ("cell", 2, 0.05))
"""Of the eleventh lesson's inputs: name, sweep, standard uncertainty in the sweep's unit."""
GIVEN: dict[tuple[str, int], Callable[[int, int], bool]] = {
    ("gaussian-fails", 0): lambda row, cell: row != 1 and cell < 2,
    ("gaussian-fails", 2): lambda row, _: row in (1, 3),
    ("tolerance", 2): lambda row, _: row < 5,
    ("tolerance", 3): lambda row, _: row == 2,
    ("tolerance", 4): lambda _, cell: cell == 1,
    ("hidden-joint", 1): lambda _, cell: cell < 3,
    ("hidden-joint", 2): lambda _, cell: cell < 3,
}
"""By lesson and table, which row's which cell stands in the students' sheet as well."""
SUSPECTS = ("joint.gap_length", "detector.time_constant", "cell.volume", "inlet tube.bore")
TELLING = 3
"""From how many standard uncertainties on a difference tells something, in the twelfth lesson."""
HIDDEN = {"joint.gap_length": "0.5 mm"}
"""What is wrong with the instrument of the twelfth lesson."""


def told(value: float, error: float, digits: int = 3) -> str:
    """A number to the digits that a page shows; beside its error where that reaches the last."""
    return with_error(value, error, digits=digits)


@cache
def made(lesson: str, at: int = 0, scenario: str = "") -> Sweep:
    """One of the sweeps that a sheet tells students to make."""
    loaded = tailrace.load(FOLDER / f"{scenario or lesson}.toml")
    return sweep(loaded, SWEPT[lesson][at], (lesson, at) in TOGETHER)


def read(one: Sweep, name: str, lane: int = 0) -> np.ndarray:
    return one.metrics[f"recorded/{name}"][:, lane]


def column(one: Sweep, name: str, lane: int = 0, digits: int = 3) -> list[str]:
    errors = one.metrics[f"numerical_error/{name}"][:, lane]
    return [told(*pair, digits) for pair in zip(read(one, name, lane), errors, strict=True)]


def rows(*columns: object) -> list[list[str]]:
    """Columns of texts or numbers turned into rows of texts."""
    texts = [[x if isinstance(x, str) else significant(x, 3) for x in one] for one in columns]
    return [list(row) for row in zip(*texts, strict=True)]


def labels(lesson: str, at: int, field: int = 0) -> list[str]:
    values = SWEPT[lesson][at][field].partition("=")[2].split(",")
    unit = values[-1].split()[1:]
    return [" ".join([*one.split()[:1], *(one.split()[1:] or unit)]) for one in values]


def bore():
    for at in range(3):
        one = made("bore", at)
        fourier = one.metrics["parts/fourier_number"][:, 1, 0]
        figures = (column(one, name) for name in (WIDTH, PLATES, TAILING))
        yield rows(labels("bore", at), fourier, *figures)


def gaussian_fails():
    one = made("gaussian-fails")
    part = {
        name: one.metrics[f"parts/{name}"][:, 1, 0]
        for name in ("fourier_number", "variance_gaussian_theory", "variance_simulated")
    }
    fourier, textbook, simulated = part.values()
    length = labels("gaussian-fails", 0)
    yield rows(length, fourier, textbook, simulated, textbook / simulated)
    sums = one.metrics["parts/variance_gaussian_theory"][:, :, 0].sum(axis=1)
    by_theory = read(one, "mean") ** 2 / sums
    yield rows(length, by_theory, column(one, PLATES), column(one, TAILING))
    one = made("gaussian-fails", 1)
    entering = one.metrics["parts/variance_simulated"][:, 0, 0]
    # as a student goes on with four digits of the width and three of what the tube adds
    widths = column(one, WIDTH, 0, 4)
    seen = (np.array(widths, dtype=float) / HALF_WIDTH) ** 2 - entering
    added = float(significant(one.metrics["parts/variance_simulated"][0, 1, 0], 3))
    left, share = ([significant(x, 2) for x in values] for values in (seen, 100 * seen / added))
    yield rows(labels("gaussian-fails", 1, 1), widths, left, share)


def early_peaks():
    result = tailrace.run(tailrace.load(FOLDER / "early-peaks.toml"))
    at = {part.name: part.variance_simulated for part in result.parts}
    outside = sum(values for name, values in at.items() if name != "column")
    # What a student works out on paper: the column's variance over that of the whole path.
    paper = at["column"] / (at["column"] + outside)
    shares = ([percent(x) for x in values] for values in (paper, kept_fraction(result)))
    tailing = map(told, result.recorded[TAILING], result.numerical_error[TAILING])
    yield rows(result.lanes, at["column"], outside, at["cell"], *shares, tailing)


@cache
def orders() -> dict[str, Result]:
    """The sixth lesson's parts in each order."""
    base = tailrace.load(FOLDER / "order.toml")
    paths = {
        "filter, column, tube, cell": (),
        "column, filter, tube, cell": ("filter behind the column",),
        "column, tube, filter, cell": ("filter behind the tube",),
        "tube, column, filter, cell": ("tube before the column", "filter behind the column"),
    }
    return {name: tailrace.run(base.with_changes(*one)) for name, one in paths.items()}


def order():
    base = tailrace.load(FOLDER / "order.toml")

    def made(*changes):
        return tailrace.run(base.with_changes(*changes) if changes else base)

    yield [_figures(name, result) for name, result in orders().items()]
    cells = {
        "mixed, 4 uL": "stirred cell of 4 uL",
        "read along its axis, 13.86 uL": "straight cell of 13.86 uL",
    }
    yield [_figures(name, made(change), ("cell",)) for name, change in cells.items()]
    tubes = {
        "one of 400 mm": (),
        "four of 100 mm, mixed at each joint": ("four tubes, mixed between",),
        "four of 100 mm, carried over": ("four tubes, carried over",),
    }
    named = ("tube", "piece")
    yield [_figures(name, made(*changes), named) for name, changes in tubes.items()]


def _figures(label, result, part: tuple[str, ...] = ()):
    """Label, variances of a part by textbook and simulated where one is named, plates, tailing."""
    found = [one for one in result.parts if part and one.name.startswith(part)]
    variances = [
        significant(sum(getattr(one, name)[0] for one in found), 3)
        for name in ("variance_gaussian_theory", "variance_simulated")
        if found
    ]
    figures = ((name, result.recorded[name][0]) for name in (OWN, TAILING))
    return [
        label,
        *variances,
        *(told(value, result.numerical_error[name][0], 4) for name, value in figures),
    ]


def joint():
    swept, pocket = made("joint"), made("joint", 1)
    cases = [swept.case(0), *(pocket.case(case) for case in range(5))]
    names = ["no pocket", *(f"pocket, exchange {one}" for one in labels("joint", 1))]
    shown = []
    for label, result in zip(names, cases, strict=True):
        parts = {part.name: part for part in result.parts}
        own = _own_squared(result.recorded[OWN][0], result.recorded[WIDTH][0])
        whole = sum(part.variance_simulated[0] for part in parts.values())
        figures = (parts["joint"].variance_simulated[0], own / whole)
        errors = result.numerical_error
        read_off = (
            told(result.recorded[name][0], errors[name][0], digits)
            for name, digits in ((OWN, 3), (TAILING, 4))
        )
        shown.append([label, *(significant(x, 3) for x in figures), *read_off])
    yield shown


def slow_detector():
    loaded = tailrace.load(FOLDER / "slow-detector.toml")
    peak, pairs, light = [], [], []
    usual = tailrace.run(loaded).signal["relative_noise"][0]
    for label in labels("slow-detector", 0):
        result = tailrace.run(loaded.changed({"detector.time_constant": label}))
        alone, signal = result.column_alone[PLATES][0], result.signal
        tailing = told(result.recorded[TAILING][0], result.numerical_error[TAILING][0])
        peak.append([label, percent(result.recorded[OWN][0] / alone), tailing])
        pair = separation(result)
        valley = percent(pair.valley_to_peak[0])
        pairs.append([label, significant(pair.half_height[0], 3), valley])
        height, noise = signal["relative_signal"][0], signal["relative_noise"][0] / usual
        light.append(
            [label, percent(height), *(significant(x, 3) for x in (noise, height / noise))]
        )
    yield from (peak, pairs, light)


def plate_height():
    one, union = made("plate-height"), made("plate-height", 0, "plate-height-union")
    own = _own_squared(read(one, OWN), read(one, WIDTH))
    length = 50e3
    widths, empty = read(one, WIDTH), read(union, WIDTH)
    alone = length / one.metrics[f"column_alone/{PLATES}"][:, 0]
    recorded = length / read(one, PLATES)
    by_width = length * (widths**2 - empty**2) / HALF_WIDTH**2 / own
    by_variance = length * (read(one, VARIANCE) - read(union, VARIANCE)) / own
    shown = (column(one, WIDTH, 0, 4), column(union, WIDTH, 0, 4), column(union, TAILING))
    yield rows(labels("plate-height", 0), *shown, alone, recorded, by_width, by_variance)


def _own_squared(plates, width):
    """Square of the time that the column alone gives, from plates at it and the width (s^2)."""
    return plates * (width / HALF_WIDTH) ** 2


def gradient():
    solutes = range(3)
    one = made("gradient")
    places = [
        f"{before} before, {behind} behind"
        for before in labels("gradient", 0)
        for behind in labels("gradient", 0, 1)
    ]
    shown = rows(places, *(column(one, WIDTH, lane, 4) for lane in solutes))
    yield sorted(shown, key=lambda row: row[0].split(", ")[1])
    last = one.case(3)
    at = {part.name: part for part in last.parts}
    before, behind = (at[f"tube {where}"] for where in ("before", "behind"))
    ending = sum(part.variance_recorded for part in last.parts)
    share = [[percent(x) for x in one.variance_recorded / ending] for one in (before, behind)]
    left = before.variance_recorded / behind.variance_recorded
    seen = ["<1" if x < 0.01 else percent(x) for x in left]
    yield rows(last.lanes, before.variance_simulated, *share, seen)
    one = made("gradient", 1)
    yield rows(labels("gradient", 1), *(column(one, WIDTH, lane, 4) for lane in solutes))


def two_tails():
    for at in range(2):
        pair = [made("two-tails", at, f"two-tails-{name}") for name in "ab"]
        yield rows(labels("two-tails", at), *(column(one, TAILING) for one in pair))


def tolerance():
    gaps = made("tolerance")
    yield rows(labels("tolerance", 0), column(gaps, OWN, 0, 4))
    inputs = [_first_order(*row) for row in FIRST_ORDER]
    squares = sum(slope**2 for *_, slope in inputs)
    yield [[*told, significant(slope, 3), percent(slope**2 / squares)] for *told, slope in inputs]
    ten = made("tolerance", 3)
    pairs = zip(*(labels("tolerance", 3, field) for field in range(2)), strict=True)
    yield rows([", ".join(pair) for pair in pairs], column(ten, OWN, 0, 4))
    outcome = asked().outcomes[0]
    drawn, spread, limit = read(ten, OWN), outcome.spread, outcome.at_least
    first = outcome.nominal, np.sqrt(squares)
    ways = {
        "first order": (*first, 1 - NormalDist(*first).cdf(limit)),
        "ten instruments": (drawn.mean(), drawn.std(ddof=1), np.mean(drawn >= limit)),
        "400 samples, by the program": (
            *(spread.mean, spread.standard_uncertainty),
            outcome.acceptance.probability,
        ),
    }
    yield [
        [name, significant(mean, 3), significant(deviation, 2), percent(share)]
        for name, (mean, deviation, share) in ways.items()
    ]
    shares = zip(FIRST_ORDER, inputs, asked().indices.total[0], strict=True)
    yield [
        [name, percent(slope**2 / squares), significant(100 * total, 2)]
        for (name, *_), (*_, slope), total in shares
    ]


def _first_order(name: str, at: int, uncertainty: float) -> tuple[str, str, str, float]:
    """A row's name, the plates at the first and the third stop, their slope times uncertainty."""
    stops, unit = labels("tolerance", at), labels("tolerance", at)[0].split()[1]
    low, high = (float(stops[stop].split()[0]) for stop in (0, 2))
    label = f"{name}, {low:g} to {high:g} {unit}, u = {uncertainty:g} {unit}"
    first, _, last, *_ = column(made("tolerance", at), OWN, 0, 4)
    # from the plates as they are told, and to three digits: as a student goes on with it
    slope = abs(float(last) - float(first)) / (high - low)
    return label, first, last, float(significant(slope * uncertainty, 3))


@cache
def asked():
    loaded = tailrace.load(FOLDER / "tolerance.toml")
    return tailrace.tolerance(loaded, samples=SAMPLES, indices=ROWS)


def coil():
    def added(one):
        return 1e18 * one.metrics["parts/variance_volume"][:, 1, 0]

    one = made("coil")
    yield rows(labels("coil", 0), added(one), column(one, PLATES), column(one, TAILING))
    coiled, straight = added(made("coil", 1)).reshape(2, -1)
    yield rows(labels("coil", 1, 1), straight, coiled, coiled / straight)


def by_hand():
    """Of each suspect and each measurement the best stop of its slider, and what is left then."""
    believed = tailrace.load(FOLDER / "hidden-joint.toml")
    page = believed.document.page
    seen = [version_of(believed, one) for one in page.versions if not one.file]
    for text in page.slide:
        one = axis(believed.tables, text)
        best = []
        for instrument, told in seen:
            made = [instrument.changed({one.name: value}).itinerary() for value in one.written]
            left = [left_over(told, signals([way])) for way in made]
            at = int(np.argmin(left))
            best.append(f"{shown(one, at)}, {significant(left[at], 2)}")
        yield [spoken(one.name), *best]


def hidden_joint(suspects=SUSPECTS):
    """By hand; the table of suspects, each row of which takes seconds; what is read off peaks."""
    yield [*by_hand()]
    rows = []
    for field in suspects:
        found = tailrace.fit(FOLDER / "hidden-joint.toml", free=[field])
        (freed,) = found.free
        scale, unit = {"s": (1, "s"), "m": (1e3, "mm")}.get(freed.unit, (1e9, "uL"))
        value = with_error(scale * freed.value, scale * freed.standard_uncertainty)
        left = (found.residual_over_noise, abs(found.autocorrelation))
        fault = "yes" if found.at_fault else "no"
        rows.append([spoken(field), f"{value} {unit}", *(f"{one:.2f}" for one in left), fault])
    yield rows
    yield [*read_off()]


def read_off():
    """Figures of each measurement beside the simulated ones, and how far they lie apart."""
    compared = tailrace.compare(FOLDER / "hidden-joint.toml").measured
    for name, label in ((VARIANCE, "variance, {}, s^2"), (TAILING, "tailing, {}")):
        for where, one in compared.items():
            pairs = (
                (one.measured, one.measured_uncertainty),
                (one.predicted, one.predicted_uncertainty),
            )
            numbers = ([float(x[name]) for x in pair] for pair in pairs)
            # to two digits of the uncertainty, so that students can work out how far they are apart
            both = (" ± ".join(to_the_place_of(x, pair[1]) for x in pair) for pair in numbers)
            apart = abs(float(one.zeta[name]))
            tells = "yes" if apart > TELLING else "no"
            yield [label.format(where), *both, significant(apart, 2), tells]


def hidden_files() -> dict[str, bytes]:
    """The three measurements of the twelfth lesson, invented anew."""
    instrument = tailrace.load(FOLDER / "hidden-joint.toml").changed(HIDDEN)
    files = {}
    for at, one in enumerate(measured_files(instrument)):
        band = signals([as_measured(instrument, one).itinerary()])
        interval = (0.05, 0.05, 0.025)[at]
        how = Invention(signal_to_noise=400, delay=0.8, interval=interval, height=120, drift=0.02)
        points = zip(*invented(band, how, [18, at]), strict=True)
        lines = ["time (s),signal (mAU)", *(f"{x:.3f},{y:.3f}" for x, y in points), ""]
        files[one.row.file] = "\n".join(lines).encode()
    return files


ANSWERS: dict[str, Callable] = {
    "bore": bore,
    "gaussian-fails": gaussian_fails,
    "early-peaks": early_peaks,
    "order": order,
    "joint": joint,
    "coil": coil,
    "slow-detector": slow_detector,
    "plate-height": plate_height,
    "gradient": gradient,
    "two-tails": two_tails,
    "tolerance": tolerance,
    "hidden-joint": hidden_joint,
}
"""In the order of the course."""


@cache
def answers(lesson: str) -> list[list[list[str]]]:
    return list(ANSWERS[lesson]())


def sheet(lesson: str, folder: str = "") -> Path:
    return FOLDER / folder / f"{lesson}.md"


def tables(path: Path) -> list[list[list[str]]]:
    """All tables of a sheet, each a list of rows of cells, the heading first."""
    return tables_of(path.read_text(encoding="utf-8"))


def written(path: Path, bodies: list[list[list[str]]]) -> str:
    """The text of a sheet with the bodies of its tables replaced."""
    left = iter(bodies)

    def table(match: re.Match[str]) -> str:
        body = "".join("| " + " | ".join(row) + " |\n" for row in next(left))
        return match[1] + body

    text = path.read_text(encoding="utf-8")
    return re.sub(r"(^\|.*\n\|[ -|]*-[ -|]*\n)((?:^\|.*\n)*)", table, text, flags=re.M)


def blank(lesson: str, at: int, body: list[list[str]]) -> list[list[str]]:
    """A table as students have it."""
    given = GIVEN.get((lesson, at), lambda row, cell: False)
    return [
        [row[0], *(text if given(r, c) else "" for c, text in enumerate(row[1:]))]
        for r, row in enumerate(body)
    ]


@cache
def paired(name: str) -> Sheet:
    """The lesson as its page has it, from both sheets."""
    return lesson(*(sheet(name, one).read_text(encoding="utf-8") for one in ("", "teacher")))


def main(names: list[str]) -> None:
    for name in names or ANSWERS:
        for folder, bodies in (
            ("teacher", answers(name)),
            ("", [blank(name, at, one) for at, one in enumerate(answers(name))]),
        ):
            path = sheet(name, folder)
            path.write_text(written(path, bodies), encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])
