"""Many journeys: cases shared out to blocks of lanes, which threads travel and a folder keeps."""

import hashlib
from concurrent.futures import ThreadPoolExecutor, as_completed
from dataclasses import dataclass, fields
from functools import cached_property

import numpy as np

from tailrace.errors import AccuracyError, BudgetError, PartError
from tailrace.journey import travel
from tailrace.studies.lanes import figures_of, joined, kinship
from tailrace.threads import thread_count

LANES, ALIKE_LANES = 8, 32
"""Of one block, as a rule: enough for the processor's vector units, few enough that lanes which
need a fine grid hold up few others; more where all are much alike, which saves calls. Threads work
on blocks, so that their number changes nothing.
"""


UNCOMPUTED = (AccuracyError, BudgetError, PartError)
"""What spoils one case and not the study."""


@dataclass(frozen=True)
class Journeys:
    """Cases that have not been travelled yet.

    Parameters
    ----------
    itineraries : tuple of Itinerary
        One a case, all with the same solutes.
    lanes : int
        Of one block, as a rule.
    """

    itineraries: tuple
    lanes: int = LANES

    @cached_property
    def blocks(self) -> tuple[tuple[int, ...], ...]:
        """Cases that travel together.

        They do not depend on what is already done: neither do the numbers.
        """
        return _blocks(self.itineraries, self.lanes)

    @cached_property
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


def figures_of_all(journeys, where, kept=None, progress=None, carry=None) -> dict:
    """Travel every case.

    Parameters
    ----------
    journeys : Journeys
    where : callable
        ``where(case)`` says in words which case it is.
    kept : object, optional
        Keeps blocks that are done: ``kept.read(index)`` gives the figures of a block or None,
        ``kept.write(index, figures)`` keeps them; see ``tailrace.records.blocks``.
    progress : callable, optional
        Called as ``progress(done, total)`` with numbers of cases.
    carry : callable, optional
        ``carry(blocks)`` takes a dict of lists of Itinerary by number of the block, and yields
        number and figures of each as they are done; ``in_threads`` if it is left out.

    Returns
    -------
    dict of str to array
        As of ``tailrace.studies.lanes.figures_of``, in the order of the cases. NaN where a case
        could not be computed: ``computed`` is False then and ``warnings`` says why.

    Raises
    ------
    AccuracyError
        Where no case at all can be computed.
    """
    blocks, total = journeys.blocks, len(journeys.itineraries)
    found = [None if kept is None else kept.read(index) for index in range(len(blocks))]
    done = sum(len(block) for block, one in zip(blocks, found, strict=True) if one)
    told = progress or (lambda done, total: None)
    told(done, total)
    left = {
        index: [journeys.itineraries[case] for case in blocks[index]]
        for index, one in enumerate(found)
        if one is None
    }
    for index, figures in (carry or in_threads)(left):
        if kept is not None:
            kept.write(index, figures)
        found[index] = figures
        done += len(blocks[index])
        told(done, total)
    figures = gathered(found, blocks)
    if not figures["computed"].any():
        raise AccuracyError(f"no case could be computed; at {where(0)}: {_why(figures, 0)}")
    return figures


def in_threads(blocks, work=None):
    """Travel blocks on the threads of this machine.

    Parameters
    ----------
    blocks : dict of int to list of Itinerary
    work : callable, optional
        What is done with each of them; ``travelled`` if it is left out.

    Yields
    ------
    int, dict of str to array
        Number and figures of each block (or what ``work`` makes of it), as they are done.
    """
    pool = ThreadPoolExecutor(thread_count())
    try:
        running = {pool.submit(work or travelled, block): index for index, block in blocks.items()}
        for future in as_completed(running):
            yield running[future], future.result()
    finally:
        # An interrupt waits for the blocks that are under way, not for those that are not.
        pool.shutdown(cancel_futures=True)


def travelled(itineraries) -> dict:
    """Figures of a block; where it cannot travel, each case goes alone, and says so if it fails.

    Parameters
    ----------
    itineraries : list of Itinerary
        Kin, as ``tailrace.studies.lanes.kinship`` says.
    """
    try:
        return figures_of(travel(joined(itineraries)), itineraries)
    except UNCOMPUTED as error:
        if len(itineraries) == 1:
            return not_computed(error)
        alone = [travelled([one]) for one in itineraries]
        return gathered(alone, [(case,) for case in range(len(alone))])


def not_computed(error) -> dict:
    """Figures of a single case that cannot be computed, with the reason."""
    return {"computed": np.array([False]), "warnings": np.array([f"not computed: {error}"])}


def _blocks(itineraries, lanes):
    """Cases that are kin, those that need like grids side by side, cut into blocks."""
    kin = {}
    for case, itinerary in enumerate(itineraries):
        kin.setdefault(kinship(itinerary), []).append(case)
    size = max(1, lanes // len(itineraries[0].lanes))
    blocks = []
    for cases in kin.values():
        ordered = sorted(cases, key=lambda case: (*_demand(itineraries[case]), case))
        blocks += [tuple(ordered[at : at + size]) for at in range(0, len(ordered), size)]
    return tuple(blocks)


def _demand(itinerary):
    """What grids depend on most: least Fourier number by half octaves, then the column's width."""
    tubes = [
        (part, stream) for part, stream in itinerary.passages if part.smooths and not part.separates
    ]
    fourier = min(
        (float(np.min(part.fourier_number(stream))) for part, stream in tubes), default=1.0
    )
    columns = [pair for pair in itinerary.passages if pair[0].separates]
    width = sum(float(np.max(part.shortest_time(stream))) for part, stream in columns)
    residence = sum(float(np.max(part.residence(stream))) for part, stream in tubes)
    return round(2 * np.log2(fourier)), width, fourier, residence


def gathered(found, blocks) -> dict:
    """Figures of all blocks in the order of the cases; NaN where a block has no such figure.

    Parameters
    ----------
    found : sequence of dict
        One a block.
    blocks : sequence of sequence of int
        The cases of each.
    """
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
