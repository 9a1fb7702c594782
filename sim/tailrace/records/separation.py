"""What a result says of neighbours: how well they stand apart, in the column's own peaks and as
recorded."""

from dataclasses import dataclass

import numpy as np

from tailrace.measures.chromatogram import (
    half_height_resolution,
    half_height_resolution_error,
    overlaid,
    resolution_from_valley,
    valley_to_peak,
)


@dataclass(frozen=True, kw_only=True)
class Separation:
    """Neighbours on the recorded chromatogram, in the order of elution.

    Parameters
    ----------
    first, second : tuple of str
        Names, of each pair.
    half_height : (pairs,) array, 1
        Resolution by the widths at half height, each read from the recorded peak of one solute
        alone: so it exists where two peaks have run into one.
    numerical_error : (pairs,) array, 1
        Estimate for ``half_height``, from those of its times and widths.
    column_alone : (pairs,) array, 1
        The same resolution of the column's own peaks; NaN without a column.
    valley_to_peak : (pairs,) array, 1
        Valley over the smaller peak of the trace of all solutes; NaN where there is no valley.
    from_valley : (pairs,) array, 1
        Resolution of two equal Gaussians with that valley; NaN for none, or next to none.
    """

    first: tuple[str, ...]
    second: tuple[str, ...]
    half_height: np.ndarray
    numerical_error: np.ndarray
    column_alone: np.ndarray
    valley_to_peak: np.ndarray
    from_valley: np.ndarray

    @property
    def critical(self) -> int | None:
        """The pair with the least resolution; None where no pair has one."""
        if not np.isfinite(self.half_height).any():
            return None
        return int(np.nanargmin(self.half_height))


def weights(result):
    """Share of each solute in the chromatogram, over the greatest.

    Parameters
    ----------
    result : Result

    Returns
    -------
    (lanes,) array, 1
        Amount times absorptivity; what is not given for all solutes is taken as equal.
    """
    share = np.ones(len(result.lanes))
    for name in ("amount", "absorptivity"):
        given = result.signal.get(name, np.full(share.shape, np.nan))
        if np.isfinite(given).all():
            share = share * given
    return share / share.max()


def separation(result) -> Separation:
    """Set all neighbours of a result side by side.

    Parameters
    ----------
    result : Result

    Returns
    -------
    Separation
        Without pairs where fewer than two solutes have a peak; without valleys where the result
        has no bands.
    """
    apexes = np.asarray(result.recorded["apex"], dtype=float)
    order = [int(lane) for lane in np.argsort(apexes, kind="stable") if np.isfinite(apexes[lane])]
    recorded = {name: result.recorded[name][order] for name in ("apex", "width_half")}
    valleys = np.full(max(len(order) - 1, 0), np.nan)
    if len(order) > 1 and result.recorded_band is not None:
        valleys = valley_to_peak(overlaid(result.recorded_band, weights(result)), apexes[order])
    nowhere, own = np.full(apexes.shape, np.nan), result.column_alone or {}
    alone = [own.get(name, nowhere)[order] for name in ("apex", "width_half")]
    half_height = half_height_resolution(recorded["apex"], recorded["width_half"])
    names = [result.lanes[lane] for lane in order]
    return Separation(
        first=tuple(names[:-1]),
        second=tuple(names[1:]),
        half_height=half_height,
        numerical_error=_error(result.numerical_error, order, recorded, half_height),
        column_alone=half_height_resolution(*alone),
        valley_to_peak=valleys,
        from_valley=np.array([resolution_from_valley(valley) for valley in valleys]),
    )


def _error(errors, order, recorded, resolution):
    """Errors of two times and two widths, carried to the resolution and added up."""
    names = ("apex", "width_half")
    if not set(names) <= set(errors):
        return np.full(len(resolution), np.nan)
    return half_height_resolution_error(
        *(recorded[name] for name in names), *(errors[name][order] for name in names)
    )
