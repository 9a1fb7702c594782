"""The variables of a record: for each its unit and what it is, said once."""

PARTS = {
    "volume": ("m^3", "volume of the part"),
    "residence": ("s", "mean time that the solute spends in the part"),
    "fourier_number": ("1", "residence time over the radial diffusion time of a tube"),
    "mean_closed_form": ("s", "mean time added by the part, closed form"),
    "mean_simulated": ("s", "mean time added by the part, simulated"),
    "variance_gaussian_theory": ("s^2", "variance added by the part, long-tube or textbook"),
    "variance_exact": ("s^2", "variance added by the part, exact closed form"),
    "variance_simulated": ("s^2", "variance added by the part, simulated"),
    "skewness_exact": ("1", "skewness of what the part adds, exact closed form"),
    "skewness_simulated": ("1", "skewness of what the part adds, simulated"),
    "gradient_focusing": (
        "1",
        "share of the variance added by the part that a gradient takes back",
    ),
    "amount_lost": ("1", "amount cut off by the time window of the part, over that injected"),
}

MEASURES = {
    "apex": ("s", "time of the peak maximum"),
    "height": ("1/s", "height of the peak maximum"),
    "area": ("1", "area of the peak, over the amount injected"),
    "mean": ("s", "mean time of the peak"),
    "variance": ("s^2", "variance of the peak"),
    "skewness": ("1", "skewness of the peak"),
    "width_half": ("s", "width of the peak at half height"),
    "plates_half_height": ("1", "plates from the width at half height"),
    "plates_tangent": ("1", "plates from the tangents at the inflection points"),
    "plates_five_sigma": ("1", "plates from the width at 4.4 % of the height"),
    "plates_moments": ("1", "plates from the mean and the variance"),
    "tailing_5": ("1", "symmetry factor at 5 % of the height"),
    "asymmetry_10": ("1", "rear over front half width at 10 % of the height"),
    "peak_capacity": ("1", "peaks as wide as this one that stand side by side in the gradient"),
    "amount_recovered": ("1", "amount recorded, over the amount injected"),
}

SIGNAL = {
    "concentration_in_cell": ("1/m^3", "concentration at the maximum in the cell, over the amount"),
    "concentration_recorded": ("1/m^3", "recorded concentration at the maximum, over the amount"),
    "relative_signal": ("1", "recorded height over that of the column's own peak"),
    "relative_noise": ("1", "noise over that behind a filter of 1 s, white noise"),
    "relative_signal_to_noise": ("1", "relative signal over relative noise"),
    "light_path": ("m", "light path of the cell"),
    "amount": ("mol", "amount injected"),
    "absorptivity": ("m^2/mol", "decadic molar absorptivity"),
    "absorbance": ("1", "absorbance at the recorded maximum, AU"),
    "noise": ("1", "noise of the recorded points, peak to peak, AU"),
    "signal_to_noise": ("1", "twice the height over the peak-to-peak noise"),
}

SEPARATION = {
    "half_height": ("1", "resolution from the widths at half height, recorded"),
    "numerical_error": (
        "1",
        "discretisation error of the resolution from the widths at half height",
    ),
    "column_alone": ("1", "resolution from the widths at half height, column's own peaks"),
    "valley_to_peak": ("1", "valley over the smaller peak of the recorded trace"),
    "from_valley": ("1", "resolution of two equal Gaussians with that valley"),
}

BAND = {
    "values": ("1/s", "amount per time, over the amount injected"),
    "start": ("s", "time of the first sample, from the start of the injection"),
    "step": ("s", "time between two samples"),
    "time": ("s", "time from the start of the injection"),
}

PRESSURE = {
    "total": ("Pa", "pressure drop of the whole path"),
    "drop": ("Pa", "pressure drop of each part"),
    "cell_inlet": ("Pa", "pressure at the inlet of the flow cell"),
}


def attributes(vocabulary, name):
    """Attributes of a variable: ``units`` and ``long_name``. A name that is not listed is kept,
    with an empty unit, so that a new measure is stored before it is described."""
    units, meaning = vocabulary.get(name, ("", name.replace("_", " ")))
    return {"units": units, "long_name": meaning}
