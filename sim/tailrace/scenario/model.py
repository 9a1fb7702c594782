"""The tables of a scenario file: keys, types, units and bounds."""

import math
from functools import reduce
from operator import or_
from typing import TYPE_CHECKING, Annotated, Any, Literal, TypeAlias

from pydantic import Field, WithJsonSchema
from pydantic.json_schema import GenerateJsonSchema
from pydantic_core import core_schema

from tailrace.eluent.liquids import LIQUIDS
from tailrace.parts import KINDS
from tailrace.parts.table import PathTable
from tailrace.quantities.fields import (
    Absorbance,
    Absorptivity,
    Amount,
    BendRadius,
    Bore,
    ChangeWithTemperature,
    DataRate,
    Diffusivity,
    Duration,
    Effort,
    FlowRate,
    Length,
    MolarEnthalpy,
    MolarVolume,
    Name,
    PressureValue,
    ProgrammeTime,
    ResponseTime,
    Table,
    Temperature,
    Viscosity,
    Volume,
)
from tailrace.scenario.accept import AcceptTable
from tailrace.scenario.drift_table import DriftTable, RetestTable
from tailrace.scenario.measured_table import MeasuredTable
from tailrace.scenario.page_table import PageTable
from tailrace.scenario.reading_table import DiscrepancyTable, ReadingTable
from tailrace.scenario.uncertain_table import CorrelatedTable, UncertainTable
from tailrace.signals.resolution import DEFAULT_ACCURACY

Fraction = Annotated[float, Field(ge=0, le=1, examples=[0.25])]
LIQUID_NAMES = tuple(LIQUIDS)


class EluentTable(Table):
    """Volume fractions before mixing, the viscosity, or both."""

    water: Fraction = 0.0
    acetonitrile: Fraction = 0.0
    methanol: Fraction = 0.0
    viscosity: Viscosity | None = None

    @property
    def composition(self) -> dict[str, float]:
        """Volume fractions of the liquids that are present, 1; empty where none is given."""
        shares = {name: getattr(self, name) for name in LIQUID_NAMES}
        return {name: share for name, share in shares.items() if share > 0}

    def with_share(self, name: str, share: float) -> dict[str, float]:
        """All shares where one is another: the others keep their proportions."""
        left = 1 - getattr(self, name)
        scale = (1 - share) / left if left else 0.0
        return {one: scale * size for one, size in self.composition.items()} | {name: share}


class MethodTable(Table):
    """What is pumped, and how warm it is."""

    flow: FlowRate
    temperature: Temperature = Field("25 degC", validate_default=True)
    eluent: EluentTable = Field(
        default_factory=EluentTable, examples=[{"water": 0.25, "acetonitrile": 0.75}]
    )
    viscosity: Viscosity | None = Field(
        None,
        description="At stated_temperature; carried to others as the eluent's, where that is "
        "known; instead of an estimate from it.",
    )
    stated_temperature: Temperature | None = Field(
        None,
        description="At which retention, diffusivities, a given viscosity and plates were found; "
        "by default temperature, as the file has it.",
    )
    stated_strong: Fraction | None = Field(
        None,
        examples=[0.6],
        description="Fraction of what is no water at which retention, diffusivities and plates "
        "were found; by default that of eluent, as the file has it.",
    )
    stated_flow: FlowRate | None = Field(
        None, description="At which plates were found; by default flow, as the file has it."
    )
    bend_radius: BendRadius | None = Field(
        None, description="Of every tube that does not say; straight where none is given."
    )
    pressure_dependence: bool = Field(
        False,
        examples=[True],
        description="True: viscosity and diffusivity follow the pressure of the place, in tubes "
        "and column; estimated, to 1000 bar, as at that above it.",
    )
    needs_temperature_control: bool = Field(
        False,
        examples=[True],
        description="True: no change may leave out a part with heater = true.",
    )

    @property
    def given_viscosity(self) -> float | None:
        """Pa s; None where it is to be estimated from the composition."""
        return self.viscosity if self.viscosity is not None else self.eluent.viscosity


class SoluteTable(Table):
    """One substance that is injected."""

    name: Name = Field(examples=["cohumulone"])
    retention_factor: float | None = Field(
        None, ge=0, le=1e4, examples=[2.1], description="k; needed where the path has a column."
    )
    retention_time: ProgrammeTime | None = Field(
        None,
        description="As recorded, from the injection; instead of retention_factor.",
        examples=["3.2 min"],
    )
    retention_change: ChangeWithTemperature | None = Field(
        None,
        description="Relative change of the retention factor with temperature, where it was "
        "stated; else it stays.",
    )
    retention_enthalpy: MolarEnthalpy | None = Field(
        None, description="Of the way into the stationary phase; instead of retention_change."
    )
    sample_retention_factor: float | None = Field(
        None,
        ge=0,
        le=1e6,
        examples=[25],
        description="k in the solvent of the sample, where that is weaker or stronger.",
    )
    kw: float | None = Field(
        None,
        gt=0,
        le=1e26,
        examples=[2000],
        description="k in the weak liquid alone; needed with a gradient.",
    )
    s: float | None = Field(
        None,
        ge=0,
        le=500,
        examples=[4.5],
        description="Decadic: log10 k falls by s times the fraction of the strong liquid; without "
        "a gradient by how far that is from stated_strong.",
    )
    diffusivity: Diffusivity | None = Field(
        None, description="At stated_temperature; elsewhere as temperature over viscosity."
    )
    molar_volume: MolarVolume | None = Field(
        None, description="At the boiling point; for an estimate of the diffusivity."
    )
    formula: str | None = Field(
        None,
        max_length=60,
        examples=["C20H28O5"],
        description="For an estimate of the molar volume, and of the diffusivity from it.",
    )
    rings: int = Field(
        0, ge=0, le=100, examples=[1], description="Rings of the molecule, beside a formula."
    )
    amount: Amount | None = Field(None, description="Injected; for absolute signals.")
    absorptivity: Absorptivity | None = Field(
        None, description="Molar, decadic, at the detector's wavelength; for absolute signals."
    )


class SampleTable(Table):
    """An injection whose volume holds the solvent of the sample."""

    volume: Volume
    strong: float | None = Field(
        None,
        ge=0,
        le=1,
        examples=[0.02],
        description="Volume fraction of the strong liquid in the sample's solvent.",
    )


class PlugTable(SampleTable):
    """A rectangle that lasts volume / flow."""

    shape: Literal["plug"]


class WashoutTable(SampleTable):
    """A plug followed by the exponential tail of a mixed volume."""

    shape: Literal["washout"]
    washout_volume: Volume


class GaussianTable(Table):
    """A test input, centred on time zero."""

    shape: Literal["gaussian"]
    sigma: Duration = Field(description="Standard deviation in time.", examples=["0.05 s"])


class SignalTable(Table):
    """A curve read from a file."""

    shape: Literal["signal"]
    file: str = Field(
        min_length=1,
        max_length=500,
        examples=["inlet.csv"],
        description="CSV of two columns, time in s and height; relative to the scenario file.",
    )


class LoopTable(SampleTable):
    """A loop in the stream, filled with sample."""

    shape: Literal["loop"]
    volume: Volume = Field(description="Filled with sample.", examples=["5 uL"])
    loop_bore: Bore | None = Field(None, description="Or loop_length and loop_volume.")
    loop_length: Length | None = Field(
        None, description="Of the whole loop; by default the volume fills it.", examples=["500 mm"]
    )
    loop_volume: Volume | None = Field(
        None, description="Of the whole loop, in place of loop_bore or loop_length."
    )

    @property
    def sizes(self) -> tuple[float, float]:
        """Bore and length of the whole loop, m."""
        whole = self.loop_volume or self.volume
        if self.loop_bore is None:
            length = self.loop_length or 1.0
            return 2 * math.sqrt(whole / math.pi / length), length
        return self.loop_bore, self.loop_length or whole / (math.pi / 4 * self.loop_bore**2)

    emptied: Literal["backwards", "forwards"] = Field(
        "backwards",
        description="Backwards: what was filled last leaves first; forwards: all of it passes the "
        "rest of the loop.",
    )


SHAPE_TABLES: dict[str, type[Table]] = {
    "gaussian": GaussianTable,
    "loop": LoopTable,
    "plug": PlugTable,
    "signal": SignalTable,
    "washout": WashoutTable,
}

InjectionTable = Annotated[
    GaussianTable | LoopTable | PlugTable | SignalTable | WashoutTable, Field(discriminator="shape")
]


class GradientPoint(Table):
    """One row of the programme; between two rows the composition changes in a straight line."""

    time: ProgrammeTime = Field(description="From the start of the injection, at the mixer.")
    strong: float = Field(
        ge=0, le=1, examples=[0.05], description="Volume fraction of the strong liquid."
    )


class GradientTable(Table):
    """A programme of the composition: the first row holds before it, the last one behind it."""

    programme: list[GradientPoint] = Field(
        min_length=2,
        max_length=1000,
        examples=[[{"time": "0 min", "strong": 0.05}, {"time": "10 min", "strong": 0.95}]],
        description="Rows of time and composition; two at one time are a step.",
    )
    dwell_volume: Volume | None = Field(
        None,
        examples=["400 uL"],
        description="From where the liquids meet to the inlet of the first column, tubes included.",
    )


PART_TABLES: dict[str, type[PathTable]] = {
    name: KINDS[name].table for name in sorted(KINDS) if KINDS[name].part.carries_flow
}

if TYPE_CHECKING:
    PartTable: TypeAlias = PathTable
else:
    PartTable = Annotated[reduce(or_, PART_TABLES.values()), Field(discriminator="part")]


class DetectorTable(Table):
    """Where the signal is recorded, how it is smoothed and written down."""

    cell: str | None = Field(
        None,
        examples=["flow cell"],
        description="The cell on the path in which the signal is recorded; by default the last.",
    )
    time_constant: ResponseTime | None = None
    rise_time: ResponseTime | None = Field(
        None, description="From 10 % to 90 % of a step; instead of time_constant."
    )
    interval: Duration | None = Field(
        None, description="Between recorded points.", examples=["50 ms"]
    )
    rate: DataRate | None = Field(None, description="Points a second; instead of interval.")
    sampling_phase: float = Field(
        0.0,
        ge=0,
        lt=1,
        examples=[0.5],
        description="When the points fall: shares of an interval from the start of the injection.",
    )
    averaged: bool = Field(
        False,
        examples=[True],
        description="True: each point is the mean over the interval before it.",
    )
    moving_average: ResponseTime | None = Field(
        None,
        examples=["0.5 s"],
        description="Width of a moving average, whatever the interval of the points.",
    )
    noise: Absorbance | None = Field(
        None, description="Peak to peak, as stated or measured at noise_time_constant."
    )
    noise_time_constant: Duration | None = Field(
        None, description="Time constant at which the noise was stated.", examples=["1 s"]
    )


class LimitsTable(Table):
    """What must not be exceeded."""

    pressure: PressureValue | None = None


InsertedPart = Annotated[
    dict[str, Any],
    WithJsonSchema(
        {
            "type": "object",
            "properties": {
                "after": {"type": "string", "description": "Name of the part before it."},
                "before": {"type": "string", "description": "Or of the part behind it."},
                "name": {"type": "string"},
                "part": {"enum": sorted(PART_TABLES)},
            },
            "required": ["name", "part"],
        }
    ),
]
"""A table of ``[[path]]`` with its place; ``change_rules.py`` checks it."""


class ChangeTable(Table):
    """What could be done to the instrument, and what it costs."""

    name: Name = Field(examples=["small flow cell"])
    cost: float = Field(0.0, ge=0, le=1e12, examples=[900], description="Money, any one currency.")
    effort: Effort = Field("0 min", validate_default=True)
    set: dict[str, dict[str, Any]] = Field(
        default_factory=dict,
        examples=[{"flow cell": {"volume": "2.5 uL"}}],
        description="New values, by the name of the part (or detector, injection, method) and "
        "the key.",
    )
    remove: list[Name] = Field(
        default_factory=list,
        examples=[["column heater"]],
        description="Names of parts that are taken out.",
    )
    replace: dict[str, dict[str, Any]] = Field(
        default_factory=dict,
        examples=[{"flow cell": {"name": "new cell", "part": "cell", "volume": "2.5 uL"}}],
        description="A whole new part in the place of the one named; its name stays, or is given.",
    )
    insert: list[InsertedPart] = Field(
        default_factory=list,
        max_length=200,
        examples=[[{"after": "column", "name": "filter", "part": "chamber", "volume": "1 uL"}]],
        description="Whole new parts, each after or before the part named.",
    )
    needs: list[Name] = Field(
        default_factory=list,
        examples=[["other change"]],
        description="Changes that this one builds upon.",
    )
    excludes: list[Name] = Field(
        default_factory=list,
        examples=[["larger flow cell"]],
        description="Changes that cannot be made beside this one; one of the two says it.",
    )
    caution: str = Field(
        "",
        max_length=1000,
        examples=["Let the heater cool before it is taken out."],
        description="What to take care of at the bench.",
    )


class ColumnTable(Table):
    """One of several columns that are used on the instrument."""

    name: Name = Field(examples=["core-shell 100 x 2.1 mm"])
    set: dict[str, dict[str, Any]] = Field(
        default_factory=dict,
        examples=[{"column": {"bore": "4.6 mm", "plates": 18000}, "method": {"flow": "1 mL/min"}}],
        description="What differs from the file with this column, by the name of the part or the "
        "solute (or detector, injection, method) and the key; nothing: the column of the path.",
    )


class NumericsTable(Table):
    """How the journey is computed."""

    solver: Literal["finite differences", "spectral"] = Field(
        "finite differences", description="How a band goes through tubes.", examples=["spectral"]
    )
    accuracy: float = Field(
        DEFAULT_ACCURACY,
        ge=1e-6,
        le=0.1,
        description="Relative error asked of the signal behind a tube.",
        examples=[1e-3],
    )


class Document(Table):
    """A scenario: what is pumped and injected, what the band passes, what records it."""

    title: str = Field("", max_length=200, examples=["Acids on an old instrument"])
    method: MethodTable
    solutes: list[SoluteTable] = Field(min_length=1, max_length=1000)
    injection: InjectionTable
    gradient: GradientTable | None = None
    path: list[PartTable] = Field(
        min_length=1, max_length=200, description="In the order in which the band meets them."
    )
    detector: DetectorTable | None = None
    limits: LimitsTable = Field(default_factory=LimitsTable)
    numerics: NumericsTable = Field(default_factory=lambda: NumericsTable.model_validate({}))
    columns: list[ColumnTable] = Field(default_factory=list, max_length=20)
    changes: list[ChangeTable] = Field(default_factory=list, max_length=200)
    uncertain: list[UncertainTable] = Field(default_factory=list, max_length=100)
    correlated: list[CorrelatedTable] = Field(default_factory=list, max_length=1000)
    accept: list[AcceptTable] = Field(default_factory=list, max_length=100)
    reading: list[ReadingTable] = Field(default_factory=list, max_length=100)
    discrepancy: DiscrepancyTable = Field(
        default_factory=lambda: DiscrepancyTable.model_validate({})
    )
    drift: list[DriftTable] = Field(default_factory=list, max_length=100)
    retest: RetestTable = Field(default_factory=lambda: RetestTable.model_validate({}))
    measured: list[MeasuredTable] = Field(default_factory=list, max_length=100)
    page: PageTable = Field(default_factory=lambda: PageTable.model_validate({}))


class _WithoutNull(GenerateJsonSchema):
    # TOML has no null: what may be left out is said by ``required`` alone.
    def nullable_schema(self, schema: core_schema.NullableSchema) -> dict[str, Any]:
        """Describe what a field holds when it is there."""
        return self.generate_inner(schema["schema"])

    def default_schema(self, schema: core_schema.WithDefaultSchema) -> dict[str, Any]:
        """Give the default, unless it stands for "left out"."""
        if schema.get("default", ...) is None:
            return self.generate_inner(schema["schema"])
        return super().default_schema(schema)


def scenario_schema() -> dict[str, Any]:
    """Return the schema (JSON Schema 2020-12) of what a scenario file may hold.

    Rules that tie several keys together are not in it; ``tailrace.load`` checks them.
    """
    dialect = {"$schema": "https://json-schema.org/draft/2020-12/schema"}
    return dialect | Document.model_json_schema(schema_generator=_WithoutNull)
