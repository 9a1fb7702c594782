"""The tables of a run, as text in cells; how they are drawn is decided elsewhere."""

import numpy as np

from tailrace.records.losses import kept_fraction, worst_first
from tailrace.report.numbers import ABSENT, percent, significant, with_error
from tailrace.report.table import Table

MICROLITRE = 1e-9
"""m^3"""


PART_HEAD = (
    ("part", ""),
    ("volume", "uL"),
    ("residence", "s"),
    ("Fourier", "number"),
    ("Gaussian", "s^2"),
    ("exact", "s^2"),
    ("simulated", "s^2"),
    ("simulated", "/ Gaussian"),
    ("share", "%"),
)

RECORDED_HEAD = (
    ("solute", ""),
    ("plates", "of column"),
    ("plates", "recorded"),
    ("kept", "%"),
    ("tailing", "at 5 %"),
    ("width at half", "height, s"),
    ("recovered", "%"),
    ("cut off by", "windows"),
)


FOCUSED = ("focused", "%")
"""Beside the share where the column is run with a gradient."""

GRADIENT_HEAD = (
    RECORDED_HEAD[0],
    ("peak capacity", "of column"),
    ("peak capacity", "recorded"),
    *RECORDED_HEAD[3:],
)


def parts_table(result, lane):
    """What each part adds to the band of one solute.

    Parameters
    ----------
    result : Result
    lane : int

    Returns
    -------
    Table
        The share is that of the simulated variance of all parts, the column among them. With a
        gradient it is that of what is left behind the column, and ``gradient_focusing`` the rest.
    """
    gradient = "peak_capacity" in result.recorded
    total = float(np.nansum([part.variance_recorded[lane] for part in result.parts]))
    rows = [_part_row(part, lane, total, gradient) for part in result.parts]
    # What the injector holds is sample, not a volume on the path.
    path = [part for part in result.parts if not part.injects]
    sums = [
        float(np.nansum([getattr(part, name)[lane] for part in path]))
        for name in ("volume", "residence")
    ]
    rows.append(
        (
            "whole path",
            significant(sums[0] / MICROLITRE),
            significant(sums[1]),
            *[""] * 3,
            significant(total),
            *[""] * (1 + gradient),
            percent(1.0 if total > 0 else float("nan")),
        )
    )
    title = f"Variance that each part adds: {result.lanes[lane]}"
    head = (*PART_HEAD[:-1], FOCUSED, PART_HEAD[-1]) if gradient else PART_HEAD
    return Table(title, head, tuple(rows), last_is_sum=True)


def recorded_table(result):
    """What is recorded of each solute, the one that loses most first.

    Parameters
    ----------
    result : Result

    Returns
    -------
    Table
        Plates are from the width at half height; with a gradient, where they mean nothing, the
        peak capacity stands in their place. ``±`` is the estimated discretisation error.
    """
    kept = kept_fraction(result)
    gradient = "peak_capacity" in result.recorded
    name = "peak_capacity" if gradient else "plates_half_height"
    rows = []
    for lane in worst_first(result):
        alone = result.column_alone
        plates = float("nan") if alone is None else alone[name][lane]
        recovered = result.recorded["amount_recovered"][lane]
        lost = float(np.nansum([part.amount_lost[lane] for part in result.parts]))
        rows.append(
            (
                result.lanes[lane],
                significant(plates, 4),
                _figure(result, name, lane),
                percent(kept[lane]),
                _figure(result, "tailing_5", lane),
                _figure(result, "width_half", lane),
                f"{100 * recovered:.4f}" if np.isfinite(recovered) else ABSENT,
                significant(lost, 2),
            )
        )
    if gradient:
        title = "What is recorded (peak capacity from the half height; ± discretisation error)"
        return Table(title, GRADIENT_HEAD, tuple(rows))
    title = "What is recorded (plates from the half height; ± discretisation error)"
    return Table(title, RECORDED_HEAD, tuple(rows))


def _part_row(part, lane, total, gradient):
    theory = float(part.variance_gaussian_theory[lane])
    simulated = float(part.variance_simulated[lane])
    focused = (
        (percent(np.broadcast_to(part.gradient_focusing, part.volume.shape)[lane]),)
        if gradient
        else ()
    )
    return (
        part.name,
        significant(part.volume[lane] / MICROLITRE),
        significant(part.residence[lane]),
        significant(part.fourier_number[lane], 2),
        significant(theory),
        significant(part.variance_exact[lane]),
        significant(simulated),
        significant(simulated / theory) if theory > 0 else ABSENT,
        *focused,
        percent(part.variance_recorded[lane] / total) if total > 0 else ABSENT,
    )


def _figure(result, name, lane):
    error = result.numerical_error.get(name)
    return with_error(result.recorded[name][lane], float("nan") if error is None else error[lane])
