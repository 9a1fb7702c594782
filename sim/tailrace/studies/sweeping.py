"""Making a sweep: its cases travel side by side, block after block."""

import hashlib
import os
from concurrent.futures import ThreadPoolExecutor, as_completed
from dataclasses import dataclass, fields

import numpy as np

from tailrace.errors import AccuracyError, BudgetError
from tailrace.journey import PartResult, Pressure, Result, travel
from tailrace.studies.axis import Axis
from tailrace.studies.cases import axes_of, cases_of, choices, described
from tailrace.studies.lanes import figures_of, joined, kinship

LANES = 8
"""Of one block, as a rule: enough for the processor's vector units, few enough that lanes which
need a fine grid hold up few others. Threads work on blocks, so that their number changes nothing.
"""


@dataclass(frozen=True, kw_only=True)
class Plan:
    """A sweep that has not been made yet. Made by ``planned``.

    Parameters
    ----------
    scenario : Scenario
    axes : tuple of Axis
    together : bool
    itineraries : tuple of Itinerary
        One a case; the last axis changes fastest.
    blocks : tuple of tuple of int
        Cases that travel together. They do not depend on what is already done: neither do the
        numbers.
    """

    scenario: object
    axes: tuple[Axis, ...]
    together: bool
    itineraries: tuple
    blocks: tuple[tuple[int, ...], ...]

    @property
    def fingerprint(self) -> str:
        """SHA-256 of every number that the journeys start from."""
        digest = hashlib.sha256(repr(self.blocks).encode())
        for itinerary in self.itineraries:
            for record in (record for pair in itinerary.passages for record in pair):
                for field in fields(record):
                    value = getattr(record, field.name)
                    plain = value.tobytes() if isinstance(value, np.ndarray) else repr(value)
                    digest.update(plain if isinstance(plain, bytes) else plain.encode())
            digest.update(repr((itinerary.resolution, itinerary.pressure_limit)).encode())
        return digest.hexdigest()

    def where(self, case) -> str:
        """A case in words: ``tube.length = 50 mm, method.flow = 0.1 mL/min``."""
        return described(self.axes, choices(self.axes, self.together)[case])


@dataclass(frozen=True, kw_only=True)
class Sweep:
    """All that a sweep says.

    Parameters
    ----------
    plan : Plan
    figures : dict of str to array
        As of ``tailrace.studies.lanes.figures_of``, the cases in the order of the plan. NaN where
        a case could not be computed: ``computed`` is False then and ``warnings`` says why.
    """

    plan: Plan
    figures: dict[str, np.ndarray]

    @property
    def solutes(self) -> tuple[str, ...]:
        """Names of the solutes."""
        return self.plan.itineraries[0].lanes

    @property
    def parts(self) -> tuple:
        """The parts of the first case, injector first."""
        return tuple(part for part, _ in self.plan.itineraries[0].passages)

    @property
    def shape(self) -> tuple[int, ...]:
        """Of the grid of cases: one length for each axis, or the number of cases in step."""
        axes = self.plan.axes
        return (len(axes[0]),) if self.plan.together else tuple(len(one) for one in axes)

    def case(self, case) -> Result:
        """What one case says, without its bands.

        Parameters
        ----------
        case : int
            Its place in the order of the plan.
        """
        own = {name: values[case] for name, values in self.figures.items()}
        parts = tuple(
            PartResult(
                name=part.name,
                kind=part.kind,
                band=None,
                **{name: values[row] for name, values in _group(own, "parts").items()},
            )
            for row, part in enumerate(self.parts)
        )
        flowed = [one.name for one in self.parts if one.kind not in ("injector", "detector")]
        return Result(
            lanes=self.solutes,
            parts=parts,
            recorded=_group(own, "recorded"),
            column_alone=_group(own, "column_alone") or None,
            column_band=None,
            numerical_error=_group(own, "numerical_error"),
            pressure=Pressure(
                total=float(own["pressure/total"]),
                parts=dict(zip(flowed, own["pressure/drop"].tolist(), strict=True)),
                cell_inlet=float(own["pressure/cell_inlet"]),
            ),
            warnings=tuple(str(own["warnings"]).splitlines()),
            signal=_group(own, "signal"),
        )


def _group(figures, group):
    return {
        name.partition("/")[2]: values
        for name, values in figures.items()
        if name.startswith(f"{group}/")
    }


def sweep(scenario, vary, together=False, progress=None) -> Sweep:
    """Vary fields of a scenario and travel every case.

    Parameters
    ----------
    scenario : Scenario
    vary : sequence of str
        ``"tube.length = 50 mm .. 1 m, 40 points"``; see ``tailrace.studies.axis.axis``.
    together : bool
        True: the fields change in step. False: every value of one meets every value of the others.
    progress : callable, optional
        Called as ``progress(done, total)`` with numbers of cases.

    Returns
    -------
    Sweep

    Raises
    ------
    StudyError, ScenarioError, BudgetError
        For a wrong axis or case, before anything is computed.
    AccuracyError
        Where no case at all can be computed.
    """
    return carried_out(planned(scenario, vary, together), progress=progress)


def planned(scenario, vary, together=False) -> Plan:
    """Check every case of a sweep and share them out to blocks; parameters as of ``sweep``."""
    axes = axes_of(scenario, vary, together)
    itineraries = tuple(one.itinerary() for one in cases_of(scenario, axes, together))
    return Plan(
        scenario=scenario,
        axes=axes,
        together=together,
        itineraries=itineraries,
        blocks=_blocks(itineraries),
    )


def carried_out(plan, kept=None, progress=None) -> Sweep:
    """Make a planned sweep.

    Parameters
    ----------
    plan : Plan
    kept : object, optional
        Keeps blocks that are done: ``kept.read(index)`` gives the figures of a block or None,
        ``kept.write(index, figures)`` keeps them; see ``tailrace.records.sweep_blocks``.
    progress : callable, optional
        Called as ``progress(done, total)`` with numbers of cases.

    Returns
    -------
    Sweep

    Raises
    ------
    AccuracyError
        Where no case at all can be computed.
    """
    found = [None if kept is None else kept.read(index) for index in range(len(plan.blocks))]
    done = sum(len(block) for block, one in zip(plan.blocks, found, strict=True) if one)
    _tell(progress, done, plan)
    for index, figures in _finished(plan, [at for at, one in enumerate(found) if one is None]):
        if kept is not None:
            kept.write(index, figures)
        found[index] = figures
        done += len(plan.blocks[index])
        _tell(progress, done, plan)
    figures = _gathered(found, plan.blocks)
    if not figures["computed"].any():
        raise AccuracyError(f"no case could be computed; at {plan.where(0)}: {_why(figures, 0)}")
    return Sweep(plan=plan, figures=figures)


def _tell(progress, done, plan):
    if progress is not None:
        progress(done, len(plan.itineraries))


def _finished(plan, indexes):
    """Number and figures of each of these blocks, as they are done."""
    pool = ThreadPoolExecutor(int(os.environ.get("NUMBA_NUM_THREADS", os.cpu_count() or 1)))
    try:
        running = {
            pool.submit(_travelled, [plan.itineraries[case] for case in plan.blocks[index]]): index
            for index in indexes
        }
        for future in as_completed(running):
            yield running[future], future.result()
    finally:
        # An interrupt waits for the blocks that are under way, not for those that are not.
        pool.shutdown(cancel_futures=True)


def _blocks(itineraries):
    """Cases that are kin, those that need like grids side by side, cut into blocks."""
    kin = {}
    for case, itinerary in enumerate(itineraries):
        kin.setdefault(kinship(itinerary), []).append(case)
    size = max(1, LANES // len(itineraries[0].lanes))
    blocks = []
    for cases in kin.values():
        ordered = sorted(cases, key=lambda case: (*_demand(itineraries[case]), case))
        blocks += [tuple(ordered[at : at + size]) for at in range(0, len(ordered), size)]
    return tuple(blocks)


def _demand(itinerary):
    """What the grid of a tube depends on most: the least mixing number, then the time in tubes."""
    tubes = [(part, stream) for part, stream in itinerary.passages if part.kind == "tube"]
    mixing = min((float(np.min(part.mixing_number(stream))) for part, stream in tubes), default=0.0)
    return mixing, sum(float(np.max(part.residence(stream))) for part, stream in tubes)


def _travelled(itineraries):
    """Figures of a block; where it cannot travel, each case goes alone, and says so if it fails."""
    try:
        return figures_of(travel(joined(itineraries)), itineraries)
    except (BudgetError, AccuracyError) as error:
        if len(itineraries) == 1:
            return {"computed": np.array([False]), "warnings": np.array([f"not computed: {error}"])}
        alone = [_travelled([one]) for one in itineraries]
        return _gathered(alone, [(case,) for case in range(len(alone))])


def _gathered(found, blocks):
    """Figures of all blocks in the order of the cases; NaN where a block has no such figure."""
    count = sum(len(block) for block in blocks)
    whole = {}
    for figures, block in zip(found, blocks, strict=True):
        for name, values in figures.items():
            if name not in whole:
                empty = np.nan if values.dtype.kind == "f" else values.dtype.type()
                kind = object if values.dtype.kind == "U" else values.dtype
                whole[name] = np.full((count, *values.shape[1:]), empty, dtype=kind)
            whole[name][list(block)] = values
    whole["warnings"] = whole["warnings"].astype(str)
    return whole


def _why(figures, case):
    return str(figures["warnings"][case]).removeprefix("not computed: ")
