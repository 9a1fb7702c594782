"""Text of any layout: delimiter, decimal sign, header and columns are found, not asked for."""

import csv
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from tailrace.measurements.signal import TIME_UNITS, Layout, Raw, SignalError, Wanted
from tailrace.quantities.arrays import FloatArray
from tailrace.quantities.parse import shortened

DELIMITERS = {"\t": "tab", ";": "semicolon", "|": "bar", " ": "spaces", ",": "comma"}
LOOKED_AT, FEWEST_CLOCKS = 400, 10
"""Lines from which the layout is told, at the beginning and at the end."""
MISSING = frozenset(("", "nan", "n/a", "na", "null", "none", "-", "--", "-9999", "-9999.0", "inf"))
PLAIN = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eEdD][+-]?\d{1,3})?")
GROUPED = re.compile(r"[+-]?\d{1,3}(?:,\d{3})+(?:\.\d+)?")
POINTED = re.compile(r"[+-]?\d{1,3}(?:\.\d{3})+(?:,\d+)?")
"""Thousands apart by commas, or by points where the decimal sign is a comma; by what else:"""
APART = re.compile(r"(?<=\d)['’\u00a0\u202f\u2009](?=\d{3}(?!\d))")
CLOCK = re.compile(
    r"(?<![\d:])(?:\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}[ T]+)?\d{1,3}:\d{2}(?::\d{2})?(?:[.,]\d+)?"
)
WORD_OF = {
    "ms": ("ms", "msec", "milliseconds"),
    "s": ("s", "sec", "secs", "second", "seconds"),
    "min": ("min", "mins", "minute", "minutes"),
    "h": ("h", "hr", "hrs", "hour", "hours"),
}
UNIT_OF = {word: unit for unit, words in WORD_OF.items() for word in words}
_UNIT = "|".join(sorted(UNIT_OF, key=len, reverse=True))
TIME_UNIT = re.compile(rf"(?<![A-Za-z])(?<!L/)({_UNIT})(?![A-Za-z.])", re.I)
TIME_UNIT_SAID = re.compile(rf"\b(?:time|x)\b[\w ./-]*?(?:unit|axis|title)s?\W+({_UNIT})\b", re.I)
SIGNAL_UNIT = re.compile(
    r"(?<![A-Za-z])([mµμu]?AU|[mµμun]?V|[pn]A|[nµμum]?RIU|[mµμ]?S/cm|m?[LE]U|[Cc]ounts?|cps|%)"
    r"(?![A-Za-z])"
)
TIME_WORD = re.compile(r"\b(?:time|minutes?|seconds?|min|rt|t|x)\b|time", re.I)
NUMBER = r"([+-]?\d+(?:[.,]\d+)?(?:[eE][+-]?\d+)?)"
SAID = {
    "interval": r"(?:interval|step|period|increment|delta|dt)",
    "rate": r"(?:rate|frequency)",
    "start": r"(?:start|delay|first)(?:[ _]?time)?",
}
"""How headers name what the times of values alone follow from."""


@dataclass(frozen=True)
class _Way:
    """A way to read lines: what stands between cells, and the decimal sign."""

    delimiter: str
    decimal: str

    def cells(self, line: str) -> list[str]:
        if self.delimiter == " ":
            return [one.strip('"') for one in line.split()]
        if '"' in line:
            found = next(csv.reader([line], delimiter=self.delimiter, skipinitialspace=True), [])
        else:
            found = line.split(self.delimiter)
        found = [one.strip() for one in found]
        while len(found) > 1 and not found[-1]:
            found.pop()
        return found

    def number(self, cell: str) -> float | None:
        """A number; NaN where one is missing, None for anything else."""
        if cell.lower() in MISSING:
            return float("nan")
        if self.decimal == ",":
            if cell.count(",") > 1:
                return None
            if "," in cell or POINTED.fullmatch(cell):
                cell = cell.replace(".", "").replace(",", ".")
        elif GROUPED.fullmatch(cell):
            cell = cell.replace(",", "")
        if not PLAIN.fullmatch(cell):
            return None
        return float(cell.replace("d", "e").replace("D", "e"))

    def pattern(self, line: str) -> tuple[bool, ...]:
        """Which cells of a line are numbers; empty where there is none."""
        if self.delimiter == self.decimal and '"' not in line:
            return ()
        found = [self.number(one) for one in self.cells(line)]
        if not any(one is not None and one == one for one in found):
            return ()
        return tuple(one is not None for one in found)


WAYS = [_Way(delimiter, decimal) for delimiter in DELIMITERS for decimal in ".,"]


def read_text(content: bytes, wanted: Wanted) -> Raw:
    """Read times and values from text.

    Raises SignalError with the first reason where no way of reading the lines gives a signal.
    """
    text, encoding = decoded(content)
    lines = APART.sub("", text).splitlines()
    ranked = list(_ranked(lines))
    if not ranked:
        raise _clocks(lines) or SignalError(
            "expected lines of numbers, found none; name a file of points"
        )
    reasons = []
    for way, pattern in ranked[:4]:
        try:
            return _read(lines, way, pattern, encoding, wanted)
        except SignalError as error:
            reasons.append(error)
    raise _clocks(lines) or reasons[0]


def _clocks(lines: Sequence[str]) -> SignalError | None:
    """What to say of points whose times are written as on a clock; None of others."""
    found = [CLOCK.search(one) for one in lines[-LOOKED_AT:]]
    times = [one[0] for one in found if one]
    if len(times) < max(FEWEST_CLOCKS, len(found) / 2):
        return None
    return SignalError(
        f"expected times as numbers, found them as on a clock, {shortened(times[0], 40)}; write "
        "seconds since the start in their place, or give the interval between points"
    )


def decoded(content: bytes) -> tuple[str, str]:
    """The text of a file and its encoding: UTF-8, UTF-16 with or without its mark, Latin-1.

    Raises SignalError for bytes that are no text.
    """
    encoding = "utf-8-sig"
    if content[:2] in (b"\xff\xfe", b"\xfe\xff"):
        encoding = "utf-16"
    elif content[:4000].count(0) > len(content[:4000]) / 4:
        encoding = (
            "utf-16-le" if content[1:4000:2].count(0) > content[:4000:2].count(0) else "utf-16-be"
        )
    try:
        text = content.decode(encoding)
    except UnicodeDecodeError:
        encoding, text = "latin-1", content.decode("latin-1")
    strange = sum(one < " " and one not in "\t\r\n\f\v" for one in text[:4000])
    if strange > 0.02 * len(text[:4000]):
        raise SignalError(
            "expected text or classic netCDF, found other bytes; export the points as text"
        )
    names = {"utf-8-sig": "UTF-8", "latin-1": "Latin-1"}
    return text, names.get(encoding, "UTF-16")


def _ranked(lines: Sequence[str]) -> Iterator[tuple[_Way, tuple[bool, ...]]]:
    """Ways to read the lines, those first that make most of them rows of two numbers or more."""
    seen = [*lines[:LOOKED_AT], *lines[LOOKED_AT:][-LOOKED_AT:]]
    found = []
    for rank, way in enumerate(WAYS):
        patterns = Counter(filter(None, map(way.pattern, seen)))
        for pattern, count in patterns.most_common(1):
            found.append((sum(pattern) < 2, -count, rank, way, pattern))
    # a single number may be cut by a decimal comma: then lone columns are tried, too
    for *_, way, pattern in sorted(found, key=lambda one: one[:3]):
        yield way, pattern


def _read(
    lines: Sequence[str], way: _Way, pattern: tuple[bool, ...], encoding: str, wanted: Wanted
) -> Raw:
    first, last, columns = _table(lines, way, pattern)
    heads = _headings(lines[:first], way, len(pattern))
    if way.delimiter == "," and first and len(pattern) == 2 * len(way.cells(lines[first - 1])) > 2:
        raise SignalError(
            "expected commas between columns or within numbers, found both; export with another "
            "delimiter, or with decimal points"
        )
    header = [one for one in lines[:first] if one.strip()][:LOOKED_AT]
    numeric = [at for at, one in enumerate(pattern) if one]
    if len(numeric) == 1 or (wanted.interval is not None and wanted.time is None):
        time_at, source = None, "header" if wanted.interval is None else "option"
    else:
        time_at, source = _time_column(columns, numeric, heads, wanted), "rows"
    signal_at = _signal_column(numeric, heads, time_at, wanted)
    counted = time_at is not None and wanted.time is None and not TIME_WORD.search(heads[time_at])
    if counted and (clocks := _clocks(lines)):
        raise clocks
    unit, unit_from = _time_unit(header, "" if time_at is None else heads[time_at], wanted)
    if time_at is None:
        start, interval = _grid(header, TIME_UNITS[unit], wanted)
        times = np.asarray(start + interval * np.arange(columns[signal_at].size))
        quantum = 0.0
    else:
        times = columns[time_at]
        quantum = _quantum(lines, first, way, time_at)
    return Raw(
        layout=Layout(
            form="text",
            encoding=encoding,
            delimiter=DELIMITERS[way.delimiter] if len(pattern) > 1 else "",
            decimal="comma" if way.decimal == "," else "point",
            first_line=first + 1,
            last_line=last + 1,
            time_column="" if time_at is None else _label(time_at, heads),
            signal_column=_label(signal_at, heads) + _beside(numeric, signal_at, wanted),
            times_from=source,
            time_unit=unit,
            time_unit_from=unit_from,
        ),
        times=times,
        values=columns[signal_at],
        signal_unit=_signal_unit(header, heads[signal_at]),
        quantum=quantum,
    )


def _skipped(line: str) -> bool:
    return not line.strip() or line.lstrip()[:1] in "#%'" or line.lstrip().startswith("//")


def _table(
    lines: Sequence[str], way: _Way, pattern: tuple[bool, ...]
) -> tuple[int, int, dict[int, FloatArray]]:
    """First and last line of the points, and each column of numbers, NaN where one is missing."""
    fits = [way.pattern(one) == pattern for one in lines[:LOOKED_AT]]
    if True not in fits:
        raise SignalError("expected points in the first lines, found none; shorten the header")
    first = _start(lines, way, pattern, fits)
    numeric = [at for at, one in enumerate(pattern) if one]
    numbered = [(at, one) for at, one in enumerate(lines[first:], first) if not _skipped(one)]
    table = _quick([one for _, one in numbered], way, len(pattern))
    if table is not None:
        return first, numbered[-1][0], {at: table[:, at] for at in numeric}
    rows, last, wrong = [], first, None
    for at, line in numbered:
        if way.pattern(line) == pattern:
            if wrong is not None:
                raise SignalError(
                    f"line {wrong + 1}: expected {sum(pattern)} "
                    f"{'number' if sum(pattern) == 1 else 'numbers'} as in the lines around, "
                    f"found {shortened(lines[wrong], 40)}; correct or cut the line"
                )
            rows.append(way.cells(line))
            last = at
        elif wrong is None:
            wrong = at
    columns = {at: np.array([way.number(row[at]) for row in rows], dtype=float) for at in numeric}
    return first, last, columns


def _quick(rows: Sequence[str], way: _Way, count: int) -> FloatArray | None:
    """All rows at once, many times faster; None where some are not plain numbers."""
    if way.decimal == ",":
        if any("." in one for one in rows):
            return None
        rows = [one.replace(",", ".") for one in rows]
    try:
        delimiter = None if way.delimiter == " " else way.delimiter
        table = np.loadtxt(rows, delimiter=delimiter, ndmin=2, comments=None, quotechar='"')
    except ValueError:
        return None
    return table if table.shape[1] == count else None


def _start(lines: Sequence[str], way: _Way, pattern: tuple[bool, ...], fits: Sequence[bool]) -> int:
    """The first line of two that fit: a header may hold one that looks like a point."""
    starts = [at for at, fit in enumerate(fits) if fit and (at == 0 or not fits[at - 1])]
    best, longest = starts[0], 0
    for at in starts:
        run = 0
        for line in lines[at : at + LOOKED_AT]:
            if _skipped(line):
                continue
            if way.pattern(line) != pattern:
                break
            run += 1
        if run > longest:
            best, longest = at, run
        if run > 1:
            break
    return best


def _headings(header: Sequence[str], way: _Way, count: int) -> list[str]:
    """What stands above each column: the last two lines with as many cells and no number."""
    rows: list[list[str]] = []
    for line in reversed([one for one in header if one.strip()][-4:]):
        cells = way.cells(line.lstrip("#%'/ "))
        if len(cells) != count or way.pattern(line) or (count == 1 and re.search("[:=]", line)):
            break
        rows.insert(0, cells)
    if rows:
        return [" ".join(filter(None, column)) for column in zip(*rows[-2:], strict=True)]
    # words with spaces between them, above columns with spaces between them
    above = (
        re.split(r"\t|\s{2,}|(?<=[\])])\s+", header[-1].lstrip("#%'/ ").strip()) if header else []
    )
    return above if len(above) == count else [""] * count


def _label(at: int, heads: Sequence[str]) -> str:
    text = "".join(one for one in heads[at] if one.isprintable()).strip()[:60]
    return f"{at + 1} {text}".strip()


def _named(asked: int | str, numeric: Sequence[int], heads: Sequence[str], what: str) -> int:
    """The column that is asked for by number or heading."""
    if isinstance(asked, int) or asked.strip().isdigit():
        at = int(asked) - 1
    else:
        close = [
            k
            for k, one in enumerate(heads)
            if one and one.lower().startswith(asked.lower().strip())
        ]
        at = close[0] if close else -1
    if at not in numeric:
        known = ", ".join(_label(one, heads) for one in numeric)
        raise SignalError(
            f"expected a column for the {what} of {known}, found {shortened(str(asked), 40)}; "
            "name one of these"
        )
    return at


def _time_column(
    columns: dict[int, FloatArray], numeric: Sequence[int], heads: Sequence[str], wanted: Wanted
) -> int:
    if wanted.time is not None:
        return _named(wanted.time, numeric, heads, "time")
    rising = [
        at
        for at in numeric
        if np.ptp(columns[at]) > 0 and np.mean(np.diff(columns[at]) >= 0) > 0.99
    ]
    named = [at for at in numeric if TIME_WORD.search(heads[at].replace("_", " "))]
    chosen = [*(at for at in named if at in rising), *named, *rising]
    if not chosen:
        raise SignalError(
            "expected a column of rising times, found none; name it, or give the interval between "
            "points"
        )
    return chosen[0]


def _signal_column(
    numeric: Sequence[int], heads: Sequence[str], time_at: int | None, wanted: Wanted
) -> int:
    if wanted.signal is not None:
        return _named(wanted.signal, numeric, heads, "signal")
    others = [at for at in numeric if at != time_at]
    behind = [at for at in others if time_at is None or at > time_at]
    return (behind or others)[0]


def _beside(numeric: Sequence[int], at: int, wanted: Wanted) -> str:
    """That there are further columns of numbers, where none was asked for."""
    behind = [str(one + 1) for one in numeric if one > at]
    return (
        f", of columns {', '.join([str(at + 1), *behind])}"
        if behind and wanted.signal is None
        else ""
    )


def _time_unit(header: Sequence[str], heading: str, wanted: Wanted) -> tuple[str, str]:
    if wanted.time_unit:
        return wanted.time_unit, "option"
    for found in (
        TIME_UNIT.findall(heading.replace("_", " ")),
        [one for line in header for one in TIME_UNIT_SAID.findall(line)],
        # a header of one line whose words could not be told apart
        TIME_UNIT.findall(header[-1].replace("_", " ")) if header and not heading else [],
        [] if heading else _interval_units(header),
    ):
        if found:
            return UNIT_OF[found[-1].lower()], "file"
    return "s", "assumed"


def _interval_units(header: Sequence[str]) -> list[str]:
    """Units of time in lines of a header that give the interval between points."""
    named = re.compile(rf"{SAID['interval']}[^\d+-]{{0,30}}?{NUMBER}.{{0,20}}", re.I)
    found = [one[0] for line in header if (one := named.search(line))]
    units = [unit for text in found for unit in TIME_UNIT.findall(text.replace("_", " "))]
    rates = (re.search(rf"{SAID['rate']}.*{NUMBER}\s*Hz\b", line, re.I) for line in header)
    return units or ["s"] * any(rates)


def _signal_unit(header: Sequence[str], heading: str) -> str:
    bracket = re.search(r"[(\[]([^)\]]{1,20})[)\]]", heading)
    if bracket:
        return bracket[1]
    found = SIGNAL_UNIT.findall(heading.replace("_", " "))
    if not found:
        axis = [one for one in header if re.search(r"\b(?:signal|detector|y)\b", one, re.I)]
        found = [unit for line in axis for unit in SIGNAL_UNIT.findall(line)]
    return found[-1] if found else ""


def _grid(header: Sequence[str], unit: float, wanted: Wanted) -> tuple[float, float]:
    """Start and interval in the file's unit of time, from the header or as given."""
    if wanted.interval is not None:
        return wanted.start / unit, wanted.interval / unit
    start = _said(header, "start", unit)
    interval, rate = _said(header, "interval", unit), _said(header, "rate", unit)
    if interval is None and rate:
        interval = 1 / rate
    if interval is None or not interval > 0:
        raise SignalError(
            "expected a column of times, or an interval in the header, found values alone; give "
            "the interval between points"
        )
    return start or 0.0, interval


def _said(header: Sequence[str], key: str, unit: float) -> float | None:
    """A number that the header gives, in the file's unit of time (of a rate: per that)."""
    units = r"(Hz|[1/]+s|/?min|pts/s|points/s)?" if key == "rate" else rf"({_UNIT})?\b"
    asked = re.compile(rf"{SAID[key]}[^\d+-]{{0,30}}?{NUMBER}\s*[\])]?\s*{units}", re.I)
    for line in header:
        found = asked.search(line)
        if found:
            value, word = float(found[1].replace(",", ".")), (found[2] or "").lower()
            inside = TIME_UNIT.search(line[: found.start(1)].replace("_", " "))
            if key == "rate":
                return value * unit / (60.0 if "min" in word else 1.0)
            if word or inside:
                size = TIME_UNITS[UNIT_OF[word or inside[1].lower()]]  # type: ignore[index]
                return value * size / unit
            return value
    return None


def _quantum(lines: Sequence[str], first: int, way: _Way, at: int) -> float:
    """How far apart the times can be as they are written, in the file's unit."""
    sign = "," if way.decimal == "," else "."
    places = []
    for line in lines[first : first + 50]:
        cells = way.cells(line)
        if at < len(cells) and "e" not in cells[at].lower():
            places.append(len(cells[at].partition(sign)[2]))
    return 10.0 ** -max(places) if places else 0.0
