"""Where a result comes from: all that is needed to compute it again."""

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Provenance:
    """What goes into a record beside the numbers. No time and no host: the same input gives the
    same record.

    Parameters
    ----------
    title : str
    scenario_sha256 : str
        Of the bytes of the scenario file.
    scenario : str
        The text of the scenario file.
    version : str
        Of tailrace.
    assumptions : tuple of str
        Each default and estimate that was used, one line each.
    """

    title: str
    scenario_sha256: str
    scenario: str
    version: str
    assumptions: tuple[str, ...] = ()
