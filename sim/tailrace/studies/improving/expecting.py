"""What measurements should show after each step, and how surely one step brings what it brings."""

from itertools import pairwise

import numpy as np

from tailrace.measures.chromatogram import half_height_resolution
from tailrace.scenario.changed import changed
from tailrace.studies.improving.branches import interned
from tailrace.studies.improving.expectation import Expectation, Expected
from tailrace.studies.improving.ordering import swap
from tailrace.studies.improving.readings import Branches
from tailrace.studies.improving.scoring import scored

DRAWS, SEED = 64, 1
COVERED = (0.025, 0.975)
FIGURES = {
    "apex": ("retention_time", "s"),
    "width_half": ("width_half", "s"),
    "plates_half_height": ("plates", "1"),
    "peak_capacity": ("peak_capacity", "1"),
    "tailing_5": ("tailing", "1"),
}


def expected(improvement, runner, count=DRAWS, seed=SEED) -> Expected:
    """Say what measurements should show after each step.

    Parameters
    ----------
    improvement : Improvement
    runner : Runner
    count : int
        Draws of what the file calls uncertain; each is laid upon all steps alike.
    seed : int

    Returns
    -------
    Expected
        With a band of 95 % from the draws, and the discretisation error on either side; with that
        alone where the file calls nothing uncertain.
    """
    if not improvement.scenario.document.uncertain:
        nothing = np.full(len(improvement.steps), np.nan)
        return Expected(
            rows=tuple(_rows(improvement, None)),
            basis="the discretisation error alone: the scenario states no input uncertainty",
            gain_low=nothing,
            gain_high=nothing,
        )
    drawn = _Drawn(improvement, runner, count, seed)
    low, high = drawn.gains()
    return Expected(
        rows=tuple(_rows(improvement, drawn)),
        basis=f"the stated input uncertainty, 95 % of {count} draws, and the discretisation error",
        gain_low=low,
        gain_high=high,
        undecided=drawn.undecided(),
        whole_low=drawn.whole()[0],
        whole_high=drawn.whole()[1],
    )


class _Drawn:
    """The figures of all draws, after each step and with each two neighbouring steps swapped."""

    def __init__(self, improvement, runner, count, seed):
        from tailrace.studies.samples import sampled

        self._made, self._count = improvement, count
        draws = sampled(improvement.scenario, count, seed)
        sets = [frozenset(one.taken) for one in improvement.steps]
        self._swaps = self._allowed_swaps()
        sets += list(self._swaps.values())
        self._place = {one: at for at, one in enumerate(dict.fromkeys(sets))}
        journeys = [
            itinerary
            for one in self._place
            for itinerary in draws.itineraries(changed(improvement.scenario, one))
        ]
        known = {}
        journeys = interned(journeys)
        numbers = [known.setdefault(_identity(one), len(known)) for one in journeys]
        distinct = dict(zip(numbers, journeys, strict=True))
        self.solutes = journeys[0].lanes
        figures = runner.run(Branches("draws", tuple(distinct.values()), "draw {}".format))
        self._figures = {name: values[numbers] for name, values in figures.items()}

    def of(self, taken) -> dict:
        """Figures of all draws with these changes. dict of str to (draws, …) array."""
        first = self._place[frozenset(taken)] * self._count
        return {name: values[first : first + self._count] for name, values in self._figures.items()}

    def gains(self):
        """Between which each step's gain lies with 95 %. Two (steps,) arrays, 1."""
        scores = [self._score(one.taken) for one in self._made.steps]
        bands = [(np.nan, np.nan), *(_band(after - before) for before, after in pairwise(scores))]
        return tuple(np.array(bands).T)

    def whole(self):
        """The same of all steps together."""
        first, last = self._made.steps[0], self._made.steps[-1]
        return _band(self._score(last.taken) - self._score(first.taken))

    def undecided(self):
        """Numbers of steps that could as well come after the next."""
        steps, found = self._made.steps, set()
        price = {"gain": lambda one: 1.0, "money": lambda one: one.cost}
        price["effort"] = lambda one: one.effort
        weigh = price[self._made.order]
        for number, other in self._swaps.items():
            base, early, late = swap(weigh(steps[number]), weigh(steps[number + 1]))
            before, after = (self._score(steps[at].taken) for at in (number - 1, number))
            low, _ = _band(before * base + after * early - self._score(other) * late)
            if not low > 0:
                found.add(number)
        return frozenset(found)

    def _score(self, taken):
        aim, first = self._made.aim, self.of(())
        return aim.sign * scored(self.of(taken), first, self.solutes, aim).figure

    def _allowed_swaps(self):
        """For each step whose place may be that of the next: the changes so far if it were."""
        made, found = self._made, {}
        names = [one.name for one in made.changes]
        for step, after in pairwise(made.steps[1:]):
            taken = frozenset((*step.taken[:-1], after.change))
            row = np.array([name in taken for name in names])
            if (made.combinations.taken == row).all(axis=1).any():
                found[step.number] = taken
        return found


def _rows(improvement, drawn):
    """One row for each figure of each step."""
    table = improvement.combinations
    solutes = tuple(one.name for one in improvement.scenario.document.solutes)
    for step in improvement.steps:
        figures = {name: values[[step.combination]] for name, values in table.figures.items()}
        spread = None if drawn is None else drawn.of(step.taken)
        for lane, solute in enumerate(solutes):
            for name, (figure, unit) in FIGURES.items():
                if f"recorded/{name}" not in figures:
                    continue
                value = float(figures[f"recorded/{name}"][0, lane])
                error = float(figures[f"numerical_error/{name}"][0, lane])
                draws = None if spread is None else spread[f"recorded/{name}"][:, lane]
                if not np.isnan(value):
                    yield _row(step, solute, figure, unit, value, error, draws)
        yield from _pairs(step, solutes, figures, spread)
        total = float(table.pressure[step.combination])
        draws = None if spread is None else spread["pressure/total"]
        if not np.isnan(total):
            yield _row(step, "", "pressure", "Pa", total, 0.0, draws)


def _pairs(step, solutes, figures, spread):
    """The resolution of neighbours."""
    order = np.argsort(figures["recorded/apex"][0], kind="stable")
    for one, other in pairwise(order):
        value, error = _resolution(figures, one, other)
        draws = None if spread is None else _resolution(spread, one, other)[0]
        yield _row(
            step,
            f"{solutes[one]}/{solutes[other]}",
            "resolution",
            "1",
            float(value[0]),
            float(error[0]),
            draws,
        )


def _resolution(figures, one, other):
    pair = [one, other]
    apex, width = (figures[f"recorded/{name}"][:, pair] for name in ("apex", "width_half"))
    moved, wider = (figures[f"numerical_error/{name}"][:, pair] for name in ("apex", "width_half"))
    value = np.array([half_height_resolution(*row)[0] for row in zip(apex, width, strict=True)])
    apart = np.where(apex[:, 1] > apex[:, 0], apex[:, 1] - apex[:, 0], np.nan)
    doubt = moved.sum(axis=1) / apart + wider.sum(axis=1) / width.sum(axis=1)
    return value, value * doubt


def _row(step, of, figure, unit, value, error, draws):
    low, high = (value, value) if draws is None else _band(draws)
    return Expectation(
        step=step.number,
        of=of,
        figure=figure,
        unit=unit,
        value=value,
        low=min(low, value) - error,
        high=max(high, value) + error,
    )


def _band(values):
    """Between which 95 % of the draws lie; those that could not be computed left out."""
    low, high = np.nanquantile(values, COVERED)
    return float(low), float(high)


def _identity(itinerary):
    return tuple(id(pair) for pair in itinerary.passages)
