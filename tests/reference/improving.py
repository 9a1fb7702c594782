"""A short path with changes, and slow ways to the same answers."""

from itertools import permutations

import tailrace

START = """
title = "A short path"
[method]
flow = "0.60 mL/min"
temperature = "35 degC"
eluent = { water = 0.25, acetonitrile = 0.75 }
[numerics]
accuracy = 0.01
[injection]
shape = "plug"
volume = "4 uL"
[[solutes]]
name = "early"
retention_factor = 1.5
diffusivity = "1.2e-9 m^2/s"
[[path]]
name = "inlet tube"
part = "tube"
bore = "0.17 mm"
length = "250 mm"
heater = true
[[path]]
name = "joint"
part = "fitting"
gap_bore = "1.0 mm"
gap_length = "0.5 mm"
[[path]]
name = "column"
part = "column"
bore = "2.1 mm"
length = "50 mm"
particle_diameter = "2.7 um"
particle = "core-shell"
plates = 9000
[[path]]
name = "flow cell"
part = "cell"
volume = "8 uL"
light_path = "10 mm"
pressure_limit = "60 bar"
[detector]
time_constant = "0.3 s"
interval = "40 ms"
"""
SECOND = """
[[solutes]]
name = "late"
retention_factor = 2.0
diffusivity = "1.1e-9 m^2/s"
"""
CELL = '[[changes]]\nname = "cell"\ncost = 900\nset = { "flow cell" = { volume = "2 uL" } }\n'
TUBE = '[[changes]]\nname = "tube"\ncost = 60\nset = { "inlet tube" = { bore = "0.12 mm" } }\n'
FAST = '[[changes]]\nname = "fast"\nset = { detector = { time_constant = "0.03 s" } }\n'
NOTHING = '[[changes]]\nname = "nothing"\nset = { "flow cell" = { pressure_limit = "61 bar" } }\n'


def loaded(folder, *more, start=START):
    """The scenario of a start and what stands below it."""
    file = folder / "changes.toml"
    file.write_text("\n".join((start, *more)))
    return tailrace.load(file)


def area(gains, weights, order):
    """Area under the staircase: the gain before each step for as long as the step takes.

    ``gains`` by frozenset of names, ``weights`` by name; None where a step is not allowed.
    """
    total, taken = 0.0, frozenset()
    for name in order:
        if taken not in gains:
            return None
        total += gains[taken] * weights[name]
        taken |= {name}
    return total if taken in gains else None


def best_orders(gains, weights):
    """Every order of the names that has the greatest area, by trying all."""
    areas = {order: area(gains, weights, order) for order in permutations(sorted(weights))}
    known = {order: found for order, found in areas.items() if found is not None}
    most = max(known.values())
    return most, [order for order, found in known.items() if found >= most - 1e-9 * abs(most)]
