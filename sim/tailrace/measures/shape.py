"""Numbers that belong to the shape of a peak, and how far out its outline is followed."""

import numpy as np

HALF_HEIGHT = float(8 * np.log(2))
"""N = 8 ln 2 (t/W)^2 at half height; pharmacopoeias round to 5.54 (USP <621>, Ph. Eur. 2.2.46)."""
PRINTED_PLATES, PRINTED_RESOLUTION = 5.54, 1.18
"""That constant, and that of resolution, as pharmacopoeias round and data systems print them."""
GAUSSIAN_WIDTH = float(np.sqrt(HALF_HEIGHT))
"""Width at half height of a Gaussian over its standard deviation."""
FIVE_SIGMA_LEVEL = float(np.exp(-3.125))
"""Height at which a Gaussian is five standard deviations wide."""

FEWEST_SAMPLES = 4
FOOT = 0.01
"""The outline is kept out to where it first falls below this share of the largest sample ..."""
MARGIN = 8
"""... and this many samples beyond."""
