"""A column as ``[[path]]`` writes it, and what does not go together in it or beside it."""

import re
from collections.abc import Iterator, Mapping
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field
from pydantic_core import PydanticCustomError

from tailrace.errors import QuantityError
from tailrace.parts.column.part import (
    CORE_RATIO,
    EXTERNAL_POROSITY,
    SYNONYMS,
    kind_of_particle,
)
from tailrace.parts.column.tailing import MOST_TAILING
from tailrace.parts.table import PathTable, is_number
from tailrace.quantities.fields import (
    Amount,
    Bore,
    FlowRate,
    Length,
    ParticleDiameter,
    ProgrammeTime,
    Rate,
    Temperature,
    Volume,
)
from tailrace.quantities.parse import parse, shortened


def _particle(written: object) -> object:
    """The usual name of a kind of particle, whatever of its names was written."""
    if not isinstance(written, str):
        return written
    found = kind_of_particle(written)
    if found not in CORE_RATIO and re.search("core|shell|superfic", str(written).lower()):
        sentence = (
            f"expected a known particle, found {shortened(written)}; write "
            '"core-shell" for a porous shell on a solid core'
        )
        raise PydanticCustomError("quantity", "{sentence}", {"sentence": sentence})
    return found


Particle = Annotated[
    Literal["core-shell", "fully porous"],
    BeforeValidator(_particle),
    Field(json_schema_extra={"enum": [*dict.fromkeys((*CORE_RATIO, *SYNONYMS))]}),
]


class ColumnTable(PathTable):
    """A packed column."""

    part: Literal["column"]
    bore: Bore
    length: Length
    particle_diameter: ParticleDiameter
    particle: Particle = "fully porous"
    plates: float | None = Field(
        None,
        ge=10,
        le=1e7,
        examples=[18000],
        description="Measured or certified; overrides the plate-height curve.",
    )
    plates_include_head: bool = Field(
        True,
        examples=[False],
        description="True: the plates are those of the column with its head_volume, as certified; "
        "false: of the bed alone.",
    )
    plates_flow: FlowRate | None = Field(
        None,
        description="Flow at which the plates were found, if not stated_flow of the method; at "
        "others they follow the curve.",
    )
    stated_temperature: Temperature | None = Field(
        None,
        description="At which retention and plates were found; by default its temperature as the "
        "file has it, else that of the method.",
    )
    core_ratio: float | None = Field(
        None,
        ge=0,
        le=0.95,
        examples=[0.7],
        description="Core over particle diameter of core-shell particles.",
    )
    porosity: float | None = Field(
        None, gt=0.2, lt=0.9, examples=[0.52], description="Total porosity of the bed."
    )
    dead_time: ProgrammeTime | None = Field(
        None,
        description="Of an unretained solute (t0), as recorded on this instrument; in place of "
        "porosity.",
        examples=["0.47 min"],
    )
    external_porosity: float | None = Field(
        None, gt=0.2, lt=0.7, examples=[0.4], description="Between the particles, of the bed."
    )
    head_volume: Volume | None = Field(
        None, description="Mixed volume at each end: frit and distributor.", examples=["0.5 uL"]
    )
    column_tailing: float | None = Field(
        None,
        ge=1,
        le=MOST_TAILING,
        examples=[1.1],
        description="USP tailing of the column, measured with next to no broadening outside.",
    )
    kinetics: Literal["equilibrium", "lumped", "two-site"] = Field(
        "equilibrium",
        description="Lumped: first-order exchange with the particles, from which peaks tail; "
        "two-site: with fast and slow sites.",
        examples=["lumped"],
    )
    mass_transfer_rate: Rate | None = Field(
        None,
        description="Of the exchange, dq/dt = rate (K c - q); else from the curve. With two sites "
        "of the fast ones; else in equilibrium.",
    )
    slow_share: float | None = Field(
        None, gt=0, lt=1, examples=[0.02], description="Share of k that slow sites hold."
    )
    slow_rate: Rate | None = Field(
        None, description="Of the exchange with slow sites.", examples=["0.5 s^-1"]
    )
    capacity: Amount | None = Field(
        None, description="What saturates the column (Langmuir).", examples=["50 umol"]
    )

    @classmethod
    def conflicts(cls, written: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        """Key and sentence of what does not go together within the table."""
        particle = written.get("particle", "fully porous")
        particle = kind_of_particle(particle) if isinstance(particle, str) else particle
        if "core_ratio" in written and particle == "fully porous":
            yield (
                "core_ratio",
                'expected particle = "core-shell" beside core_ratio, found fully porous particles; '
                'write particle = "core-shell" or leave out core_ratio',
            )
        if "plates_flow" in written and "plates" not in written:
            yield (
                "plates_flow",
                "expected plates, which hold at this flow, found none; add plates = 18000",
            )
        if "plates_include_head" in written and "plates" not in written:
            yield (
                "plates_include_head",
                "expected plates, of which it speaks, found none; add plates = 18000",
            )
        kinetics = written.get("kinetics", "equilibrium")
        if "mass_transfer_rate" in written and kinetics == "equilibrium":
            yield (
                "mass_transfer_rate",
                'expected kinetics = "lumped" beside it, found none; add kinetics = "lumped"',
            )
        for key, example in (("slow_share", "0.02"), ("slow_rate", '"0.5 s^-1"')):
            if key in written and kinetics != "two-site":
                yield key, 'expected kinetics = "two-site" beside it, found another; write it'
            if key not in written and kinetics == "two-site":
                yield (
                    "kinetics",
                    f"expected {key} with two sites, found none; add {key} = {example}",
                )
        for key in ("capacity", "column_tailing"):
            if key in written and kinetics != "equilibrium":
                yield (
                    key,
                    f"expected {key} with a column in equilibrium, found slow exchange too; leave "
                    f'out {key} or kinetics = "{kinetics}"',
                )
        if "capacity" in written and "column_tailing" in written:
            yield (
                "column_tailing",
                "expected a linear column, of which alone its own tailing is known, found capacity "
                "too; leave out one of them",
            )
        yield from _porosities(written, particle)
        yield from _narrow(written)

    @classmethod
    def conflicts_beside(
        cls, written: Mapping[str, Any], solutes: list[dict[str, Any]], changing: str
    ) -> Iterator[tuple[str, str]]:
        """Key and sentence of what does not go with the solutes, or with a liquid that changes.

        ``changing`` names what changes it: a gradient, or the sample's own solvent.
        """
        if "capacity" in written and any("amount" not in one for one in solutes):
            yield (
                "capacity",
                "expected an amount of every solute beside it, found a solute without; "
                'add amount = "2 nmol" to [[solutes]]',
            )
        refused = {"capacity", "kinetics"}
        if changing == "[gradient]":
            refused.add("column_tailing")
        for key in sorted(refused & set(written)):
            if changing and written[key] != "equilibrium":
                yield (
                    key,
                    f"expected a linear column in equilibrium with {changing}, found "
                    f"{key}; leave out {key} or {changing}",
                )


def _porosities(written: Mapping[str, Any], particle: object) -> Iterator[tuple[str, str]]:
    total: Any = written.get("porosity")
    outside: Any = written.get("external_porosity", EXTERNAL_POROSITY)
    usual = CORE_RATIO.get(particle, 0.0) if isinstance(particle, str) else 0.0
    core = written.get("core_ratio", usual)
    if not all(is_number(one) and 0 <= one < 1 for one in (total, outside, core)):
        return
    most = outside + (1 - outside) * (1 - core**3)
    if not outside < total < most:
        yield (
            "porosity",
            f"expected a total porosity between {outside:g} (outside the particles) and {most:.3g} "
            f"(their cores left out), found {total:g}; correct porosity, external_porosity or "
            "core_ratio",
        )


def _narrow(written: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """A bore that no particle fits into: a slip of the unit."""
    try:
        bore = parse(written["bore"], "bore")
        particle = parse(written["particle_diameter"], "particle diameter")
    except (QuantityError, KeyError, TypeError):
        return  # reported where the value stands
    if bore <= particle:
        yield (
            "bore",
            "expected a bore wider than the particles, found "
            f"{written['bore']} beside particles of {written['particle_diameter']}; "
            "correct the unit",
        )
