"""What does not go together in the table of a column, and between it and the rest of the file."""

from tailrace.parts.column.part import CORE_RATIO, EXTERNAL_POROSITY
from tailrace.scenario.problems import Problem


def within(column, where):
    """Yield what does not go together within the table of a column.

    Parameters
    ----------
    column : dict
        As it is written in the file; wrong types are passed over.
    where : tuple of str and int
        The path to it.
    """
    particle = column.get("particle", "fully porous")
    if "core_ratio" in column and particle == "fully porous":
        yield Problem(
            (*where, "core_ratio"),
            'expected particle = "core-shell" beside core_ratio, found fully porous particles; '
            'write particle = "core-shell" or leave out core_ratio',
        )
    if "plates_flow" in column and "plates" not in column:
        yield Problem(
            (*where, "plates_flow"),
            "expected plates, which hold at this flow, found none; add plates = 18000",
        )
    if "mass_transfer_rate" in column and column.get("kinetics") != "lumped":
        yield Problem(
            (*where, "mass_transfer_rate"),
            'expected kinetics = "lumped" beside it, found none; add kinetics = "lumped"',
        )
    if "capacity" in column and column.get("kinetics") == "lumped":
        yield Problem(
            (*where, "capacity"),
            "expected a Langmuir column in equilibrium, found slow exchange too; leave out "
            'capacity or kinetics = "lumped"',
        )
    yield from _porosities(column, particle, where)


def beside(column, where, solutes, gradient):
    """Yield what a column does not go together with.

    Parameters
    ----------
    column : dict
    where : tuple of str and int
    solutes : list of dict
        As they are written in the file.
    gradient : bool
        Whether the file has a gradient.
    """
    if "capacity" in column and any("amount" not in one for one in solutes):
        yield Problem(
            (*where, "capacity"),
            "expected an amount of every solute beside it, found a solute without; "
            'add amount = "2 nmol" to [[solutes]]',
        )
    for key in ("capacity", "kinetics"):
        if gradient and key in column and column[key] != "equilibrium":
            yield Problem(
                (*where, key),
                "expected a linear column in equilibrium with a gradient, found "
                f"{key}; leave out {key} or [gradient]",
            )


def _porosities(column, particle, where):
    total = column.get("porosity")
    outside = column.get("external_porosity", EXTERNAL_POROSITY)
    usual = CORE_RATIO.get(particle, 0.0) if isinstance(particle, str) else 0.0
    core = column.get("core_ratio", usual)
    if not all(_share(one) for one in (total, outside, core)):
        return
    most = outside + (1 - outside) * (1 - core**3)
    if not outside < total < most:
        yield Problem(
            (*where, "porosity"),
            f"expected a total porosity between {outside:g} (outside the particles) and {most:.3g} "
            f"(their cores left out), found {total:g}; correct porosity, external_porosity or "
            "core_ratio",
        )


def _share(number):
    return isinstance(number, (int, float)) and not isinstance(number, bool) and 0 <= number < 1
