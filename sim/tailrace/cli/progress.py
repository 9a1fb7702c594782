"""How far a study is, told on a terminal."""

import contextlib
import sys


@contextlib.contextmanager
def progress_bar(what="cases"):
    """A bar on standard error with the time left; nothing where that is not a terminal.

    Parameters
    ----------
    what : str
        Of what there are many.

    Yields
    ------
    callable or None
        To be called as ``progress(done, total)``.
    """
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn
    from rich.progress import TimeRemainingColumn as TimeLeft

    columns = (
        BarColumn(),
        MofNCompleteColumn(),
        TextColumn(f"{what},"),
        TimeLeft(),
        TextColumn("left"),
    )
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("", total=None)
        yield lambda done, total: bar.update(task, completed=done, total=total)
