# %% [markdown]
# # First steps
#
# Cells for a notebook, or for an editor that knows cells; as a plain script they run too, silently.
# They need nothing but tailrace. In a notebook the last line of a cell shows its object: a scenario
# its path, a result its tables and a small figure.

# %% A scenario: read and checked
from pathlib import Path

import tailrace

HERE = Path(__file__).parent if "__file__" in globals() else Path.cwd()
SCENARIOS = HERE.parent
scenario = tailrace.load(SCENARIOS / "inherited-core-shell.toml")
scenario

# %% The run: every solute through every part
result = tailrace.run(scenario)
result

# %% Metrics are arrays with one number for each solute, in SI units
plates = dict(zip(result.lanes, result.recorded["plates_own_retention"], strict=True))
errors = dict(zip(result.lanes, result.numerical_error["plates_own_retention"], strict=True))
plates, errors

# %% What each part adds to the first solute: simulated variance over the textbook's
ratios = {
    part.name: part.variance_simulated[0] / part.variance_gaussian_theory[0]
    for part in result.parts
    if part.kind == "tube"
}
ratios

# %% Another instrument: a smaller cell, checked like a file
improved = tailrace.run(scenario.changed({"flow cell.volume": "2.5 uL"}))
improved

# %% The curve itself: times in s, and the share of the amount that passes in a second
band = improved.recorded_band
times, heights = band.times[0], band.values[0]
apex = times[heights.argmax()]
apex, heights.max()

# %% Many cases at once: a sweep over the length of a tube
made = tailrace.sweep(scenario, ["tube to cell.length = 50 mm .. 300 mm, 6 points"])
kept = (
    made.metrics["recorded/plates_own_retention"] / made.metrics["column_alone/plates_half_height"]
)
kept
