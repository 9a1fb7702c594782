"""The command ``tailrace``. Commands are imported when they are used."""

import contextlib
import errno
import importlib
import os
import subprocess
import sys
import tempfile
import traceback
from pathlib import Path
from typing import Any, NoReturn

import click

from tailrace.errors import AccuracyError, TailraceError, printable

COMMANDS = {
    "run": ("tailrace.cli.run", "Propagate every solute through the path and print the result."),
    "check": ("tailrace.cli.check", "Check a scenario without running it."),
    "verify": ("tailrace.cli.verify", "Compute the tubes with two solvers and compare."),
    "sweep": ("tailrace.cli.sweep", "Vary fields of a scenario: what becomes of the peaks?"),
    "improve": ("tailrace.cli.improve", "Which changes to make, in which order, at what price?"),
    "film": ("tailrace.cli.film", "Show the plume moving through a tube, as a GIF or an MP4."),
    "figures": ("tailrace.cli.figures", "Compute the figures that explain how bands broaden."),
    "tolerance": ("tailrace.cli.tolerance", "How far may inputs lie off? Limits and confidence."),
    "adjust": ("tailrace.cli.adjust", "May a method be adjusted so? What follows from it?"),
    "compare": ("tailrace.cli.compare", "Hold measured signals against their simulation."),
    "measure": ("tailrace.cli.measure", "Read measured signals; peaks with their uncertainty."),
    "fit": ("tailrace.cli.fit", "Fit fields of a scenario to measured signals."),
    "qualify": (
        "tailrace.cli.qualify",
        "Check this installation; the model and measurements.",
    ),
    "diagnose": ("tailrace.cli.diagnose", "Which part is at fault? From measured signals."),
    "protocol": ("tailrace.cli.protocol", "What to measure at an instrument: a plan, a sheet."),
    "practice": ("tailrace.cli.practice", "Invent measurements with a hidden fault, to learn."),
    "examples": ("tailrace.cli.starting", "List the scenarios that come with tailrace; copy one."),
    "new": ("tailrace.cli.starting", "Write a commented scenario from a few questions."),
    "sign": ("tailrace.cli.sign", "Sign a record in a file beside it: who, why, as what, when."),
    "report": ("tailrace.cli.pages", "Make one HTML report of a record."),
    "page": ("tailrace.cli.pages", "Write a page with sliders, to play with and to teach."),
    "bench": (
        "tailrace.cli.bench",
        "Write the bench: an instrument to build and change in a browser.",
    ),
    "parts": ("tailrace.cli.reference", "List the parts that instruments have, and what is usual."),
    "eluent": ("tailrace.cli.reference", "Print viscosity and density of a mixture of liquids."),
    "schema": ("tailrace.cli.reference", "Print the JSON Schema of scenario files, for editors."),
}
"""Where each command lives, and its line in ``tailrace --help``; a new command is a line here."""

INTERRUPTED = 130
"""Exit code after an interrupt from the keyboard: 128 and the number of the signal."""


UNFORESEEN = 70
"""Exit code of an error in the program itself (EX_SOFTWARE of sysexits.h)."""
CACHE, OWN_CACHE = "NUMBA_CACHE_DIR", "tailrace-cache-"
CACHING = ("numba", "core", "caching.py")
OWN = ("tailrace", "tailrace.exe", "__main__.py")
"""How the program is called where this process is nothing else."""


class LazyGroup(click.Group):
    """A group that knows its commands by name and turns errors into exit codes."""

    def main(self, *arguments: Any, **more: Any) -> Any:
        """Run a command; a closed output takes what is said as a device that forgets it."""
        for name in ("stdout", "stderr"):
            if getattr(sys, name) is None:
                setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115
        return super().main(*arguments, **more)

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names of the commands, in the order of the help."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, name: str) -> click.Command | None:
        """Import a command; None where there is none of this name."""
        if name not in COMMANDS:
            return None
        command: click.Command = getattr(importlib.import_module(COMMANDS[name][0]), name)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command, and say which there are where there is none of this name."""
        if args[0] not in COMMANDS and not args[0].startswith("-"):
            known = ", ".join(COMMANDS)
            raise click.UsageError(f"no command {args[0][:60]!r}; there are {known}", ctx)
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the list of commands without importing them."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, line) for name, (_, line) in COMMANDS.items()])

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; what tailrace refuses is said on standard error, without a trace."""
        try:
            return super().invoke(ctx)
        except TailraceError as error:
            click.echo(printable(str(error)), err=True)
            ctx.exit(error.exit_code)
        except KeyboardInterrupt:
            click.echo("interrupted", err=True)
            ctx.exit(INTERRUPTED)
        except (click.ClickException, click.exceptions.Exit, click.Abort):
            raise
        except Exception as problem:
            if isinstance(problem, OSError) and problem.errno == errno.EPIPE:
                raise
            _stumble(ctx, problem)


def _stumble(ctx: click.Context, problem: Exception) -> NoReturn:
    """What nobody foresaw: one sentence, and its details in a file."""
    again = OWN_CACHE in os.environ.get(CACHE, "")
    if _of_cache(problem) and not again and sys.argv[0].endswith(OWN):
        # Compiled code that was stored is damaged: once more, with a cache of its own.
        with tempfile.TemporaryDirectory(prefix=OWN_CACHE) as folder:
            command = [sys.executable, "-m", "tailrace", *sys.argv[1:]]
            ctx.exit(subprocess.call(command, env={**os.environ, CACHE: folder}))
    if isinstance(problem, OSError):
        name = f" at {problem.filename}" if problem.filename else ""
        found = printable(f"{problem.strerror or problem}{name}")
        click.echo(f"expected files and streams that can be used, found: {found}", err=True)
        ctx.exit(TailraceError.exit_code)
    if isinstance(problem, MemoryError):
        click.echo("expected more memory than there is; ask for less at a time", err=True)
        ctx.exit(AccuracyError.exit_code)
    where = ""
    with contextlib.suppress(OSError):
        handle, file = tempfile.mkstemp(prefix="tailrace-error-", suffix=".txt")
        with os.fdopen(handle, "w") as stream:
            traceback.print_exception(problem, file=stream)
        where = f"; its details are in {file}, please send them with a report"
    kind = type(problem).__name__
    click.echo(f"an error that tailrace did not foresee ({kind}){where}", err=True)
    ctx.exit(UNFORESEEN)


def _of_cache(problem: Exception) -> bool:
    """Whether it arose where numba reads compiled code that it has stored, or writes it."""
    frames = traceback.extract_tb(problem.__traceback__)
    return any(Path(one.filename).parts[-3:] == CACHING for one in frames)


def _version(context: click.Context, _: click.Parameter, asked: bool) -> None:
    if not asked or context.resilient_parsing:
        return
    from tailrace.identity import code_sha256, own_version
    from tailrace.records.provenance import libraries

    click.echo(f"tailrace {own_version()}\ncode, SHA-256 {code_sha256()}\n{libraries()}")
    context.exit()


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.option(
    "--version",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=_version,
    help="Version and commit, a hash of the code, and what computes beside it.",
)
def main() -> None:
    """Simulate how an injected band broadens on its way through a liquid chromatograph."""
