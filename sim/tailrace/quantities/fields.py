"""Fields of a scenario's tables: each one's unit and bounds, and what all tables have in common."""

import math
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field
from pydantic_core import PydanticCustomError, core_schema

from tailrace.errors import QuantityError
from tailrace.quantities.kinds import kind_named
from tailrace.quantities.parse import NUMBER, parse


class Table(BaseModel):
    """A table of the file. No key is ignored and no value is converted behind the user's back."""

    model_config = ConfigDict(
        extra="forbid", frozen=True, strict=True, allow_inf_nan=False, protected_namespaces=()
    )


Name = Annotated[
    str,
    Field(
        min_length=1,
        max_length=80,
        pattern=r"^[^\s\x00-\x1f\x7f]([^\x00-\x1f\x7f]*[^\s\x00-\x1f\x7f])?$",
        examples=["needle seat"],
    ),
]


class Quantity:
    """Marks a field as a quantity of one kind: text in, float in SI out.

    ``kind``: a name in ``tailrace.quantities.kinds.KINDS``; ``endless``: a word that stands for a
    value without limit.
    """

    def __init__(self, kind: str, endless: str = "") -> None:
        self.kind, self.endless = kind, endless

    def _read(self, text: object) -> float:
        if self.endless and text == self.endless:
            return math.inf
        try:
            return parse(text, self.kind)
        except QuantityError as error:
            message = str(error)
            if self.endless:
                message = message.replace(", found ", f', or "{self.endless}", found ', 1)
            # The braces of a template must not be read in what a user wrote.
            raise PydanticCustomError("quantity", "{sentence}", {"sentence": message}) from None

    def __get_pydantic_core_schema__(
        self, source: object, handler: object
    ) -> core_schema.CoreSchema:
        """Validate with ``parse`` and nothing else."""
        return core_schema.no_info_plain_validator_function(self._read)

    def __get_pydantic_json_schema__(self, schema: object, handler: object) -> dict[str, object]:
        """A string with a unit, for editors."""
        row = kind_named(self.kind)
        or_word = f"|^{self.endless}$" if self.endless else ""
        return {
            "type": "string",
            "description": f"{row.name[0].upper()}{row.name[1:]} with its unit, {row.bounds}.",
            "examples": [*row.examples, *([self.endless] if self.endless else [])],
            "pattern": rf"^\s*{NUMBER}\s*[A-Za-zµμ°%Å].*${or_word}",
        }


Length = Annotated[float, Quantity("length")]
Bore = Annotated[float, Quantity("bore")]
BendRadius = Annotated[float, Quantity("bend radius", endless="straight")]
ParticleDiameter = Annotated[float, Quantity("particle diameter")]
Volume = Annotated[float, Quantity("volume")]
FlowRate = Annotated[float, Quantity("flow rate")]
Temperature = Annotated[float, Quantity("temperature")]
Diffusivity = Annotated[float, Quantity("diffusivity")]
Viscosity = Annotated[float, Quantity("viscosity")]
MolarVolume = Annotated[float, Quantity("molar volume")]
Duration = Annotated[float, Quantity("duration")]
ResponseTime = Annotated[float, Quantity("response time")]
ProgrammeTime = Annotated[float, Quantity("programme time")]
Effort = Annotated[float, Quantity("effort")]
PressureValue = Annotated[float, Quantity("pressure")]
Rate = Annotated[float, Quantity("rate")]
DataRate = Annotated[float, Quantity("data rate")]
Amount = Annotated[float, Quantity("amount")]
Absorptivity = Annotated[float, Quantity("absorptivity")]
MolarEnthalpy = Annotated[float, Quantity("molar enthalpy")]
ChangeWithTemperature = Annotated[float, Quantity("change with temperature")]
Absorbance = Annotated[float, Quantity("absorbance")]
