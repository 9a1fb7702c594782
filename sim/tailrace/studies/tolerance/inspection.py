"""The rows of a qualification, from samples that are there and journeys without the column."""

from dataclasses import replace

import numpy as np

from tailrace.parts import part_class
from tailrace.scenario.criteria import Criterion
from tailrace.studies.tolerance.measuring import measured
from tailrace.studies.tolerance.qualification import Seen, direct, of_peak, of_union


def checks_of(model, samples, answer, nominal, kinds, demand) -> tuple:
    """What to measure on an instrument.

    Parameters
    ----------
    model : JourneyModel
    samples : Samples
        The instruments: the first samples of the study.
    answer, nominal : Answer
        Of all samples of the study, and of the scenario as it stands.
    kinds : dict of str to Answer
        Of these samples with the inputs of one kind alone; empty where all are of one.
    demand : Demand or None

    Returns
    -------
    tuple of Check
        Empty without criteria.
    """
    if demand is None:
        return ()
    only = np.array([float(kind == "tolerance") for kind in samples.kinds])
    true, read = _instruments(model, samples, only, answer, kinds)
    rows = [
        direct(Seen(criterion=one, nominal=float(nominal.values[row, 0]), true=here, read=there))
        for row, (one, here, there) in enumerate(
            zip(model.criteria, true.values, read.values, strict=True)
        )
    ]
    lane = next((one.of[0] for one in model.criteria if one.of), 0)
    label = model.scenario.document.solutes[lane].name
    if any(part_class(one.part).separates for one in model.scenario.document.path):
        states = demand.judged(true.values, true.errors)
        width = Criterion(measure="width", of=(lane,), label=label)
        rows.append(of_union(_without_column(model, samples, only, width), states, demand))
    time = Criterion(measure="retention time", of=(lane,), label=label)
    rows.append(
        of_peak(
            Seen(
                criterion=time,
                nominal=float(measured(time, nominal.figures)[0][0]),
                true=measured(time, true.figures)[0],
                read=measured(time, read.figures)[0],
            ),
            demand,
        )
    )
    return tuple(rows)


def _instruments(model, first, only, answer, kinds):
    """Figures of instruments, and of their measurement, both of the first samples."""
    count = len(first)
    read = replace(
        answer,
        values=answer.values[:, :count],
        errors=answer.errors[:, :count],
        figures={name: rows[:count] for name, rows in answer.figures.items()},
    )
    if kinds:
        return kinds["tolerance"], read
    if only.all():
        return read, read
    # All is measurement: one instrument, measured many times.
    return model(first.scaled(only), "only-tolerance"), read


def _without_column(model, first, only, width):
    """The width with a union in place of the column."""
    bare = model.altered((width,), without_column)
    read = bare(first, "union").values[0]
    true = read
    if not only.all():
        true = bare(first.scaled(only), "union-only-tolerance").values[0]
    still = bare(first.part(slice(0, 1)).scaled(np.zeros(len(only))), "union-nominal")
    return Seen(criterion=width, nominal=float(still.values[0, 0]), true=true, read=read)


def without_column(itinerary):
    """The same journey with nothing in place of the column.

    Parameters
    ----------
    itinerary : Itinerary

    Returns
    -------
    Itinerary
    """
    left = tuple(pair for pair in itinerary.passages if not pair[0].separates)
    return replace(itinerary, passages=left)
