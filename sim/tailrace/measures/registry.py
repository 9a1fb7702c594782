"""The metrics: for each what it is, how it is read, how surely, and what stands in for it.

A new metric is one row here and its reader. Measurement, discretisation error, records, JSON,
tables and ``[[accept]]`` read the rows; nothing else knows what metrics there are.
"""

from collections.abc import Container

import numpy as np

from tailrace.measures.chromatogram import RESOLUTION_FACTOR, half_height_resolution
from tailrace.measures.metric import Metric
from tailrace.measures.peaks import Gaussian, Peaks
from tailrace.measures.shape import (
    FIVE_SIGMA_LEVEL,
    GAUSSIAN_WIDTH,
    HALF_HEIGHT,
    PRINTED_PLATES,
    PRINTED_RESOLUTION,
)
from tailrace.quantities.arrays import FloatArray

APEX, HEIGHT, MEAN, VARIANCE, WIDTH = "apex", "height", "mean", "variance", "width_half"
AREA = "area"
PLATES, CAPACITY, TAILING, ASYMMETRY = (
    "plates_half_height",
    "peak_capacity",
    "tailing_5",
    "asymmetry_10",
)
PLATES_OWN, PLATES_PRINTED = "plates_own_retention", "plates_printed"
RETENTION, REDUCED = "retention_factor_recorded", "reduced_plate_height"
RECOVERED, EXTRA_COLUMN = "amount_recovered", "variance_volume_extra_column"
RESOLUTION, VALLEY, FROM_VALLEY = "half_height", "valley_to_peak", "from_valley"
PRINTED, RELATIVE_RETENTION, SELECTIVITY, PEAK_TO_VALLEY = (
    "half_height_printed",
    "relative_retention",
    "selectivity",
    "peak_to_valley",
)
RELATIVE_SIGNAL, RELATIVE_NOISE = "relative_signal", "relative_noise"
"""Names of those metrics of which some sentence, table or study speaks by itself."""


def _capacity(peaks: Peaks) -> FloatArray | None:
    """Peaks as wide as this one that stand side by side in the gradient, 1 + gradient time / 4
    sigma (Neue, J. Chromatogr. A 1079 (2005) 153; from memory), sigma from the half height."""
    if peaks.setting.gradient_time is None:
        return None
    deviation = peaks.outlines.width(0.5) / GAUSSIAN_WIDTH
    return np.asarray(1 + peaks.setting.gradient_time / (4 * deviation))


def _extra_column(peaks: Peaks) -> FloatArray | None:
    setting = peaks.setting
    if setting.extra_column is None or setting.flow_rate is None:
        return None
    return np.asarray(setting.extra_column * np.square(setting.flow_rate))


def _textbook_extra_column(peak: Gaussian) -> FloatArray:
    if peak.extra_column is None:
        return np.full_like(peak.deviation, np.nan)
    return np.asarray(peak.extra_column)


def _plates_own(peaks: Peaks) -> FloatArray | None:
    if peaks.setting.own_time is None:
        return None
    return np.asarray(HALF_HEIGHT * np.square(peaks.setting.own_time / peaks.outlines.width(0.5)))


def _retention(peaks: Peaks) -> FloatArray | None:
    if peaks.setting.hold_up is None:
        return None
    return np.asarray(peaks.outlines.apex / peaks.setting.hold_up - 1)


def _reduced(peaks: Peaks) -> FloatArray | None:
    if peaks.setting.particles_long is None:
        return None
    return np.asarray(peaks.setting.particles_long / peaks.outlines.plates(0.5, PRINTED_PLATES))


def _textbook_retention(peak: Gaussian) -> FloatArray:
    if peak.hold_up is None:
        return np.full_like(peak.deviation, np.nan)
    return np.asarray(peak.mean / peak.hold_up - 1)


def _textbook_reduced(peak: Gaussian) -> FloatArray:
    if peak.particles_long is None:
        return np.full_like(peak.deviation, np.nan)
    return np.asarray(HALF_HEIGHT / PRINTED_PLATES * peak.particles_long / _textbook_plates(peak))


def _textbook_resolution(peak: Gaussian) -> FloatArray:
    return half_height_resolution(peak.mean, GAUSSIAN_WIDTH * peak.deviation)


def _textbook_selectivity(peak: Gaussian) -> FloatArray:
    factor = _textbook_retention(peak)
    return np.asarray(factor[..., 1:] / factor[..., :-1])


def _textbook_plates(peak: Gaussian) -> FloatArray:
    return np.asarray(np.square(peak.mean / peak.deviation))


def _textbook_plates_own(peak: Gaussian) -> FloatArray:
    if peak.column_mean is None:
        return np.full_like(peak.deviation, np.nan)
    return np.asarray(np.square(peak.column_mean / peak.deviation))


def _textbook_capacity(peak: Gaussian) -> FloatArray:
    if peak.gradient_time is None:
        return np.full_like(peak.deviation, np.nan)
    return np.asarray(1 + peak.gradient_time / (4 * peak.deviation))


def _textbook_signal(peak: Gaussian) -> FloatArray:
    if peak.column_variance is None:
        return np.full_like(peak.deviation, np.nan)
    return np.asarray(np.sqrt(peak.column_variance) / peak.deviation)


def _plates(name: str, label: str, meaning: str, **more: object) -> Metric:
    shared = {"unit": "1", "digits": 4, "in_gradient": CAPACITY, "textbook": _textbook_plates}
    return Metric(name=name, label=label, meaning=meaning, **{**shared, **more})  # type: ignore[arg-type]


def _table(*rows: Metric) -> dict[str, Metric]:
    return {row.name: row for row in rows}


METRICS: dict[str, Metric] = _table(
    Metric(
        name=APEX,
        label="retention time",
        unit="s",
        kind="duration",
        meaning="time of the peak maximum",
        read=lambda peaks: peaks.outlines.apex,
        relative_to="width",
        digits=5,
        textbook=lambda peak: peak.mean,
    ),
    Metric(
        name=HEIGHT,
        label="height",
        unit="1/s",
        meaning="height of the peak maximum",
        read=lambda peaks: peaks.outlines.height,
        textbook=lambda peak: 1 / (np.sqrt(2 * np.pi) * peak.deviation),
    ),
    Metric(
        name=AREA,
        label="area",
        unit="1",
        meaning="area of the peak, over the amount injected",
        read=lambda peaks: peaks.sums.area,
        sensitivity=0.5,
        digits=6,
    ),
    Metric(
        name=MEAN,
        label="mean time",
        unit="s",
        kind="duration",
        meaning="mean time of the peak",
        read=lambda peaks: peaks.sums.mean,
        relative_to="width",
        digits=5,
        textbook=lambda peak: peak.mean,
    ),
    Metric(
        name=VARIANCE,
        label="variance",
        unit="s^2",
        meaning="variance of the peak",
        read=lambda peaks: peaks.sums.variance,
        sensitivity=0.5,
        textbook=lambda peak: peak.variance,
    ),
    Metric(
        name="skewness",
        label="skewness",
        unit="1",
        meaning="skewness of the peak",
        read=lambda peaks: peaks.sums.skewness,
        sensitivity=0.5,
        relative_to="one",
    ),
    Metric(
        name=WIDTH,
        label="width",
        unit="s",
        kind="duration",
        meaning="width of the peak at half height",
        read=lambda peaks: peaks.outlines.width(0.5),
        textbook=lambda peak: GAUSSIAN_WIDTH * peak.deviation,
    ),
    _plates(
        PLATES,
        "plates",
        "plates from the width at half height",
        read=lambda peaks: peaks.outlines.plates(0.5, HALF_HEIGHT),
        sensitivity=4.0,
    ),
    _plates(
        PLATES_OWN,
        "plates at own retention",
        "plates from the width at half height and the time that the column alone gives",
        read=_plates_own,
        sensitivity=4.0,
        of_column=True,
        textbook=_textbook_plates_own,
    ),
    _plates(
        PLATES_PRINTED,
        "plates, factor 5.54",
        "plates from the width at half height with the factor 5.54 of pharmacopoeias, as data "
        "systems print them",
        read=lambda peaks: peaks.outlines.plates(0.5, PRINTED_PLATES),
        sensitivity=4.0,
        textbook=lambda peak: PRINTED_PLATES / HALF_HEIGHT * _textbook_plates(peak),
    ),
    _plates(
        "plates_tangent",
        "tangent plates",
        "plates from the tangents at the steepest inflection points",
        read=lambda peaks: peaks.outlines.plates_tangent(),
        sensitivity=8.0,
    ),
    _plates(
        "plates_five_sigma",
        "five-sigma plates",
        "plates from the width at 4.4 % of the height",
        read=lambda peaks: peaks.outlines.plates(FIVE_SIGMA_LEVEL, 25.0),
        sensitivity=7.3,
    ),
    _plates(
        "plates_moments",
        "plates from moments",
        "plates from the mean and the variance",
        read=lambda peaks: peaks.sums.plates,
        sensitivity=0.5,
    ),
    Metric(
        name=TAILING,
        label="tailing",
        unit="1",
        meaning="symmetry factor at 5 % of the height",
        read=lambda peaks: peaks.outlines.tailing(),
    ),
    Metric(
        name=ASYMMETRY,
        label="asymmetry",
        unit="1",
        meaning="rear over front half width at 10 % of the height",
        read=lambda peaks: peaks.outlines.asymmetry(),
        # nearly twice the apex over the width, whose fine and coarse errors may agree by chance
        sensitivity=8.0,
    ),
    Metric(
        name=CAPACITY,
        label="peak capacity",
        unit="1",
        meaning="peaks as wide as this one that stand side by side in the gradient",
        read=_capacity,
        textbook=_textbook_capacity,
        digits=4,
    ),
    Metric(
        name=RETENTION,
        label="retention factor",
        unit="1",
        meaning="time of the peak maximum over the mean time of an unretained solute, less one",
        read=_retention,
        relative_to="hold_up",
        in_gradient=APEX,
        of_column=True,
        textbook=_textbook_retention,
        digits=4,
    ),
    Metric(
        name=REDUCED,
        label="reduced plate height",
        unit="1",
        meaning="length of the column over plates with the factor 5.54 and the diameter of the "
        "particles",
        read=_reduced,
        sensitivity=4.0,
        in_gradient=CAPACITY,
        of_column=True,
        textbook=_textbook_reduced,
    ),
    Metric(
        name=RECOVERED,
        label="amount recovered",
        unit="1",
        shown="%",
        meaning="amount recorded, over the amount injected",
        read=lambda peaks: peaks.setting.amount_recovered,
        sensitivity=0.5,
        digits=6,
    ),
    Metric(
        name=EXTRA_COLUMN,
        label="extra-column variance",
        unit="m^6",
        kind="volume variance",
        shown="uL^2",
        meaning="variance in volume that all parts but the column add, as recorded",
        read=_extra_column,
        sensitivity=0.5,
        relative_to="variance",
        textbook=_textbook_extra_column,
    ),
    Metric(
        name=RESOLUTION,
        label="resolution",
        unit="1",
        per="pair",
        meaning="resolution from the widths at half height",
        of_pair=lambda peaks: half_height_resolution(peaks[APEX], peaks[WIDTH]),
        textbook=_textbook_resolution,
    ),
    Metric(
        name=PRINTED,
        label="resolution, factor 1.18",
        unit="1",
        per="pair",
        meaning="resolution from the widths at half height with the factor 1.18 of pharmacopoeias, "
        "as data systems print it",
        of_pair=lambda peaks: (
            PRINTED_RESOLUTION
            / RESOLUTION_FACTOR
            * half_height_resolution(peaks[APEX], peaks[WIDTH])
        ),
        textbook=lambda peak: PRINTED_RESOLUTION / RESOLUTION_FACTOR * _textbook_resolution(peak),
    ),
    Metric(
        name=RELATIVE_RETENTION,
        label="relative retention",
        unit="1",
        per="pair",
        meaning="retention time over that of the neighbour before it, hold-up time left in",
        of_pair=lambda peaks: peaks[APEX][..., 1:] / peaks[APEX][..., :-1],
        textbook=lambda peak: peak.mean[..., 1:] / peak.mean[..., :-1],
        digits=4,
    ),
    Metric(
        name=SELECTIVITY,
        label="selectivity",
        unit="1",
        per="pair",
        meaning="retention factor over that of the neighbour before it",
        in_gradient=RELATIVE_RETENTION,
        of_column=True,
        of_pair=lambda peaks: peaks[RETENTION][..., 1:] / peaks[RETENTION][..., :-1],
        textbook=_textbook_selectivity,
        digits=4,
    ),
    Metric(
        name=VALLEY,
        label="valley over peak",
        unit="1",
        per="pair",
        shown="%",
        meaning="valley over the smaller peak of the recorded trace",
    ),
    Metric(
        name=PEAK_TO_VALLEY,
        label="peak-to-valley ratio",
        unit="1",
        per="pair",
        meaning="smaller peak of the recorded trace over the valley; 1000 where it is more",
    ),
    Metric(
        name=FROM_VALLEY,
        label="resolution from valley",
        unit="1",
        per="pair",
        meaning="resolution of two equal Gaussians with that valley",
    ),
)
"""By name, those of single peaks in the order in which they are shown, then those of pairs."""


SIGNALS: dict[str, Metric] = _table(
    Metric(
        name="concentration_in_cell",
        label="in the cell",
        unit="1/m^3",
        shown="1/mL",
        meaning="concentration at the maximum in the cell, over the amount",
    ),
    Metric(
        name="concentration_recorded",
        label="recorded",
        unit="1/m^3",
        shown="1/mL",
        meaning="recorded concentration at the maximum, over the amount",
    ),
    Metric(
        name=RELATIVE_SIGNAL,
        label="signal",
        unit="1",
        shown="%",
        meaning="recorded height over that of the column's own peak, both as concentrations",
        textbook=_textbook_signal,
    ),
    Metric(
        name=RELATIVE_NOISE,
        label="relative noise",
        unit="1",
        meaning="noise over that behind a filter of 1 s, white noise",
        sensitivity=0.0,
    ),
    Metric(
        name="relative_signal_to_noise",
        label="relative signal over noise",
        unit="1",
        meaning="relative signal over relative noise",
    ),
    Metric(
        name="light_path",
        label="light path",
        unit="m",
        kind="length",
        shown="mm",
        meaning="light path of the cell",
        sensitivity=0.0,
    ),
    Metric(
        name="amount",
        label="amount injected",
        unit="mol",
        kind="amount",
        meaning="amount injected",
        sensitivity=0.0,
    ),
    Metric(
        name="absorptivity",
        label="absorptivity",
        unit="m^2/mol",
        kind="absorptivity",
        meaning="decadic molar absorptivity",
        sensitivity=0.0,
    ),
    Metric(
        name="absorbance",
        label="absorbance",
        unit="AU",
        kind="absorbance",
        shown="mAU",
        meaning="absorbance at the recorded maximum",
    ),
    Metric(
        name="noise",
        label="noise",
        unit="AU",
        kind="absorbance",
        shown="mAU",
        digits=2,
        meaning="noise of the recorded points, peak to peak",
        sensitivity=0.0,
    ),
    Metric(
        name="signal_to_noise",
        label="signal-to-noise ratio",
        unit="1",
        digits=2,
        meaning="twice the height over the peak-to-peak noise",
    ),
)
"""What the detector sees. Their errors go with that of the height, but for what is given, which
has none (sensitivity 0)."""


def of_peaks() -> dict[str, Metric]:
    """The metrics of single peaks, by name."""
    return {name: row for name, row in METRICS.items() if row.per == "solute"}


def of_pairs() -> dict[str, Metric]:
    """The metrics of neighbours, by name."""
    return {name: row for name, row in METRICS.items() if row.per == "pair"}


def leading(known: Container[str]) -> Metric:
    """The metric that leads, of those that are known: with a gradient the peak capacity, else
    plates at the column's own retention, without a column plates by the recorded time."""
    return METRICS[next(name for name in (CAPACITY, PLATES_OWN, PLATES) if name in known)]
