"""What the detector sees: height of the peak, noise, and one over the other."""

from collections.abc import Mapping, Sequence

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.journey.propagation import Stage
from tailrace.measures.registry import HEIGHT
from tailrace.parts.base import Part, Passages
from tailrace.quantities.arrays import FloatArray

NOISE_REFERENCE = 1.0
"""s; relative noise is over that of a first-order filter of this time constant."""
MOST_ABSORBANCE = 1.5
"""AU; above it a detector's answer may no longer be proportional (common practice, no source)."""


def signal_of(
    passages: Passages,
    stages: Sequence[Stage],
    recorded: Mapping[str, FloatArray],
    column_alone: Mapping[str, FloatArray] | None,
) -> dict[str, FloatArray]:
    """Signal and noise of every lane.

    Parameters
    ----------
    passages : sequence of (part, Stream)
    stages : sequence of Stage
        Behind each part.
    recorded : dict of str to (lanes,) array
        Measures of the recorded peak; SI units.
    column_alone : dict of str to (lanes,) array, or None
        Measures of the column's own peak; SI units.

    Returns
    -------
    dict of str to (lanes,) array, SI
        By the names of ``tailrace.measures.SIGNALS``. Absorbance by the law of Lambert and Beer;
        signal to noise 2 H/h (USP <621>, Ph. Eur. 2.2.46).
        NaN where something that a metric needs is not given.
    """
    height = recorded[HEIGHT]
    nowhere = np.full(len(height), np.nan)
    cell, seen, stream = _cell(passages, stages)
    detector = passages[-1][0] if passages[-1][0].records else None
    thin = stream.share / stream.flow_rate  # up to the column flows are those of the injection
    own = (column_alone or {}).get(HEIGHT, nowhere) / passages[0][1].flow_rate
    figures = {
        "concentration_in_cell": nowhere if seen is None else seen * thin,
        "concentration_recorded": height * thin,
        "relative_signal": height * thin / own,
        "relative_noise": nowhere,
        "noise": nowhere,
        "light_path": nowhere if cell is None else np.broadcast_to(cell.light_path, nowhere.shape),
        "amount": np.broadcast_to(stream.amount, nowhere.shape),
        "absorptivity": np.broadcast_to(stream.absorptivity, nowhere.shape),
    }
    if detector is not None:
        bandwidth = 4 * NOISE_REFERENCE * detector.noise_bandwidth()
        figures["relative_noise"] = np.broadcast_to(np.sqrt(bandwidth), nowhere.shape)
        figures["noise"] = np.broadcast_to(detector.recorded_noise(), nowhere.shape)
    names = ("concentration_recorded", "amount", "absorptivity", "light_path")
    figures["absorbance"] = np.prod([figures[name] for name in names], axis=0)
    figures["signal_to_noise"] = 2 * figures["absorbance"] / figures["noise"]
    figures["relative_signal_to_noise"] = figures["relative_signal"] / figures["relative_noise"]
    return figures


def weights(signal: Mapping[str, FloatArray], lanes: int) -> FloatArray:
    """Share of each solute in the chromatogram, over the greatest.

    Amount times absorptivity; what is not given for all solutes is taken as equal. (lanes,) array,
    1.
    """
    share = np.ones(lanes)
    for name in ("amount", "absorptivity"):
        given = signal.get(name, np.full(share.shape, np.nan))
        if np.isfinite(given).all():
            share = share * given
    return np.asarray(share / share.max())


def compared(
    signal: Mapping[str, FloatArray], first: Mapping[str, FloatArray]
) -> dict[str, FloatArray]:
    """Signal and noise over those of another state of the instrument, solute by solute.

    Parameters
    ----------
    signal, first : dict of str to (lanes,) array
        As of ``signal_of``, of the same solutes and injected amounts; SI units.

    Returns
    -------
    dict of str to (lanes,) array, 1
        ``signal``: concentration as recorded times light path (the concentration alone where
        neither state gives a light path); ``noise``; ``signal_to_noise``.
    """
    names = ["concentration_recorded"]
    if not (np.isnan(signal["light_path"]) & np.isnan(first["light_path"])).all():
        names.append("light_path")
    height = np.prod([signal[name] / first[name] for name in names], axis=0)
    noise = signal["relative_noise"] / first["relative_noise"]
    return {"signal": height, "noise": noise, "signal_to_noise": height / noise}


def too_dark(signal: Mapping[str, FloatArray], lanes: Sequence[str]) -> list[str]:
    """One sentence for each peak that may be too high for the detector.

    Parameters
    ----------
    signal : dict of str to (lanes,) array
        As of ``signal_of``; SI units.
    lanes : tuple of str

    Returns
    -------
    list of str
    """
    return [
        f"{name}: the peak reaches {height:.2g} AU; above about {MOST_ABSORBANCE:g} AU a detector "
        "may no longer answer in proportion: inject less or take a shorter light path"
        for name, height in zip(lanes, signal["absorbance"], strict=True)
        if height > MOST_ABSORBANCE
    ]


def _cell(
    passages: Passages, stages: Sequence[Stage]
) -> tuple[Part | None, FloatArray | None, Stream]:
    """The cell that records, height of what its light beam sees (1/s), and the stream in it."""
    found = [
        (part, stage.crest, stream)
        for (part, stream), stage in zip(passages, stages, strict=True)
        if part.observes and not part.behind
    ]
    return found[-1] if found else (None, None, passages[-1][1])
