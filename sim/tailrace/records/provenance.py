"""Where a result comes from: all that is needed to compute it again."""

import json
import platform
from collections.abc import Mapping
from dataclasses import dataclass, field
from importlib.metadata import version
from typing import TYPE_CHECKING

from tailrace.identity import code_sha256, own_version

if TYPE_CHECKING:
    from tailrace.records.envelope import Signature
    from tailrace.scenario.scenario import Scenario

COMPUTING = ("numpy", "scipy", "numba", "xarray", "h5py")
"""What the numbers of a record, and the record, depend on besides tailrace itself."""


def libraries() -> str:
    """Python and the libraries here: ``Python 3.11.7, numpy 2.4.6, ...``."""
    named = (f"{name} {version(name)}" for name in COMPUTING)
    return ", ".join([f"Python {platform.python_version()}", *named])


def computing() -> str:
    """``libraries()`` and the family of the processor: on another the last digits may differ."""
    import numpy as np

    found = np.show_config("dicts")["SIMD Extensions"].get("found", [])
    return f"{libraries()}, {' '.join([platform.machine(), *found[-1:]])}"


@dataclass(frozen=True, kw_only=True)
class Provenance:
    """What goes into a record beside the numbers. No time and no host: the same input gives the
    same record.

    Parameters
    ----------
    scenario_sha256 : str
        Of the bytes of the scenario file.
    scenario : str
        The text of the scenario file.
    version : str
        Of tailrace.
    assumptions : tuple of str
        Each default and estimate that was used, one line each.
    libraries : str
        With which it was computed, and on what kind of processor; those that are here.
    code_sha256 : str
        Of the modules and tables of tailrace.
    options : str
        Of the command that computed it, as JSON; those on which numbers depend; empty: no command.
    files : dict of str to bytes
        What the scenario read, by the names that it uses.
    seal : str
        Of the record, once it is written.
    signatures : tuple of Signature
        Those beside the record.
    """

    title: str
    scenario_sha256: str
    scenario: str
    version: str
    assumptions: tuple[str, ...] = ()
    libraries: str = field(default_factory=computing)
    code_sha256: str = field(default_factory=code_sha256)
    options: str = ""
    files: Mapping[str, bytes] = field(default_factory=dict)
    seal: str = field(default="", compare=False)
    signatures: tuple["Signature", ...] = field(default=(), compare=False)


def provenance_of(scenario: "Scenario", options: Mapping[str, object] | None = None) -> Provenance:
    """Where the results of a scenario come from that is computed here with these options."""
    return Provenance(
        title=scenario.title,
        scenario_sha256=scenario.sha256,
        scenario=scenario.text,
        version=own_version(),
        assumptions=tuple(scenario.assumptions()),
        options="" if options is None else json.dumps(dict(options), sort_keys=True),
        files=scenario.files.contents(),
    )
