"""What commands say of files that they cannot write, and of studies that can go on."""

import contextlib

import click

from tailrace.errors import TailraceError


def no_file(out, problem) -> TailraceError:
    """The error for a file (path) that cannot be written, from the system's own (OSError)."""
    return TailraceError(
        f"--out {out}: expected a file in a folder that can be written, found: "
        f"{problem.strerror or problem}; name another file"
    )


def no_folder(out, problem) -> TailraceError:
    """The error for a folder (path) that cannot be written, from the system's own (OSError)."""
    return TailraceError(
        f"--out {out}: expected a folder that can be written, found: "
        f"{problem.strerror or problem}; name another folder"
    )


@contextlib.contextmanager
def resumable(kept, refusal):
    """Say where a study that is stopped goes on, and refuse a folder that cannot be written.

    Parameters
    ----------
    kept : KeptBlocks, KeptBatches or None
        None: nothing is kept, and nothing is said.
    refusal : callable
        ``refusal(folder, problem)`` makes the error of an OSError, as ``no_folder`` does.
    """
    try:
        yield
    except KeyboardInterrupt:
        if kept is not None:
            click.echo(f"{kept.folder} keeps what is done; the same command goes on", err=True)
        raise
    except OSError as problem:
        if kept is None:
            raise
        raise refusal(kept.folder, problem) from problem
