"""What every benchmark shares: one thread, the best of several runs, a table, and its bars.

Import it first: libraries read the number of threads when they are loaded.
"""

import json
import os
import sys
import time
from dataclasses import asdict, dataclass

for library in ("OMP", "OPENBLAS", "MKL", "NUMBA"):
    os.environ.setdefault(f"{library}_NUM_THREADS", "1")


@dataclass(frozen=True, kw_only=True)
class Bar:
    """One line that a benchmark has to clear.

    Parameters
    ----------
    name : str
    measured, bound : float, unit as the name says
    at_least : bool
        False: ``measured`` may be at most ``bound``.
    """

    name: str
    measured: float
    bound: float
    at_least: bool = True

    @property
    def held(self) -> bool:
        """Whether the bar was cleared; a value that is not a number does not clear it."""
        if self.at_least:
            return bool(self.measured >= self.bound)
        return bool(self.measured <= self.bound)


def best_time(call, repeats=3, budget=20.0):
    """Shortest wall time of a call after one that warms it up.

    Parameters
    ----------
    call : callable
        Without arguments.
    repeats : int
    budget : float, s
        No further repeat is begun after this time.

    Returns
    -------
    float, s
        The minimum: on a shared machine everything else only adds to it.
    """
    began = time.perf_counter()
    call()
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        call()
        times.append(time.perf_counter() - start)
        if time.perf_counter() - began > budget:
            break
    return min(times)


def finish(title, rows, bars, as_json, notes=()):
    """Print the rows and the bars, and leave with exit code 1 if a bar was missed.

    Parameters
    ----------
    title : str
    rows : list of dict
        The same keys in each; text or numbers.
    bars : list of Bar
    as_json : bool
        Print one object in place of the table.
    notes : iterable of str
    """
    if as_json:
        said = [{**asdict(bar), "held": bar.held} for bar in bars]
        whole = {"benchmark": title, "rows": rows, "bars": said, "notes": list(notes)}
        print(json.dumps(_without_nan(whole)))
    else:
        print(f"\n{title}\n")
        _print_table(rows)
        for note in notes:
            print(f"  {note}")
        for bar in bars:
            sign = ">=" if bar.at_least else "<="
            verdict = "held  " if bar.held else "MISSED"
            print(f"  {verdict}  {bar.name}: {bar.measured:.4g} {sign} {bar.bound:g}")
    sys.exit(0 if all(bar.held for bar in bars) else 1)


def _without_nan(value):
    """The same object with null in place of what JSON has no number for."""
    if isinstance(value, dict):
        return {key: _without_nan(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [_without_nan(inner) for inner in value]
    if isinstance(value, float) and not abs(value) < float("inf"):
        return None
    return value


def _print_table(rows):
    texts = [{key: _text(value) for key, value in row.items()} for row in rows]
    keys = list(rows[0]) if rows else []
    width = {key: max([len(key)] + [len(text[key]) for text in texts]) for key in keys}
    for text in [{key: key for key in keys}, *texts]:
        print("  " + "  ".join(text[key].rjust(width[key]) for key in keys))
    print()


def _text(value):
    return f"{value:.4g}" if isinstance(value, float) else str(value)
