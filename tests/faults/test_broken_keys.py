"""One slip in an otherwise sound scenario: the answer names line and key, in one sentence.

The line is where the text of the case carries the mark ``# HERE``: it is counted here, not taken
from the program.
"""

import pytest

from tailrace.errors import ScenarioError
from tailrace.scenario.scenario import Scenario

BORE = 'bore = "0.17 mm"'
COLUMN = 'part = "column"\n'
CASES = {
    # values with a unit
    "bare number": (BORE, "bore = 0.17 # HERE", "path[0].bore", 'write "0.17 mm"'),
    "bare number in quotes": (BORE, 'bore = "0.17" # HERE', "path[0].bore", "a bare number"),
    "wrong unit": (BORE, 'bore = "0.17 s" # HERE', "path[0].bore", "not a unit of bore"),
    "no such unit": (BORE, 'bore = "0.17 ell" # HERE', "path[0].bore", '"ell" is not a unit'),
    "negative": (BORE, 'bore = "-0.17 mm" # HERE', "path[0].bore", "from 1 um to 100 mm"),
    "not a number": (BORE, 'bore = "nan mm" # HERE', "path[0].bore", "not a finite number"),
    "infinite": (BORE, 'bore = "inf mm" # HERE', "path[0].bore", "not a finite number"),
    "overflow": (BORE, 'bore = "1e999 mm" # HERE', "path[0].bore", "not a finite number"),
    "decimal comma": (BORE, 'bore = "0,17 mm" # HERE', "path[0].bore", "as a point"),
    "bore of a metre": (BORE, 'bore = "1 m" # HERE', "path[0].bore", "100 mm"),
    "tube of 10 km": ('"100 mm"', '"10 km" # HERE', "path[0].length", "1 um to 100 m"),
    "coulomb": ('"35 degC"', '"35 C" # HERE', "method.temperature", 'write "35 degC"'),
    "frozen": ('"35 degC"', '"35 K" # HERE', "method.temperature", "-50 degC to 250 degC"),
    "megalitres": ('"0.60 mL/min"', '"0.60 ML/min" # HERE', "method.flow", 'write "0.60 mL/min"'),
    "upper case": ('"2 uL"', '"2 UL" # HERE', "injection.volume", 'write "2 uL"'),
    "long text": ('"2 uL"', f'"{"2 uL" * 5000}" # HERE', "injection.volume", "a number, a space"),
    "true for a length": (BORE, "bore = true # HERE", "path[0].bore", "found true"),
    "date for a length": (BORE, "bore = 2020-01-01 # HERE", "path[0].bore", "2020-01-01"),
    "unit bomb": (BORE, 'bore = "1 m^9^9^9^9" # HERE', "path[0].bore", "a number, a space"),
    # plain numbers and words
    "half a tank": ("tanks = 2", "tanks = 0.5 # HERE", "path[3].tanks", "1 or more, found 0.5"),
    "tanks in quotes": ("tanks = 2", 'tanks = "2" # HERE', "path[3].tanks", 'found "2"'),
    "tanks not a number": ("tanks = 2", "tanks = nan # HERE", "path[3].tanks", "finite number"),
    "broken tanks": ("tanks = 2", 'read = "mean"\ntanks = 2.5 # HERE', "path[3].tanks", "whole"),
    "no plates": (COLUMN, COLUMN + "plates = 0 # HERE\n", "path[2].plates", "10 or more"),
    "porosity": (COLUMN, COLUMN + "porosity = 0.95 # HERE\n", "path[2].porosity", "below 0.9"),
    "retention": ("= 2.1", "= -1 # HERE", "solutes[0].retention_factor", "0 or more, found -1"),
    "huge whole number": ("= 2.1", f"= {'9' * 400} # HERE", "solutes[0].retention_factor", "numb"),
    "all of the gap unswept": (
        'gap_length = "0.1 mm"',
        'gap_length = "0.1 mm"\nunswept = 1.0 # HERE',
        "path[1].unswept",
        "0.95 or less, found 1",
    ),
    "misspelt particle": ('"core-shell"', '"coreshell" # HERE', "path[2].particle", '"core-shell"'),
    "misspelt part": ('part = "tube"', 'part = "tub" # HERE', "path[0].part", 'write "tube"'),
    "number for a part": ('part = "tube"', "part = 3 # HERE", "path[0].part", "found 3"),
    "misspelt shape": ('"plug"', '"plugg" # HERE', "injection.shape", 'write "plug"'),
    # keys
    "misspelt key": (BORE, 'boer = "1 mm" # HERE\n' + BORE, "path[0].boer", 'write "bore"'),
    "key of another shape": (
        'volume = "2 uL"',
        'volume = "2 uL"\nsigma = "1 s" # HERE',
        "injection.sigma",
        "belongs to gaussian",
    ),
    "key of another part": (
        BORE,
        BORE + "\ntanks = 2 # HERE",
        "path[0].tanks",
        "belongs to cell and chamber; leave it out or change part",
    ),
    "unknown table": ("[limits]", "[limit] # HERE", "limit", 'write "limits"'),
    "unknown liquid": ("water = 0.25", "watre = 0.25", "method.eluent.watre", 'write "water"'),
    "fractions": ("water = 0.25", "water = 0.5", "method.eluent", "a sum of 1.25"),
    "viscosity twice": (
        "eluent = { water = 0.25",
        'viscosity = "1 mPa*s" # HERE\neluent = { viscosity = "1 mPa*s", water = 0.25',
        "method.viscosity",
        "leave out one",
    ),
    "both time constants": (
        'interval = "50 ms"',
        'rise_time = "1 s" # HERE',
        "detector.rise_time",
        "either time_constant or rise_time",
    ),
    "mean over nothing": (
        'interval = "50 ms"',
        "averaged = true # HERE",
        "detector.averaged",
        "int",
    ),
    "solute twice": ('"second"', '"first" # HERE', "solutes[1].name", "rename"),
    "part twice": ('name = "column"', 'name = "joint" # HERE', "path[2].name", "rename"),
    "reserved name": ('"joint"', '"detector" # HERE', "path[1].name", "rename"),
    "diffusivity twice": (
        'molar_volume = "180 cm^3/mol"',
        'molar_volume = "180 cm^3/mol" # HERE\ndiffusivity = "1e-9 m^2/s"',
        "solutes[1].molar_volume",
        "leave out one",
    ),
    "text for a table": (
        "{ water = 0.25, acetonitrile = 0.75 }",
        '"water" # HERE',
        "method.eluent",
        "a table",
    ),
    "misspelt and so missing": (BORE, 'boer = "1 mm" # HERE', "path[0].boer", 'write "bore"'),
    "misspelt number": (
        "retention_factor = 2.1",
        "retention_facter = 2.1 # HERE",
        "solutes[0].retention_facter",
        "retention_factor",
    ),
    # changes
    "change of no part": (
        '"flow cell" = {',
        '"flaw cell" = {',
        'changes[0].set."flaw cell"',
        "flow",
    ),
    "change of no key": ("{ volume =", "{ volme =", 'changes[0].set."flow cell".volme', "volume"),
    "change to no value": ('"2.5 uL"', "2.5", 'changes[0].set."flow cell".volume', "bare number"),
    "cost below zero": ("cost = 900", "cost = -1 # HERE", "changes[0].cost", "0 or more"),
    "removed twice": (
        "cost = 900",
        'remove = ["flow cell"] # HERE',
        "changes[0].remove",
        "either set or removed",
    ),
    "removed nothing": (
        "cost = 900",
        'remove = ["heater"] # HERE',
        "changes[0].remove",
        "known part",
    ),
    "needs nothing": (
        "cost = 900",
        'needs = ["heater"] # HERE',
        "changes[0].needs",
        "known change",
    ),
    "needs itself": ("cost = 900", 'needs = ["small cell"] # HERE', "changes[0].needs", "another"),
}
UNMARKED = {"eluent": "eluent = {", "changes": "set = {"}


def marked_line(text, key):
    """Line of the mark; without one, of the inline table that holds the key."""
    lines = text.splitlines()
    for mark in ["# HERE", *(start for part, start in UNMARKED.items() if part in key)]:
        for number, line in enumerate(lines, start=1):
            if mark in line:
                return number
    raise AssertionError("the case carries no mark")


@pytest.mark.parametrize("name", CASES)
def test_one_slip_is_one_sentence_with_line_and_key(name, broken, refusal):
    old, new, key, phrase = CASES[name]
    text = broken(old, new)
    lines = refusal(text)
    assert len(lines) == 1, lines
    assert lines[0].startswith(f"case.toml:{marked_line(text, key)}: {key}: expected "), lines
    assert phrase in lines[0]
    assert len(lines[0]) < 400


def test_a_list_in_place_of_a_kind_of_particle_is_refused_in_words(sound):
    text = sound + (
        '[[path]]\nname = "late"\npart = "column"\nbore = "2.1 mm"\nlength = "50 mm"\n'
        'particle_diameter = "2.7 um"\nparticle = ["core-shell"]\n'
    )
    with pytest.raises(ScenarioError, match="particle"):
        Scenario.from_text(text)
