"""The options of ``tailrace improve``, read: aims and limits."""

import re
from pathlib import Path

from tailrace.errors import QuantityError, TailraceError


def wanted(aim, solute, pair) -> str:
    """The solute or pair that counts; empty for the worst.

    Parameters
    ----------
    aim : str
    solute, pair : str or None
        As they were given.

    Raises
    ------
    TailraceError
        Where they do not go together.
    """
    if solute is not None and pair is not None:
        raise TailraceError("expected --solute or --pair, found both; leave one out")
    if pair is not None and aim != "resolution":
        raise TailraceError(
            f"--pair: expected it with --aim resolution, found --aim {aim}; "
            "take --solute, or that aim"
        )
    if solute is not None and aim == "resolution":
        raise TailraceError(
            '--solute: expected a pair for --aim resolution, found a solute; write --pair "A/B"'
        )
    if pair is not None and "/" not in pair:
        raise TailraceError(
            f'--pair: expected two solutes with a stroke between them such as "A/B", found '
            f'"{pair[:60]}"; put both'
        )
    return solute or pair or ""


def constraints_of(limits):
    """Limits in SI.

    Parameters
    ----------
    limits : dict of str to str or None
        As they were given, by the names of the options.

    Returns
    -------
    Constraints

    Raises
    ------
    TailraceError
        For one that is no quantity of its kind.
    """
    from tailrace.quantities.parse import parse
    from tailrace.studies.improving.aims import Constraints

    found = {}
    kinds = {"pressure": "pressure", "cell_pressure": "pressure", "effort": "effort"}
    for name, text in limits.items():
        if text is None:
            continue
        option = f"--{name.replace('_', '-')}"
        if name in kinds:
            try:
                found[name] = parse(text, kinds[name])
            except QuantityError as problem:
                raise TailraceError(f"{option}: {problem}") from problem
        else:
            found[name] = _number(option, text)
    return Constraints(**found)


def _number(option, text):
    """A number that is not negative."""
    if re.fullmatch(r"\s*[0-9]*\.?[0-9]+\s*", text) is None:
        raise TailraceError(
            f'{option}: expected a number of 0 or more, found "{text[:60]}"; write digits alone'
        )
    return float(text)


def share_of(text) -> float:
    """``2%`` or ``0.02`` as a fraction, 1; raises TailraceError for anything else."""
    match = re.fullmatch(r"\s*([0-9]*\.?[0-9]+)\s*(%?)\s*", text)
    share = float(match.group(1)) / (100 if match.group(2) else 1) if match else -1
    if not 0 <= share < 1:
        raise TailraceError(
            f'--stop: expected a share from 0% to below 100%, found "{text[:60]}"; write 2% or 0.02'
        )
    return share


def expect_file(expect):
    """The file that ``--expect`` names, a Path; None where it names none.

    Parameters
    ----------
    expect : str or None
        As it was given; ``-`` without a name.

    Raises
    ------
    TailraceError
        Before any work, where it could not be written in the end.
    """
    if expect is None or expect == "-":
        return None
    file = Path(expect)
    if file.suffix not in (".csv", ".json"):
        raise TailraceError(
            f"--expect {file}: expected a file name that ends in .csv or .json, found another; "
            "add the ending, or put --expect last to print without a file"
        )
    if not file.parent.is_dir():
        raise TailraceError(
            f"--expect {file}: expected a file in a folder that exists, found none; make "
            f"{file.parent}, or name another file"
        )
    return file
